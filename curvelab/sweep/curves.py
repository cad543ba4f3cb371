"""Which readings form one curve: same grid step, one pass of plate voltage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["Curves", "split_curves"]

# A bench's grid supply wanders by millivolts around its set-point; steps are at least
# ten times that apart (common practice, no source).
_STEP_TOLERANCE = 0.02
_STEP_SHARE = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Readings grouped into grid steps.

    Attributes
    ----------
    grid_voltage : ndarray, shape (n_steps,)
        Mean grid voltage of each step, ascending [V].
    step : ndarray of int, shape (n,)
        Index into ``grid_voltage`` of each reading.
    """

    grid_voltage: FloatArray
    step: IntArray

    def order(self, step: int, plate_voltage: FloatArray) -> IntArray:
        """Return the readings of one step in order of plate voltage."""
        members = np.flatnonzero(self.step == step)
        return members[np.argsort(plate_voltage[members], kind="stable")]


def split_curves(readings: Readings) -> Curves:
    """Group readings by grid step, forgiving a supply that wanders a little.

    Two grid voltages belong to one step when they are closer than 0.02 V, or than a
    fifth of the typical distance between clearly separate steps.
    """
    grid = readings.grid_voltage
    order = np.argsort(grid, kind="stable")
    gaps = np.diff(grid[order])
    clear = gaps[gaps > _STEP_TOLERANCE]
    tolerance = _STEP_TOLERANCE
    if clear.size:
        tolerance = max(tolerance, min(_STEP_SHARE * float(np.median(clear)), 0.5))
    rank = np.concatenate(([0], np.cumsum(gaps > tolerance))) if grid.size else np.empty(0, int)
    step = np.empty(grid.size, dtype=np.int64)
    step[order] = rank
    count = np.bincount(step) if grid.size else np.empty(0)
    mean = np.bincount(step, weights=grid) / count if grid.size else np.empty(0)
    for array in (mean, step):
        array.setflags(write=False)
    return Curves(grid_voltage=mean, step=step)
