"""Short: electrodes that touch, as a file or a hand test states it."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.sweep.records import Conditions

__all__ = ["find", "find_stated"]

# What a person writes for "there is none".
_NONE = frozenset({"", "-", "0", "n", "nil", "no", "no short", "no shorts", "none", "ok"})


def find(case: Case) -> Iterator[Finding]:
    """Reject a tube whose file names a short."""
    yield from find_stated(case.sweep.conditions, "The file")


def find_stated(conditions: Conditions, who: str) -> Iterator[Finding]:
    """Reject a tube of which ``who`` states a short."""
    stated = (conditions.shorts or "").strip()
    if stated.lower().rstrip(".") in _NONE:
        return
    yield Finding(
        code=FindingCode.SHORT,
        severity=Severity.REJECT,
        evidence=f'{who} states a short between electrodes: "{stated}".',
    )
