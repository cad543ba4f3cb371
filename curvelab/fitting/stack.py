"""Many tubes side by side in padded arrays, so that one pass of numpy serves them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["Stack", "stack_readings"]


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Readings of several tubes, padded to the longest.

    Attributes
    ----------
    plate_voltage, grid_voltage, plate_current : ndarray, shape (t, n)
        [V], [V], [A]; padding repeats harmless values.
    counted : ndarray, shape (t, n)
        1.0 for readings that take part, 0.0 for those left out and for padding.
    """

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray
    counted: FloatArray

    @property
    def count(self) -> FloatArray:
        """Readings that take part, for each tube; shape (t,)."""
        return np.asarray(self.counted.sum(axis=1))

    @property
    def largest_current(self) -> FloatArray:
        """Largest current that takes part, for each tube [A]; shape (t,)."""
        return np.asarray((self.plate_current * self.counted).max(axis=1))

    def take(self, index: IntArray) -> Stack:
        """Return the tubes at ``index``."""
        return Stack(
            self.plate_voltage[index],
            self.grid_voltage[index],
            self.plate_current[index],
            self.counted[index],
        )


def stack_readings(readings: Sequence[Readings], used: Sequence[np.ndarray]) -> Stack:
    """Pad the readings of several tubes into one stack.

    Parameters
    ----------
    readings : sequence of Readings
    used : sequence of ndarray of bool
        Which readings of each tube take part.
    """
    width = max(len(item) for item in readings)
    shape = (len(readings), width)
    plate, grid, current, counted = (np.zeros(shape) for _ in range(4))
    for row, (item, mask) in enumerate(zip(readings, used, strict=True)):
        size = len(item)
        plate[row, :size] = item.plate_voltage
        grid[row, :size] = item.grid_voltage
        current[row, :size] = item.plate_current
        counted[row, :size] = mask
    return Stack(plate, grid, current, counted)
