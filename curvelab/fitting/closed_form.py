"""A fitted family as one formula that a program without curvelab can evaluate.

The law stands as published; its smooth correction becomes a double sine series in the law's
own current and the plate voltage:

    Ip = law(Vp, Vg) * exp(sum_jk c_jk sin(j x) sin(k y))
    x = pi (min(s, r) + w) / 2w,  s = 2 (law / Imax)^(1/3) - 1
    y = pi (min(t, r) + w) / 2w,  t = 2 (max(Vp, 0) / Vmax)^a - 1

with a = 1 for a triode, w = `HALF_WIDTH` and r = `REACH`, beyond which the correction is held.
The series is taken from values of the correction, not from its inside, by least squares over the
whole rectangle, and grows until it meets them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.correction import Correction
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.hull import Hull
from curvelab.fitting.laws import law_named
from curvelab.sweep.records import FloatArray

__all__ = [
    "HALF_WIDTH",
    "LEAST_PLATE_SHARE",
    "REACH",
    "ClosedForm",
    "SineSeries",
    "closed_form",
    "covered_plane",
    "largest_departure",
    "sine_series",
]

HALF_WIDTH = 1.35
REACH = 1.05
_TERMS = ((8, 7), (12, 11), (16, 15))
_SAMPLES = (61, 51)
_CLOSE = 1e-4  # of the logarithm of the current: a hundredth of what a bench resolves
_RANK = 1e-7
_EMPTY = 1e-9
_LEAST_S = -0.999
LEAST_PLATE_SHARE = 1e-9
_FLOWING = 1e-3  # of the largest current: below it a departure is told in vain


@dataclass(frozen=True, slots=True, eq=False)
class SineSeries:
    """The correction of the logarithm of the current.

    Attributes
    ----------
    coefficients : ndarray, shape (j, k)
        Along the law's current, along the plate voltage.
    largest_current, largest_plate_voltage : float
        Imax [A] and Vmax [V] of the coordinates.
    largest : float
        Largest amount of the correction in the rectangle.
    plate_power : float
        The power a of the plate voltage; below 1 it spreads low volts.
    """

    coefficients: FloatArray
    largest_current: float
    largest_plate_voltage: float
    largest: float
    plate_power: float = 1.0

    def value(self, law_current: FloatArray, plate_voltage: FloatArray) -> FloatArray:
        """Return the logarithm of what the law's current is multiplied by."""
        s = 2.0 * np.cbrt(np.maximum(law_current, 0.0) / self.largest_current) - 1.0
        share = plate_voltage / self.largest_plate_voltage
        least = 0.0 if self.plate_power == 1.0 else LEAST_PLATE_SHARE
        t = 2.0 * np.maximum(share, least) ** self.plate_power - 1.0
        along_s, along_t = self.coefficients.shape
        return np.asarray(
            ((_sines(s, along_s) @ self.coefficients) * _sines(t, along_t)).sum(axis=-1)
        )


@dataclass(frozen=True, slots=True, eq=False)
class ClosedForm:
    """A law with its parameters, and the series that corrects it.

    Attributes
    ----------
    law : str
        Name of the law in `curvelab.fitting.laws`.
    parameters : mapping of str to float
        In the law's own symbols, SI units.
    series : SineSeries or None
        None where the law stands alone.
    departure : float
        Largest relative difference from the family it was taken from, over the covered
        plane where current flows.
    """

    law: str
    parameters: Mapping[str, float]
    series: SineSeries | None = None
    departure: float = 0.0

    def current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A]; arguments [V] broadcast together."""
        plate, grid = np.broadcast_arrays(
            np.asarray(plate_voltage, dtype=float), np.asarray(grid_voltage, dtype=float)
        )
        law = law_named(self.law)
        with np.errstate(under="ignore", over="ignore"):
            found, _, _ = law.slopes(
                plate.reshape(1, -1), grid.reshape(1, -1), law.internal(self.parameters)[None]
            )
        current = found.reshape(plate.shape)
        if self.series is None:
            return np.asarray(current)
        return np.asarray(current * np.exp(self.series.value(current, plate)))


def closed_form(family: FittedFamily) -> ClosedForm:
    """Return a fitted family as a formula, with how far it departs from the family."""
    parameters = family.law.physical(family.internal)
    series = None if family.correction is None else sine_series(family.correction)
    found = ClosedForm(family.law.name, parameters, series)
    at = covered_plane(family.hull)
    departure = largest_departure(family.current(*at), found.current(*at))
    return ClosedForm(family.law.name, parameters, series, departure)


def sine_series(correction: Correction) -> SineSeries:
    """Return a correction as a series, taken from its values."""
    power = correction.waves.plate_power
    # No current at all has no logarithm, so the current begins a little above none.
    s = np.linspace(_LEAST_S, REACH, _SAMPLES[0])
    # A root has no slope at nothing, so there the correction begins a little above it as well.
    least = 0.0 if power == 1.0 else LEAST_PLATE_SHARE
    t = np.linspace(2.0 * least**power - 1.0, REACH, _SAMPLES[1])
    law_current = correction.largest_current * ((s + 1.0) / 2.0) ** 3
    plate_voltage = correction.largest_plate_voltage * ((t + 1.0) / 2.0) ** (1.0 / power)
    wanted = correction.log_ratio(*np.meshgrid(law_current, plate_voltage, indexing="ij"))
    for along_s, along_t in _TERMS:
        left, right = _sines(s, along_s), _sines(t, along_t)
        coefficients = np.linalg.pinv(left, rcond=_RANK) @ wanted
        coefficients = coefficients @ np.linalg.pinv(right, rcond=_RANK).T
        if np.abs(left @ coefficients @ right.T - wanted).max() < _CLOSE:
            break
    coefficients = _without_empty_ends(coefficients)
    coefficients.setflags(write=False)
    return SineSeries(
        coefficients=coefficients,
        largest_current=correction.largest_current,
        largest_plate_voltage=correction.largest_plate_voltage,
        largest=float(np.abs(wanted).max()),
        plate_power=power,
    )


def _without_empty_ends(coefficients: FloatArray) -> FloatArray:
    """Return the coefficients as far as they say anything, along both coordinates."""
    amount = np.abs(coefficients)
    some = amount > _EMPTY * max(float(amount.max()), 1.0)
    along_s, along_t = (np.flatnonzero(some.any(axis=axis)) for axis in (1, 0))
    rows, columns = along_s.max(initial=0) + 1, along_t.max(initial=0) + 1
    return np.ascontiguousarray(coefficients[:rows, :columns])


def _sines(at: FloatArray, count: int) -> FloatArray:
    angle = np.pi * (np.minimum(at, REACH) + HALF_WIDTH) / (2.0 * HALF_WIDTH)
    return np.asarray(np.sin(angle[..., None] * np.arange(1, count + 1)))


def covered_plane(hull: Hull) -> tuple[FloatArray, FloatArray]:
    """Return points (Vp, Vg) [V] all over what readings cover."""
    low, span = hull.origin, hull.span
    plate, grid = np.meshgrid(
        low[0] + span[0] * np.linspace(0.0, 1.0, _SAMPLES[0]),
        low[1] + span[1] * np.linspace(0.0, 1.0, _SAMPLES[1]),
    )
    covered = hull.contains(plate, grid)
    return plate[covered], grid[covered]


def largest_departure(own: FloatArray, other: FloatArray) -> float:
    """Return by how much currents differ at most, as a share, where some flow."""
    flowing = own > _FLOWING * own.max(initial=0.0)
    return float(np.abs(other[flowing] / own[flowing] - 1.0).max(initial=0.0))
