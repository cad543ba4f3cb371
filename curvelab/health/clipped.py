"""Clipped: the current stands still at one value, the bench's limit and not the tube's."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.fitting.records import LeftOutReason
from curvelab.health.case import Case
from curvelab.health.evidence import positions, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MILLIAMPERE

__all__ = ["find"]

# A meter that stands still shows its own noise at most, whatever the voltages do.
_STANDS_STILL = 0.005
_FEWEST = 6


def find(case: Case) -> Iterator[Finding]:
    """Report the flat top that the screening left out of the fit."""
    yield from _never_moves(case)
    flat = case.fit.without(LeftOutReason.CLIPPED)
    if flat is None:
        return
    level = MILLIAMPERE.from_si(float(np.median(case.sweep.readings.plate_current[flat])))
    curves = np.unique(case.curves.step[flat]).size
    on = "one curve" if curves == 1 else f"{curves} curves"
    yield Finding(
        code=FindingCode.CLIPPED,
        severity=Severity.CAUTION,
        evidence=(
            f"{len(flat)} readings on {on} stand at {worded(level, 'mA')} where the current was "
            "still rising: the meter's range or the supply's current limit was reached."
        ),
        value=level,
        unit="mA",
        readings=positions(flat),
    )


def _never_moves(case: Case) -> Iterator[Finding]:
    """Report a current that stays the same over the whole sweep."""
    readings = case.sweep.readings
    current = readings.plate_current
    swept = len(readings) >= _FEWEST and case.fit.hull is not None and case.fit.hull.is_plane
    if not swept or float(np.ptp(current)) >= _STANDS_STILL * float(current.max()):
        return
    level = MILLIAMPERE.from_si(float(np.median(current)))
    yield Finding(
        code=FindingCode.CLIPPED,
        severity=Severity.CAUTION,
        evidence=(
            f"All {len(readings)} readings stand at {worded(level, 'mA')}, whatever the voltages: "
            "the meter or the supply stood at its limit, or did not measure this tube."
        ),
        value=level,
        unit="mA",
        readings=tuple(range(len(readings))),
    )
