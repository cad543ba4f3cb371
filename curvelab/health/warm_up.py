"""Short warm-up: the readings were taken before the cathode had settled."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.evidence import worded
from curvelab.health.limits import HouseLimits
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.sweep.records import Conditions

__all__ = ["find", "find_stated"]


def find(case: Case) -> Iterator[Finding]:
    """Note a stated warm-up below what cathodes need."""
    yield from find_stated(case.sweep.conditions, case.limits, "The file")


def find_stated(conditions: Conditions, limits: HouseLimits, who: str) -> Iterator[Finding]:
    """Note a warm-up that ``who`` states, below what cathodes need."""
    stated, limit = conditions.warm_up, limits.warm_up
    if stated is None or stated >= limit.value:
        return
    yield Finding(
        code=FindingCode.SHORT_WARM_UP,
        severity=Severity.NOTE,
        evidence=(
            f"{who} states {worded(stated, 's')} of warm-up, less than the "
            f"{worded(limit.value, 's')} after which figures are settled."
        ),
        value=stated,
        unit="s",
        limit=limit.printed,
        limit_source=limit.source,
    )
