"""Short warm-up: the readings were taken before the cathode had settled."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.evidence import worded
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Note a stated warm-up below what cathodes need."""
    stated, limit = case.sweep.conditions.warm_up, case.limits.warm_up
    if stated is None or stated >= limit.value:
        return
    yield Finding(
        code=FindingCode.SHORT_WARM_UP,
        severity=Severity.NOTE,
        evidence=(
            f"The file states {worded(stated, 's')} of warm-up, less than the "
            f"{worded(limit.value, 's')} after which figures are settled."
        ),
        value=stated,
        unit="s",
        limit=limit.printed,
        limit_source=limit.source,
    )
