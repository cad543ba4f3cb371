"""The simulator's plate-current law: an uneven grid as a mixture of even ones.

A real grid is wound with an uneven pitch, so each stretch of it has its own amplification
factor. The stretches conduct side by side::

    I0 = sum_i G w_i F(u_i)^(3/2),     u_i = Vg + Vp / mu_i + Vc_i

F is the positive part of u with a foot that stands for the velocities of emission. The
electrons that pass the grid reach the plate unless the plate is almost at the cathode's own
voltage, and no cathode gives more than its emission::

    Ip = I0 (1 - exp(-Vp / Vk)) / (1 + (I0 / Is)^n)^(1/n)

None of the laws that curvelab fits is this one. Every derivative here is exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["FloatArray", "Foot", "MixtureLaw"]

FloatArray = NDArray[np.float64]

_EXPONENT = 1.5


class Foot(StrEnum):
    """How the current dies away below cut-off."""

    DIFFUSION = "diffusion"  # u / (1 - exp(-u / v))
    RETARDING = "retarding"  # power law, then an exponential with equal value and slope
    ROOT = "root"  # (u + sqrt(u^2 + v^2)) / 2


def _diffusion(u: FloatArray, width: float) -> tuple[FloatArray, FloatArray]:
    x = np.clip(u / width, -200.0, 200.0)
    small = np.abs(x) < 1e-4
    safe = np.where(small, 1.0, x)
    one_less = -np.expm1(-safe)
    part = np.where(small, 1.0 + x / 2.0, safe / one_less)
    slope = np.where(small, 0.5 + x / 6.0, (one_less - safe * np.exp(-safe)) / one_less**2)
    return part * width, slope


def _retarding(u: FloatArray, width: float) -> tuple[FloatArray, FloatArray]:
    """Join u to an exponential at u = width, where F and dF/du agree."""
    tail = width * np.exp(np.clip(np.minimum(u, width) / width - 1.0, -300.0, 0.0))
    above = u > width
    return np.where(above, u, tail), np.where(above, 1.0, tail / width)


def _root(u: FloatArray, width: float) -> tuple[FloatArray, FloatArray]:
    root = np.hypot(u, width)
    # width^2 / (root - u) instead of root + u: exact far below cut-off too.
    part = 0.5 * np.where(u > 0, u + root, width**2 / np.where(u > 0, 1.0, root - u))
    return part, part / root


_FEET = {Foot.DIFFUSION: _diffusion, Foot.RETARDING: _retarding, Foot.ROOT: _root}


@dataclass(frozen=True, slots=True)
class MixtureLaw:
    """The stretches of one grid and the cathode behind it.

    Attributes
    ----------
    perveance : float
        G of the whole tube [A V^-3/2].
    weights, amplification_factors, offsets : tuple of float
        Share, mu and contact offset [V] of each stretch; the shares add up to 1.
    foot, foot_width : Foot, float
        Kind and width [V] of the foot.
    knee : float
        Plate voltage over which the plate begins to collect [V].
    emission : float
        Emission of the cathode [A]; infinite on a good one.
    sharpness : float
        n above: 1 bends slowly, 4 sharply.
    """

    perveance: float
    weights: tuple[float, ...]
    amplification_factors: tuple[float, ...]
    offsets: tuple[float, ...]
    foot: Foot
    foot_width: float
    knee: float
    emission: float = np.inf
    sharpness: float = 2.0

    def current(self, plate_voltage: ArrayLike, grid_voltage: ArrayLike) -> FloatArray:
        """Return the plate current [A]; arguments [V] broadcast together."""
        return self._evaluate(plate_voltage, grid_voltage)[0]

    def slopes(
        self, plate_voltage: ArrayLike, grid_voltage: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Return the exact (dIp/dVp, dIp/dVg) [S]."""
        return self._evaluate(plate_voltage, grid_voltage)[1:]

    def _evaluate(
        self, plate_voltage: ArrayLike, grid_voltage: ArrayLike
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        plate = np.asarray(plate_voltage, dtype=float)
        grid = np.asarray(grid_voltage, dtype=float)
        factors = np.array(self.amplification_factors)
        drive = grid[..., None] + plate[..., None] / factors + np.array(self.offsets)
        part, slope = _FEET[self.foot](drive, self.foot_width)
        shares = self.perveance * np.array(self.weights)
        cathode = (shares * part**_EXPONENT).sum(axis=-1)
        each = shares * _EXPONENT * np.sqrt(part) * slope
        by_grid, by_plate = each.sum(axis=-1), (each / factors).sum(axis=-1)

        load = (cathode / self.emission) ** self.sharpness
        limited = cathode * (1.0 + load) ** (-1.0 / self.sharpness)
        by_cathode = (1.0 + load) ** (-1.0 / self.sharpness - 1.0)

        falling = np.exp(-np.maximum(plate, 0.0) / self.knee)
        collected = 1.0 - falling
        return (
            limited * collected,
            by_cathode * by_plate * collected + limited * falling / self.knee,
            by_cathode * by_grid * collected,
        )
