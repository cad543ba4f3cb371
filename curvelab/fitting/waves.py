"""Sine waves in two coordinates with a prior on their heights: a reduced Gaussian process.

A function on a box is a sum of products of sines, whose coefficients are small a priori, the
smaller the faster they vary, by the spectrum of a Matern-3/2 process (Solin and Särkkä,
"Hilbert space methods for reduced-rank Gaussian process regression", Statistics and Computing
30 (2020) 419). One coordinate runs along the current, the other along the plate voltage.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curvelab.sweep.records import FloatArray

__all__ = ["SCREEN_GRID_WAVES", "TRIODE_WAVES", "Place", "Waves"]

# The basis vanishes at the ends of a box; the box is wider than the readings so that the
# correction need not vanish there.
_BOX = 1.35
# Beyond the readings the correction is held, not extrapolated.
_HOLD = 1.05
_CURRENT_POWER = 1.0 / 3.0


def _sines(x: FloatArray, count: int) -> FloatArray:
    rate = np.arange(1, count + 1) * (np.pi / (2 * _BOX))
    return np.asarray(np.sin((x[..., None] + _BOX) * rate) / np.sqrt(_BOX))


def _cosines(x: FloatArray, count: int) -> FloatArray:
    """Return the derivatives of `_sines`."""
    rate = np.arange(1, count + 1) * (np.pi / (2 * _BOX))
    return np.asarray(np.cos((x[..., None] + _BOX) * rate) * rate / np.sqrt(_BOX))


def _matern_spectrum(count: int, length: float) -> FloatArray:
    """Return the Matern-3/2 spectral density (Rasmussen and Williams 2006, eq. 4.15)."""
    rate = np.arange(1, count + 1) * (np.pi / (2 * _BOX))
    scale = np.sqrt(3.0) / length
    return np.asarray(4.0 * scale**3 / (scale**2 + rate**2) ** 2)


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """The waves along each coordinate at some points, and their derivatives.

    ``by_s`` is by the logarithm of the current, ``by_b`` by the plate voltage [1/V].
    """

    s: FloatArray
    by_s: FloatArray
    b: FloatArray
    by_b: FloatArray


@dataclass(frozen=True, slots=True)
class Waves:
    """How many waves along each coordinate, and how fast they are expected to vary.

    Attributes
    ----------
    along_current, along_plate : int
        Numbers of waves.
    current_length, plate_length : float
        Of coordinates that run from -1 to 1.
    plate_power : float
        Power of the plate voltage that makes the coordinate; below 1 it spreads low volts.
    amplitudes : tuple of float
        How far the function may reach, one choice each. The least is what no law comes closer
        than: with less than that of a triode, slopes were surer of themselves than they may be.
    """

    along_current: int
    along_plate: int
    current_length: float
    plate_length: float
    plate_power: float
    amplitudes: tuple[float, ...]

    @property
    def count(self) -> int:
        """Number of coefficients."""
        return self.along_current * self.along_plate

    @property
    def priors(self) -> FloatArray:
        """Standard deviations of the coefficients, one row an amplitude; shape (k, m)."""
        return _priors(self)

    def heights(
        self, current_share: FloatArray, plate_share: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the waves along each coordinate alone; see `place`."""
        s, b = self._bent(current_share, plate_share)
        return (
            _sines(np.minimum(2.0 * s - 1.0, _HOLD), self.along_current),
            _sines(np.clip(2.0 * b - 1.0, -1.0, _HOLD), self.along_plate),
        )

    def _bent(
        self, current_share: FloatArray, plate_share: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the coordinates, as running from 0 to 1 over the readings."""
        raised = np.maximum(current_share, 1e-12) ** _CURRENT_POWER
        plate = np.maximum(plate_share, 0.0 if self.plate_power == 1.0 else 1e-9)
        return raised, plate if self.plate_power == 1.0 else plate**self.plate_power

    def place(self, current_share: FloatArray, plate_share: FloatArray) -> Place:
        """Return the waves at points given as shares of the largest current and voltage.

        ``by_b`` is by the share; both derivatives are zero where the coordinate is held.
        """
        raised, bent = self._bent(current_share, plate_share)
        s, b = 2.0 * raised - 1.0, 2.0 * bent - 1.0
        s_in, b_in = np.minimum(s, _HOLD), np.clip(b, -1.0, _HOLD)
        stretch = np.where(s == s_in, 2 * _CURRENT_POWER * raised, 0.0)[..., None]
        # d(bent)/d(share), with share = bent^(1 / power)
        power = self.plate_power
        slope = 2.0 if power == 1.0 else 2.0 * power * bent ** (1.0 - 1.0 / power)
        per_share = np.where((b == b_in) & (plate_share >= 0), slope, 0.0)[..., None]
        return Place(
            s=_sines(s_in, self.along_current),
            by_s=_cosines(s_in, self.along_current) * stretch,
            b=_sines(b_in, self.along_plate),
            by_b=_cosines(b_in, self.along_plate) * per_share,
        )

    def product(self, along_current: FloatArray, along_plate: FloatArray) -> FloatArray:
        """Return the two-dimensional waves; shape (..., m)."""
        shape = (*along_current.shape[:-1], self.count)
        return (along_current[..., :, None] * along_plate[..., None, :]).reshape(shape)

    def total(self, s: FloatArray, coefficients: FloatArray, b: FloatArray) -> FloatArray:
        """Return the sum of the waves without their product; leading shapes broadcast."""
        table = coefficients.reshape(*coefficients.shape[:-1], self.along_current, self.along_plate)
        return np.asarray(((s @ table) * b).sum(axis=-1))


@lru_cache(maxsize=8)
def _priors(waves: Waves) -> FloatArray:
    along_current = _matern_spectrum(waves.along_current, waves.current_length)
    along_plate = _matern_spectrum(waves.along_plate, waves.plate_length)
    priors = np.outer(waves.amplitudes, np.sqrt(np.outer(along_current, along_plate).ravel()))
    priors.setflags(write=False)
    return priors


TRIODE_WAVES = Waves(12, 5, 0.7, 1.2, 1.0, (0.03, 0.1))
# A plate that competes with a screen changes its ways within the lowest tenth of its volts: at
# the knee, and in the dip that a beam tube shows before its beam is closed.
SCREEN_GRID_WAVES = Waves(10, 12, 0.7, 0.5, 0.5, (0.015, 0.05, 0.15))
