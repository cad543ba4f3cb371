"""Finds what the bench, not the tube, did to the readings, before anything is fitted.

Three faults are looked for, none of which needs a plate-current law:

- *contact*: isolated drops toward zero. Along one curve plate current rises with plate
  voltage, and its logarithm bends downward; a reading below both its neighbours' rank and
  the line between their logarithms has lost its contact (or an arc pulled the supply down).
- *clipped*: the top of the readings is flat at one value where the curves were rising.
  A saturating cathode bends gradually and is left alone.
- *grid step*: two commanded grid steps with one and the same curve, while the steps beside
  them differ.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.records import LeftOut, LeftOutReason
from curvelab.sweep.curves import Curves
from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["FEW_A_CURVE", "screen"]

# Up to so many readings a curve's own slopes cannot tell a limit from a tube that saturates: see
# `curvelab.fitting.sparse_screen`.
FEW_A_CURVE = 12

# Below these shares of the largest current a reading is too near the floor of a home-built
# bench for its fall to mean anything (common practice, no source).
_WEAK_SHARE = 0.02
_FLOOR_SHARE = 0.01
# A drop is a loss of at least this share of the current that should flow there.
_LEAST_DROP = 0.15
_NOISE_MULTIPLE = 6.0
# Relative noise of one reading is never taken as less, nor, from curvature alone, as more.
_LEAST_NOISE = 5e-4
_MOST_NOISE = 0.05
# Third differences of unit noise have a variance of 1 + 9 + 9 + 1.
_THIRD_DIFFERENCE = 0.6745 * np.sqrt(20.0)

# A top is flat when it rises by less than this share of what the curve was rising before.
_FLAT_SHARE = 0.03
_LEAST_CLIPPED = 3
# ... and when the curve had not been flattening: its slope kept this share or more.
_STEEPENS = 0.92
_MOST_CLIP_NOISE = 0.02

# Two steps are one when they differ by less than this share of what their neighbours do and
# of the current itself, while the neighbours differ by a clear share of the current.
_SAME_STEP_SHARE = 0.12
_SAME_CURRENT = 0.015
_LEAST_GAP = 0.08
_LEAST_OVERLAP = 3
# A step whose largest current is below this share of the pair's tells nothing about it.
_TELLING_SHARE = 0.2

# Plate voltage and plate current of one grid step.
_Line = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """Curves as rows of a padded table, in order of plate voltage.

    ``index`` holds the position of each cell's reading, -1 where the table is padded.
    """

    index: IntArray
    valid: NDArray[np.bool_]
    count: IntArray
    plate_voltage: FloatArray
    current: FloatArray
    step: IntArray
    largest: float

    @classmethod
    def of(cls, readings: Readings, curves: Curves) -> _Table:
        down = 0 if readings.direction is None else readings.direction < 0
        key = 2 * curves.step + down  # the passes of one step are curves of their own
        order = np.lexsort((readings.plate_voltage, key))
        count = np.bincount(key)
        rows = np.flatnonzero(count)
        count = count[rows]
        column = np.arange(count.max())
        valid = column < count[:, None]
        index = np.full(valid.shape, -1, dtype=np.int64)
        index[valid] = order
        current = readings.plate_current
        return cls(
            index=index,
            valid=valid,
            count=count,
            plate_voltage=readings.plate_voltage[index],
            current=current[index],
            step=rows // 2,
            largest=float(current.max()),
        )

    def noise(self) -> tuple[float, float]:
        """Estimate the noise of one reading from third differences along the curves.

        Returns its share of a strong current [1], and its constant part [A]; where there
        are too few readings to tell, the most that a usable bench would have.
        """
        relative, floor = _MOST_NOISE, _FLOOR_SHARE * self.largest / _NOISE_MULTIPLE
        if self.current.shape[1] < 4:
            return relative, floor
        current = self.current
        third = np.abs(
            current[:, 3:] - current[:, :-3] + 3.0 * (current[:, 1:-2] - current[:, 2:-1])
        )
        level = current[:, 1:-2]
        strong = self.valid[:, 3:] & (level > 0.05 * self.largest)
        ratios = third[strong] / level[strong]
        if ratios.size < 8:
            return relative, floor
        relative = _middle(ratios) / _THIRD_DIFFERENCE
        # The smaller half of all differences bounds the constant part from above.
        floor = max(floor, _middle(third[self.valid[:, 3:]]) / _THIRD_DIFFERENCE)
        return min(max(relative, _LEAST_NOISE), _MOST_NOISE), floor


def _middle(values: FloatArray) -> float:
    half = values.size // 2
    return float(np.partition(values, half)[half])


def screen(readings: Readings, curves: Curves) -> tuple[LeftOut, ...]:
    """Find readings that a bench fault spoilt.

    Parameters
    ----------
    readings : Readings
        One tube's readings.
    curves : Curves
        The same readings grouped into grid steps.

    Returns
    -------
    tuple of LeftOut
        At most one of each reason; empty for a healthy bench.
    """
    if len(readings) < _LEAST_CLIPPED or readings.plate_current.max() <= 0:
        return ()
    table = _Table.of(readings, curves)
    noise, floor = table.noise()
    dropped = _find_dropped(table, noise, floor)
    clipped = np.zeros_like(table.valid)
    if table.current.size > FEW_A_CURVE * len(table.count):
        clipped = _find_clipped(table, noise, dropped)
    sound = table.valid & ~dropped & ~clipped
    found = (
        (LeftOutReason.CONTACT, table.index[dropped]),
        (LeftOutReason.CLIPPED, table.index[clipped]),
        (LeftOutReason.GRID_STEP, _find_unchanged_step(table, sound, readings, curves)),
    )
    return tuple(LeftOut(reason, np.sort(index)) for reason, index in found if index.size)


def _find_dropped(table: _Table, noise: float, floor: float) -> NDArray[np.bool_]:
    """Return the cells that fell toward zero among sound neighbours.

    A running median of five leaves a rising curve as it is, however bent, so a reading
    below it is out of order; the ends are padded so that nothing is asked of a first or
    last reading that its curve cannot answer. The straight line between the logarithms of
    the two neighbours bounds a reading from below, since the logarithm of plate current is
    concave in plate voltage; it catches a drop on a steep stretch that leaves the order
    intact.
    """
    rows, width = table.current.shape
    if width < 3:
        return np.zeros((rows, width), dtype=bool)
    padded = np.full((rows, width + 4), np.inf)
    padded[:, :2] = -np.inf
    padded[:, 2:-2] = np.where(table.valid, table.current, np.inf)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5, axis=1)
    expected = np.partition(windows, 2, axis=2)[..., 2]
    expected = np.where(table.valid, expected, 0.0)
    before, after = table.current[:, :-2], table.current[:, 2:]
    voltage = table.plate_voltage
    span = voltage[:, 2:] - voltage[:, :-2]
    both = table.valid[:, 2:] & (before > _WEAK_SHARE * table.largest) & (after > before)
    both &= span > 0
    along = (voltage[:, 1:-1] - voltage[:, :-2])[both] / span[both]
    between = np.zeros_like(before)
    between[both] = before[both] * (after[both] / before[both]) ** along
    expected[:, 1:-1] = np.maximum(expected[:, 1:-1], between)
    share = max(_LEAST_DROP, _NOISE_MULTIPLE * noise)
    least = np.maximum(share * expected, _NOISE_MULTIPLE * floor)
    strong = expected > _WEAK_SHARE * table.largest
    return np.asarray(table.valid & strong & (expected - table.current > least))


def _find_clipped(table: _Table, noise: float, dropped: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the cells of a flat top.

    The sharper tolerance is tried first: a meter at the end of its range repeats one
    value, a supply at its current limit scatters with the bench's noise.
    """
    sound = np.where(table.valid & ~dropped, table.current, -np.inf)
    values = sound[np.isfinite(sound)]
    if values.size < 2 * _LEAST_CLIPPED:
        return np.zeros_like(table.valid)
    top = float(np.partition(values, -2)[-2])  # one stray reading may lie above a limit
    for spread in (_LEAST_NOISE, min(max(noise, 4 * _LEAST_NOISE), _MOST_CLIP_NOISE)):
        flat = sound >= top * (1.0 - 5.0 * spread)
        if np.count_nonzero(flat) < _LEAST_CLIPPED:
            continue
        level = float(np.median(sound[flat]))
        flat = sound >= level * (1.0 - 4.0 * spread)
        if _is_flat_top(table, flat, sound, spread * level):
            return np.asarray(flat)
    return np.zeros_like(table.valid)


def _is_flat_top(
    table: _Table, flat: NDArray[np.bool_], sound: FloatArray, deviation: float
) -> bool:
    """Tell whether the curves that reach the top stopped rising there all at once.

    Up to a limit a curve steepens, and at it stands still; a saturating cathode's curve has
    been flattening before, and goes on rising a little.
    """
    expected = observed = variance = flattened = 0.0
    runs = []
    for row in np.flatnonzero(flat.any(axis=1)):
        usable = np.flatnonzero(np.isfinite(sound[row]))
        level = flat[row, usable]
        start = int(np.argmax(level))
        run = usable[start:]
        if not level[start:].all():
            return False  # a limit is not left again at a higher plate voltage
        runs.append(run.size)
        voltage, current = table.plate_voltage[row], sound[row]
        late = _slope(voltage, current, usable[max(start - 3, 0) : start])
        if run.size < 2 or late is None:
            continue
        early = _slope(voltage, current, usable[max(start - 5, 0) : max(start - 2, 0)])
        flattened += 0.0 if early is None else _STEEPENS * early - late
        expected += late * (voltage[run[-1]] - voltage[run[0]])
        half = (run.size + 1) // 2
        observed += 2.0 * (current[run[-half:]].mean() - current[run[:half]].mean())
        variance += 8.0 / half * deviation**2
    across = len(runs) >= 2 and sum(runs) >= _LEAST_CLIPPED
    alone = len(runs) == 1 and runs[0] > 2 * _LEAST_CLIPPED
    uncertain = float(np.sqrt(variance))
    telling = expected > max(8.0 * deviation, 6.0 * uncertain) and flattened <= 0.0
    return bool((across or alone) and telling and observed < _FLAT_SHARE * expected + 2 * uncertain)


def _slope(voltage: FloatArray, current: FloatArray, index: IntArray) -> float | None:
    """Return the mean slope over some readings [S]; None where they do not span a voltage."""
    if index.size < 2 or voltage[index[-1]] <= voltage[index[0]]:
        return None
    rise = current[index[-1]] - current[index[0]]
    return float(rise / (voltage[index[-1]] - voltage[index[0]]))


def _find_unchanged_step(
    table: _Table, sound: NDArray[np.bool_], readings: Readings, curves: Curves
) -> IntArray:
    """Return the readings of grid steps at which the grid voltage did not change."""
    lines = _lines(table, sound, curves.grid_voltage.size)
    if len(lines) < 3:
        return np.empty(0, dtype=np.int64)
    gap, level = _gaps(lines, table.largest)
    beside = np.full((2, gap.size), np.inf)
    volts = np.diff(curves.grid_voltage)
    beside[0, 1:], beside[1, :-1] = gap[:-1] / volts[:-1], gap[1:] / volts[1:]
    neighbour = np.fmin(beside[0], beside[1]) * volts
    same = (
        (np.abs(gap) < _SAME_STEP_SHARE * neighbour)
        & (np.abs(gap) < _SAME_CURRENT * level)
        & (neighbour > _LEAST_GAP * level)
        & np.isfinite(neighbour)
    )
    unchanged = [_odd_one(lines, int(pair), readings, curves) for pair in np.flatnonzero(same)]
    return np.flatnonzero(np.isin(curves.step, unchanged)) if unchanged else np.empty(0, np.int64)


def _lines(table: _Table, sound: NDArray[np.bool_], steps: int) -> list[_Line]:
    """Return plate voltage and current of each step, of its up pass where it has both."""
    rows = np.searchsorted(table.step, np.arange(steps))
    return [(table.plate_voltage[row, sound[row]], table.current[row, sound[row]]) for row in rows]


def _gaps(lines: list[_Line], largest: float) -> tuple[FloatArray, FloatArray]:
    """Return for each pair of neighbouring steps the mean gap and the mean level [A].

    Both are taken where both curves carry current to speak of; NaN where they share too few
    readings.
    """
    result = np.full((2, len(lines) - 1), np.nan)
    for k, ((low_voltage, low), (high_voltage, high)) in enumerate(itertools.pairwise(lines)):
        if min(low.size, high.size) < _LEAST_OVERLAP:
            continue
        there = np.interp(low_voltage, high_voltage, high, left=-1.0, right=-1.0)
        shared = (there > _WEAK_SHARE * largest) & (low > 0.5 * _WEAK_SHARE * largest)
        if np.count_nonzero(shared) >= _LEAST_OVERLAP:
            result[:, k] = (there - low)[shared].mean(), there[shared].mean()
    return result[0], result[1]


def _odd_one(lines: list[_Line], pair: int, readings: Readings, curves: Curves) -> int:
    """Return which of the steps ``pair`` and ``pair + 1`` breaks the progression.

    The plate voltage that brings one and the same current is nearly straight in grid
    voltage (its slope is the amplification factor), so the step is left out without which
    the others lie straighter. Where too few steps remain, the one read later is the one at
    which the grid did not move.
    """
    reach = np.array([current.max(initial=0.0) for _, current in lines])
    telling = reach > _TELLING_SHARE * reach[pair]
    near = range(max(pair - 2, 0), min(pair + 4, len(lines)))
    misfit = [
        _bend(lines, curves.grid_voltage, [k for k in near if k != candidate and telling[k]])
        for candidate in (pair, pair + 1)
    ]
    if not np.isfinite(misfit).all():
        when = [readings.line[curves.step == k].mean() for k in (pair, pair + 1)]
        return pair + int(when[1] >= when[0])
    return pair + int(misfit[1] < misfit[0])


def _bend(lines: list[_Line], grid_voltage: FloatArray, steps: list[int]) -> float:
    """Return how far plate voltage at constant current departs from a straight line [V]."""
    if len(steps) < 3:
        return np.inf
    levels = min(lines[k][1].max() for k in steps) * np.array([0.4, 0.6, 0.8])
    voltage = np.array(
        [np.interp(levels, np.maximum.accumulate(lines[k][1]), lines[k][0]) for k in steps]
    )
    basis = np.vander(grid_voltage[steps], 2)
    left = voltage - basis @ np.linalg.lstsq(basis, voltage, rcond=None)[0]
    return float(np.sqrt((left**2).mean()))
