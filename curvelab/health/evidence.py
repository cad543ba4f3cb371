"""The small change of evidence: where a reading stands, and how a number is said."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from curvelab.quantities import format_number
from curvelab.sweep.records import Readings

__all__ = ["lines_of", "positions", "volts", "where", "worded"]

_LISTED = 6


def volts(value: float) -> str:
    """Return a voltage without needless decimals, with its unit."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".") + " V"


def worded(value: float, unit: str, digits: int = 3) -> str:
    """Return a number with its unit, as a sentence carries it."""
    return f"{format_number(value, digits)} {unit}"


def where(readings: Readings, index: int) -> str:
    """Return one reading's voltages and line, such as ``250 V, -8 V (line 41)``."""
    plate, grid = readings.plate_voltage[index], readings.grid_voltage[index]
    return f"{volts(float(plate))}, {volts(float(grid))} (line {readings.line[index]})"


def lines_of(readings: Readings, index: Iterable[int]) -> str:
    """Return the file lines of some readings, the first few of many."""
    lines = sorted({int(readings.line[k]) for k in index})
    shown = ", ".join(str(line) for line in lines[:_LISTED])
    more = f" and {len(lines) - _LISTED} more" if len(lines) > _LISTED else ""
    return f"{'line' if len(lines) == 1 else 'lines'} {shown}{more}"


def positions(index: NDArray[np.generic]) -> tuple[int, ...]:
    """Return positions for a finding, from a boolean mask or an array of positions."""
    chosen = np.flatnonzero(index) if index.dtype == np.bool_ else index
    return tuple(int(k) for k in chosen)
