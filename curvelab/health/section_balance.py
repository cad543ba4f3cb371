"""Section imbalance: the two sections of a dual tube differ too much."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.fitting.records import Constant
from curvelab.health.case import Case
from curvelab.health.evidence import volts, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MILLIAMPERE

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Compare plate currents at the operating point, in percent of their mean."""
    other = case.sibling
    if other is None or case.operating_point is None:
        return
    if other.operating_point != case.operating_point:
        return
    mine, theirs = case.constants.plate_current, other.constants.plate_current
    if mine.value is None or theirs.value is None or mine.value + theirs.value <= 0:
        return
    mean = 0.5 * (mine.value + theirs.value)
    difference = abs(mine.value - theirs.value) / mean
    limit, source = _limit(case)
    if difference <= limit:
        return
    plate, grid = case.operating_point
    yield Finding(
        code=FindingCode.SECTION_IMBALANCE,
        severity=Severity.CAUTION,
        evidence=(
            f"The sections draw {_said(mine.value)} and {_said(theirs.value)} at {volts(plate)}, "
            f"{volts(grid)} (this one first): they differ by {100 * difference:.0f} % of their "
            "mean."
        ),
        value=100 * difference,
        u95=100 * _joint(mine, theirs) / mean,
        unit="%",
        limit=100 * limit,
        limit_source=source,
    )


def _said(current: float) -> str:
    return worded(MILLIAMPERE.from_si(current), "mA")


def _joint(first: Constant, second: Constant) -> float:
    return float(((first.u95 or 0.0) ** 2 + (second.u95 or 0.0) ** 2) ** 0.5)


def _limit(case: Case) -> tuple[float, str]:
    """Return the printed limit, or the house's, as a share of the mean."""
    for limit in () if case.tube_type is None else case.tube_type.printed_limits:
        if limit.quantity == "section_balance" and limit.high is not None:
            return limit.high, f"{limit.source}, {limit.condition}"
    house = case.limits.section_balance
    return house.value, house.source
