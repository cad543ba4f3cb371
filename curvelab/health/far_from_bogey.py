"""Far from bogey: a constant far from the family's; the lot's grading decides."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]

_GRADED = {"plate_current": "plate current", "transconductance": "transconductance"}


def find(case: Case) -> Iterator[Finding]:
    """Note the constant that lies farthest beyond the house band."""
    if case.comparison is None:
        return
    limit = case.limits.far_from_bogey
    away = {
        name: case.comparison.of_bogey[name] - 1.0
        for name in _GRADED
        if name in case.comparison.of_bogey
    }
    name = max(away, key=lambda key: abs(away[key]), default=None)
    # What is not known of the filament's return may be all that is between them.
    if name is None or abs(away[name]) <= limit.value + case.comparison.open_by:
        return
    percent = 100 * (1.0 + away[name])
    yield Finding(
        code=FindingCode.FAR_FROM_BOGEY,
        severity=Severity.NOTE,
        evidence=(
            f"The {_GRADED[name]} is {percent:.0f} % of what the family of "
            f"{case.comparison.type_name} has at the operating point."
        ),
        value=percent,
        unit="%",
        limit=100 * (1.0 + (limit.value if away[name] > 0 else -limit.value)),
        limit_source=limit.source,
    )
