"""Finds bench faults among few readings a curve, where a curve alone cannot show them.

With a dozen readings or fewer on each grid step no curve betrays a dropout, a flat top or a
step that did not come by itself. The fitted family, however wrong the faults have made it,
orders all readings of the sweep by the current that should flow; against that order

- *contact* is a reading far below the readings of like current;
- *clipped* is a top of readings at one value where the others, fitted without it, go on rising;
- *grid step* is a pair of neighbouring steps with the same currents where the family has
  clearly different ones.

A tube with a screen grid is looked through so however many readings a curve has: its curves are
flat by nature, and only a family can tell a limit of the bench from a plateau. Each step of the
screen voltage is looked at by itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from curvelab.fitting.fit import fit_sweep
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_fit import fit_pentodes
from curvelab.fitting.records import FitResult, LeftOut, LeftOutReason
from curvelab.fitting.screen import FEW_A_CURVE
from curvelab.fitting.screen_steps import screen_steps
from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import BoolArray, FloatArray, IntArray, Readings

__all__ = ["is_sparse", "look_again"]

_LEAST_READINGS = 12
_STRONG = 0.05  # of the largest current
_MAD_TO_SIGMA = 1.4826
_NOISE_MULTIPLE = 6.0

_LIKE = 9  # readings of like current that say what one should be
_LEAST_DROP, _SURE_DROP = 0.35, 0.7
_MOST_DROPPED = 0.3  # of all readings: more is no matter of a contact

# Half the width of a flat top, of its level, and how far below others may not lie; the share
# of those that must be flat; what should flow, over the level, and the
# least rise of that along the top.
_FLAT, _NEAR, _MOSTLY, _RISING, _APART = 9e-4, 0.01, 0.75, 1.06, 0.1

# Mean log ratio of two curves that are one; the share of the misfit that is left without the
# step that did not come.
_SAME_CURRENT, _CLEARLY_BETTER = 0.015, 0.55
_LEAST_OVERLAP = 2


# Below this share of the screen's volts a tetrode's current may fall of itself, to no less than
# this share of its neighbours'.
_MAY_FALL_BELOW, _MOST_FALL = 0.6, 0.5


def look_again(readings: Readings, chosen: BoolArray, fit: FitResult) -> tuple[LeftOut, ...]:
    """Find what a bench fault spoilt among the chosen readings, against the fit of them.

    Parameters
    ----------
    fit : FitResult
        Of the chosen readings, its arrays as long as ``readings``.

    Returns
    -------
    tuple of LeftOut
        To be left out besides; one of a grid step stands in the place of the fit's own.
    """
    if isinstance(fit.family, PentodeFamily):
        return _look_by_screen_step(readings, chosen, fit)
    if fit.family is None or not is_sparse(readings, chosen):
        return ()
    return _spoilt(readings, fit.used & chosen, fit.residual)


def _look_by_screen_step(
    readings: Readings, chosen: BoolArray, fit: FitResult
) -> tuple[LeftOut, ...]:
    assert readings.screen_voltage is not None
    used = fit.used & chosen
    steps = fit.without(LeftOutReason.GRID_STEP)
    if steps is not None:  # which of two steps did not come is asked of the family once more
        used[steps] = chosen[steps]
    known = np.flatnonzero(used)
    step = screen_steps(readings.screen_voltage[known])
    found: dict[LeftOutReason, list[IntArray]] = {}
    for each in np.unique(step):
        members = known[step == each]
        if members.size < _LEAST_READINGS:
            continue
        part = readings.take(members)
        every = np.ones(members.size, dtype=bool)
        for item in _spoilt(part, every, fit.residual[members]):
            found.setdefault(item.reason, []).append(members[item.readings])
    return tuple(LeftOut(reason, np.sort(np.concatenate(parts))) for reason, parts in found.items())


def is_sparse(readings: Readings, chosen: BoolArray) -> bool:
    """Tell whether the chosen readings are a dozen or fewer a curve."""
    count = int(chosen.sum())
    if count < _LEAST_READINGS:
        return False
    part = readings if chosen.all() else readings.take(chosen)
    steps = split_curves(part).step
    passes = 0 if part.direction is None else (part.direction < 0).astype(np.int64)
    return count <= FEW_A_CURVE * np.unique(2 * steps + passes).size


def _spoilt(readings: Readings, used: BoolArray, residual: FloatArray) -> tuple[LeftOut, ...]:
    found: list[LeftOut] = []
    expected = readings.plate_current - residual
    dropped = _dropped(readings, expected, used)
    if dropped.size:
        found.append(LeftOut(LeftOutReason.CONTACT, dropped))
        used = used.copy()
        used[dropped] = False
    flat = _flat_top(readings, used)
    if flat.size:
        found.append(LeftOut(LeftOutReason.CLIPPED, flat))
        used = used.copy()
        used[flat] = False
    unchanged = _unchanged_step(readings, used)
    if unchanged.size:
        found.append(LeftOut(LeftOutReason.GRID_STEP, unchanged))
    return tuple(found)


def _fit(readings: Readings) -> FitResult:
    """Return the fit of readings at one screen voltage, or without any."""
    if readings.screen_voltage is None:
        return fit_sweep(readings)
    return fit_pentodes([readings])[0]


def _before(readings: Readings, used: BoolArray) -> FloatArray:
    """Return for each reading the largest used current at lower plate voltage on its step."""
    step = split_curves(readings).step
    largest = np.zeros(len(readings))
    for members in (np.flatnonzero(used & (step == k)) for k in np.unique(step)):
        order = members[np.argsort(readings.plate_voltage[members], kind="stable")]
        running = np.maximum.accumulate(readings.plate_current[order])
        largest[order[1:]] = running[:-1]
    return largest


def _dropped(readings: Readings, expected: FloatArray, used: BoolArray) -> IntArray:
    """Return the readings that fell far below those of like expected current."""
    current = readings.plate_current
    rows = np.flatnonzero(used & (expected > _STRONG * current[used].max()))
    if rows.size < _LIKE:
        return np.empty(0, dtype=np.int64)
    order = rows[np.argsort(expected[rows])]
    ratio = current[order] / expected[order]
    half = _LIKE // 2
    padded = np.pad(ratio, half, mode="reflect")
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, _LIKE), axis=1)
    loss = 1.0 - ratio / np.maximum(usual, 1e-12)
    scatter = _MAD_TO_SIGMA * float(np.median(np.abs(loss)))
    dropped = loss > max(_LEAST_DROP, _NOISE_MULTIPLE * scatter)
    # A cathode that saturates gives less than like readings of other curves, but on its own
    # curve it never gives less than before.
    dropped &= (loss > _SURE_DROP) | (current[order] < _before(readings, used)[order])
    if readings.screen_voltage is not None:
        falls = readings.plate_voltage < _MAY_FALL_BELOW * readings.screen_voltage
        dropped &= ~falls[order] | (loss > _MOST_FALL)
    if dropped.mean() > _MOST_DROPPED:
        return np.empty(0, dtype=np.int64)
    return np.sort(order[dropped])


def _flat_top(readings: Readings, used: BoolArray) -> IntArray:
    """Return the readings of a top at one value that should have gone on rising.

    A meter at the end of its range repeats one value more closely than a bench repeats a
    reading; the readings of a saturating cathode scatter as all others do.
    """
    nothing = np.empty(0, dtype=np.int64)
    if used.sum() < _LEAST_READINGS:
        return nothing
    current = np.where(used, readings.plate_current, -np.inf)
    level = float(np.sort(current)[-2])  # one stray reading may lie above a limit
    level = float(np.median(current[current >= level * (1.0 - _FLAT)]))
    flat = np.abs(current / level - 1.0) <= _FLAT
    rows, near = np.flatnonzero(flat), current >= level * (1.0 - _NEAR)
    below = used & ~near
    if rows.size < 2 or rows.size < _MOSTLY * near.sum() or below.sum() < _LEAST_READINGS // 2:
        return nothing
    family = _fit(readings.take(below)).family
    if family is None:
        return nothing
    should = np.asarray(family.current(readings.plate_voltage[rows], readings.grid_voltage[rows]))
    # The top must lie below what should flow, and stay flat where that rises by far more.
    rises = should.max() > _RISING * level and should.max() > (1.0 + _APART) * should.min()
    if rows.size == 2:  # two readings may agree by chance
        rises = should.max() > (1.0 + 2.0 * _APART) * level
        rises &= float(np.ptp(current[rows])) <= _FLAT / 2 * level
    return rows if rises else nothing


def _unchanged_step(readings: Readings, used: BoolArray) -> IntArray:
    """Return the readings of a step at which the grid voltage did not change."""
    curves = split_curves(readings)
    strong = used & (readings.plate_current > 0.4 * _STRONG * readings.plate_current[used].max())
    for low, high in _same_pairs(readings, curves, strong):
        rows = [np.flatnonzero(used & (curves.step == step)) for step in (low, high)]
        misfit = [_misfit_without(readings, used, out) for out in rows]
        if min(misfit) < _CLEARLY_BETTER * _misfit_without(readings, used, rows[0][:0]):
            return rows[int(misfit[1] < misfit[0])]
    return np.empty(0, dtype=np.int64)


def _same_pairs(readings: Readings, curves: Curves, strong: BoolArray) -> Iterator[tuple[int, int]]:
    """Yield neighbouring steps with the same currents at the same plate voltages."""
    lines = []
    for step in range(curves.grid_voltage.size):
        rows = np.flatnonzero(strong & (curves.step == step))
        order = rows[np.argsort(readings.plate_voltage[rows], kind="stable")]
        lines.append((readings.plate_voltage[order], readings.plate_current[order]))
    for low, high in itertools.pairwise(range(len(lines))):
        if abs(_log_gap(lines[low], lines[high])) < _SAME_CURRENT:
            yield low, high


def _log_gap(low: tuple[FloatArray, FloatArray], high: tuple[FloatArray, FloatArray]) -> float:
    """Return the mean log ratio of two curves where both have readings; NaN for too few."""
    if min(low[0].size, high[0].size) < _LEAST_OVERLAP:
        return np.nan
    inside = (low[0] >= high[0][0] - 1e-9) & (low[0] <= high[0][-1] + 1e-9)
    if np.count_nonzero(inside) < _LEAST_OVERLAP:
        return np.nan
    there = np.interp(low[0][inside], high[0], np.log(high[1]))
    return float(np.mean(there - np.log(low[1][inside])))


def _misfit_without(readings: Readings, used: BoolArray, rows: IntArray) -> float:
    """Return the mean square relative residual of a fit without some readings."""
    kept = used.copy()
    kept[rows] = False
    part = readings.take(kept)
    fit = _fit(part)
    if fit.family is None:
        return np.inf
    strong = fit.used & (part.plate_current > _STRONG * part.plate_current.max())
    return float(np.sqrt(np.mean((fit.residual[strong] / part.plate_current[strong]) ** 2)))
