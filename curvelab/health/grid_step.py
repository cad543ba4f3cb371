"""Grid step: a commanded step at which the grid voltage did not change."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.fitting.records import LeftOutReason
from curvelab.health.case import Case
from curvelab.health.evidence import positions, volts
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Report the repeated curves that the screening left out of the fit."""
    repeated = case.fit.without(LeftOutReason.GRID_STEP)
    if repeated is None:
        return
    steps = case.curves.grid_voltage[np.unique(case.curves.step[repeated])]
    named = " and ".join(volts(float(step)) for step in steps)
    yield Finding(
        code=FindingCode.GRID_STEP,
        severity=Severity.CAUTION,
        evidence=(
            f"The curve logged at {named} repeats that of the step beside it: the grid supply did "
            "not move, and the curve is left out of the fit."
        ),
        value=float(steps[0]),
        unit="V",
        readings=positions(repeated),
    )
