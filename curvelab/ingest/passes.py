"""Up and down passes of a sweep, and the log of a tube left at its set-points."""

from __future__ import annotations

import numpy as np

from curvelab.ingest.bundles import Bundle
from curvelab.ingest.headings import Column
from curvelab.sweep.records import FloatArray, IntArray, SweepKind

__all__ = ["find_direction", "find_kind"]

_STEP_WANDER = 0.02  # a grid supply wanders so far within a step [V]
_SHORTEST_PASS = 3
_MOST_TURNS = 4
# A log of several set-points has no more of them, and at least so many readings at each.
_MOST_STRETCHES, _HELD = 6, 12


def find_direction(plate: FloatArray, grid: FloatArray) -> IntArray | None:
    """Return +1 or -1 by reading where a step was swept up and then down, else None.

    Parameters
    ----------
    plate, grid : ndarray, shape (n,)
        Voltages in the order they were read [V].

    Returns
    -------
    ndarray of int, shape (n,), or None
        None where no grid step has both an up and a down pass of three readings, or
        where the order is no sweep at all.
    """
    if plate.size < 2 * _SHORTEST_PASS:
        return None
    change = np.diff(plate)
    same_step = np.abs(np.diff(grid)) <= _STEP_WANDER
    if not (change[same_step] < 0).any():
        return None
    direction = np.zeros(plate.size, dtype=np.int64)
    # True while a step has been seen to rise (index 0) or to fall (index 1).
    seen: dict[float, set[int]] = {}
    turns = steps = 0
    for first, last in _runs(same_step):
        signs = np.sign(change[first:last])
        kept = signs[signs != 0]
        turns += int(np.count_nonzero(np.diff(kept)))
        steps += 1
        _mark(direction, first, last, signs)
        for way in (1, -1):
            if np.count_nonzero(direction[first : last + 1] == way) >= _SHORTEST_PASS:
                seen.setdefault(round(float(grid[first]), 1), set()).add(way)
    both = any(len(ways) == 2 for ways in seen.values())
    return direction if both and turns <= _MOST_TURNS * steps else None


def _runs(same_step: np.ndarray) -> list[tuple[int, int]]:
    """Return first and last index of the readings that follow one another in a step."""
    breaks = np.flatnonzero(~same_step)
    firsts = np.concatenate(([0], breaks + 1))
    lasts = np.concatenate((breaks, [same_step.size]))
    return [(int(a), int(b)) for a, b in zip(firsts, lasts, strict=True)]


def _mark(direction: IntArray, first: int, last: int, signs: FloatArray) -> None:
    """Mark each reading by the way it was reached, the first by the way it was left."""
    way = 0
    for offset, sign in enumerate(signs.tolist(), 1):
        way = int(sign) or way
        direction[first + offset] = way
    rising = np.flatnonzero(direction[first : last + 1])
    if rising.size:
        direction[first : first + rising[0]] = direction[first + rising[0]]


def find_kind(bundle: Bundle) -> SweepKind:
    """Tell a drift log from curves: it has a time column and its set-points stand still.

    The set-points may sag by a twentieth as the tube draws current, and the readings
    of the first and last twentieth (switching on and off) are left aside. A log may be taken
    at a few set-points one after the other, each held far longer than any sweep dwells.
    """
    time = bundle.get(Column.TIME)
    if time is None or time.size < 3 or np.count_nonzero(np.isfinite(time)) < 3:
        return SweepKind.CURVES
    for column, least in ((Column.PLATE_VOLTAGE, 2.0), (Column.GRID_VOLTAGE, 0.3)):
        low, middle, high = np.quantile(bundle.values[column], (0.05, 0.5, 0.95))
        if high - low > 2 * max(least, 0.05 * abs(middle)):
            return SweepKind.DRIFT_LOG if _stays_at_few_points(bundle) else SweepKind.CURVES
    return SweepKind.DRIFT_LOG


def _stays_at_few_points(bundle: Bundle) -> bool:
    """Tell whether the set-points were changed a few times only, and held in between."""
    time = bundle.values[Column.TIME]
    if not np.isfinite(time).all() or (np.diff(time) < 0).any():
        return False
    changed = np.zeros(time.size - 1, dtype=bool)
    for column, least in ((Column.PLATE_VOLTAGE, 2.0), (Column.GRID_VOLTAGE, 0.3)):
        volts = bundle.values[column]
        changed |= np.abs(np.diff(volts)) > np.maximum(least, 0.02 * np.abs(volts[1:]))
    held = np.diff(np.concatenate(([0], np.flatnonzero(changed) + 1, [time.size])))
    return held.size <= _MOST_STRETCHES and float(np.median(held)) >= _HELD
