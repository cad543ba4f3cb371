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


def find(case: Case) -> Iterator[Finding]:
    """Report the flat top that the screening left out of the fit."""
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
