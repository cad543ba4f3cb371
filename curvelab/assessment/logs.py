"""What a log at fixed bias says of a tube: its current at the end, and how it behaves."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.coverage import coverage_factor
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.case import Case
from curvelab.health.drift import drift_findings, drift_report
from curvelab.health.records import DriftReport, Finding
from curvelab.sweep.records import FloatArray

__all__ = ["assess_log"]

_AT_THE_END = 0.1  # share of the readings whose mean is the current at the end
_FEWEST = 3


def assess_log(case: Case) -> tuple[Constants, DriftReport | None, tuple[Finding, ...]]:
    """Return the constants, the behaviour and the findings of a drift log."""
    band = case.limits.drift_band
    report = drift_report(case.sweep, case.tube_type, band)
    slope = Constant.missing(Outcome.NOT_COVERED, "a log at fixed bias does not move the voltages")
    constants = Constants(_current_at_end(case.sweep.readings.plate_current), slope, slope, slope)
    return constants, report, drift_findings(case.sweep, report, band)


def _current_at_end(current: FloatArray) -> Constant:
    size = max(_FEWEST, round(_AT_THE_END * current.size))
    last = current[-size:]
    if last.size < _FEWEST:
        return Constant.missing(Outcome.TOO_FEW, "the log has too few readings")
    mean = float(last.mean())
    if mean <= 0:
        return Constant.missing(Outcome.NO_CURRENT, "no plate current at the end of the log")
    spread = float(last.std(ddof=1)) / np.sqrt(last.size)
    return Constant(mean, coverage_factor(last.size - 1) * spread)
