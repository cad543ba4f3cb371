"""Runaway inside a sweep: the pass downward lies above the pass upward."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.health.case import Case
from curvelab.health.evidence import positions, where
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["find"]

_STRONG_SHARE = 0.1
_LEAST_PAIRS = 5
_COVERAGE = 2.0
_MAD_TO_SIGMA = 1.4826


def find(case: Case) -> Iterator[Finding]:
    """Find a sweep whose current had climbed by the way back.

    The readings of the half with the greater dissipation decide: a tube that runs away
    disagrees most where it was hottest, while a bench's backlash disagrees everywhere alike
    and either way.
    """
    pair_up, pair_down, difference = _pairs(case)
    if difference.size < _LEAST_PAIRS:
        return
    readings, limits = case.sweep.readings, case.limits
    heat = _heat_of_curve(case)[pair_up]
    hot = heat >= np.median(heat)
    rise, u95 = _middle(difference[hot])
    cool, _ = _middle(difference[~hot]) if (~hot).any() else (0.0, 0.0)
    if rise <= limits.pass_disagreement.value or rise <= u95 or rise < cool - u95:
        return
    worst = int(pair_down[hot][np.argmax(difference[hot])])
    shown = np.concatenate((pair_up[hot], pair_down[hot]))
    yield Finding(
        code=FindingCode.RUNAWAY,
        severity=Severity.REJECT
        if rise > limits.pass_disagreement_reject.value
        else Severity.CAUTION,
        evidence=(
            f"On the way down the current lies {100 * rise:.1f} % above the way up on the curves "
            f"with the most dissipation ({100 * cool:.1f} % on the others), most of all at "
            f"{where(readings, worst)}: the tube kept climbing while it was hot."
        ),
        value=100 * rise,
        u95=100 * u95,
        unit="%",
        limit=limits.pass_disagreement.printed,
        limit_source=limits.pass_disagreement.source,
        readings=positions(np.sort(shown)),
    )


def _pairs(case: Case) -> tuple[IntArray, IntArray, FloatArray]:
    """Return up readings, down readings at the same voltages, and their relative difference."""
    readings = case.sweep.readings
    none = np.empty(0, dtype=np.int64)
    if readings.direction is None:
        return none, none, np.empty(0)
    strong = readings.plate_current > _STRONG_SHARE * readings.plate_current.max()
    usable = case.fit.used & strong
    up = {
        (int(case.curves.step[k]), round(float(readings.plate_voltage[k]), 1)): int(k)
        for k in np.flatnonzero(usable & (readings.direction > 0))
    }
    pairs = [
        (up[key], int(k))
        for k in np.flatnonzero(usable & (readings.direction < 0))
        if (key := (int(case.curves.step[k]), round(float(readings.plate_voltage[k]), 1))) in up
    ]
    if not pairs:
        return none, none, np.empty(0)
    first, second = np.array(pairs).T
    current = readings.plate_current
    return first, second, current[second] / current[first] - 1.0


def _heat_of_curve(case: Case) -> FloatArray:
    """Return for each reading the largest dissipation of its curve [W]."""
    readings = case.sweep.readings
    largest = np.zeros(case.curves.grid_voltage.size)
    np.maximum.at(largest, case.curves.step, readings.plate_voltage * readings.plate_current)
    return np.asarray(largest[case.curves.step])


def _middle(difference: FloatArray) -> tuple[float, float]:
    """Return the median and its expanded uncertainty."""
    middle = float(np.median(difference))
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(difference - middle)))
    return middle, _COVERAGE * 1.2533 * spread / float(np.sqrt(difference.size))
