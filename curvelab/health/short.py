"""Short: electrodes that touch, as the file states it."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]

# What a person writes for "there is none".
_NONE = frozenset({"", "-", "0", "n", "nil", "no", "no short", "no shorts", "none", "ok"})


def find(case: Case) -> Iterator[Finding]:
    """Reject a tube whose file names a short."""
    stated = (case.sweep.conditions.shorts or "").strip()
    if stated.lower().rstrip(".") in _NONE:
        return
    yield Finding(
        code=FindingCode.SHORT,
        severity=Severity.REJECT,
        evidence=f'The file states a short between electrodes: "{stated}".',
    )
