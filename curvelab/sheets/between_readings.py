"""What the readings alone say between two neighbours of one grid step, without any fit.

Along a grid step the current to the power 2/3 is nearly straight in the plate voltage (Child,
Phys. Rev. 32, 492, 1911; Langmuir, Phys. Rev. 2, 450, 1913), so a straight line between two
neighbouring readings in that scale is closer than the readings' own noise.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.records import FitResult
from curvelab.sweep.curves import split_curves
from curvelab.sweep.records import FloatArray, Readings

__all__ = ["StepReadings", "grid_steps", "straightened"]

_POWER = 2.0 / 3.0
_SAME_PLATE = 0.05  # [V]: readings closer than this are one, such as those of two passes
_WIDEST = 3.5  # of the usual distance between neighbours: across more than that nothing is said


def straightened(current: FloatArray) -> FloatArray:
    """Return currents in the scale in which a grid step is nearly straight, sign kept."""
    return np.asarray(np.sign(current) * np.abs(current) ** _POWER)


@dataclass(frozen=True, slots=True, eq=False)
class StepReadings:
    """One grid step in order of plate voltage. [V], [V], [A].

    Attributes
    ----------
    plate_voltage, plate_current : ndarray, shape (n,)
        Readings at one plate voltage are one, with their mean.
    """

    grid_voltage: float
    plate_voltage: FloatArray
    plate_current: FloatArray

    def currents_at(self, plate_voltage: FloatArray) -> FloatArray:
        """Return the current [A] at plate voltages [V]; NaN where no two readings surround it."""
        wanted = np.asarray(plate_voltage, dtype=float)
        own = self.plate_voltage
        found = np.interp(wanted, own, straightened(self.plate_current), np.nan, np.nan)
        near = self._wide(np.searchsorted(own, wanted)) & ~np.isin(wanted, own)
        found = np.where(near, np.nan, found)
        return np.asarray(np.sign(found) * np.abs(found) ** (1.0 / _POWER))

    def plate_voltages_at(self, plate_current: FloatArray) -> FloatArray:
        """Return the plate voltage [V] at currents [A]; NaN where no two readings surround it."""
        rising = np.maximum.accumulate(straightened(self.plate_current))
        wanted = straightened(np.asarray(plate_current, dtype=float))
        found = np.interp(wanted, rising, self.plate_voltage, np.nan, np.nan)
        wide = self._wide(np.searchsorted(rising, wanted))
        return np.asarray(np.where(wide, np.nan, found))

    def _wide(self, following: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Tell where the gap before a position is wider than the sweep's steps."""
        gaps = np.diff(self.plate_voltage)
        if not gaps.size:
            return np.ones(following.shape, dtype=bool)
        gap = gaps[np.clip(following - 1, 0, gaps.size - 1)]
        return np.asarray(gap > _WIDEST * float(np.median(gaps)))


def grid_steps(readings: Readings, fit: FitResult) -> tuple[StepReadings, ...]:
    """Return the grid steps of a sweep, the most negative first, without spoilt readings."""
    return tuple(_steps(readings, fit))


def _steps(readings: Readings, fit: FitResult) -> Iterator[StepReadings]:
    curves, used = split_curves(readings), fit.used.astype(np.bool_)
    for step, grid in enumerate(curves.grid_voltage.tolist()):
        at = np.flatnonzero(used & (curves.step == step))
        at = at[np.argsort(readings.plate_voltage[at], kind="stable")]
        if at.size < 2:
            continue
        plate, current = readings.plate_voltage[at], readings.plate_current[at]
        first = np.flatnonzero(np.append(True, np.diff(plate) > _SAME_PLATE))
        counts = np.diff(np.append(first, at.size))
        plate = np.add.reduceat(plate, first) / counts
        current = np.add.reduceat(current, first) / counts
        if plate.size > 1:
            yield StepReadings(grid, plate, current)
