"""Contact: isolated readings that fell toward zero."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.fitting.records import LeftOutReason
from curvelab.health.case import Case
from curvelab.health.evidence import lines_of, positions
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Report the dropouts that the screening left out of the fit."""
    dropped = case.fit.without(LeftOutReason.CONTACT)
    if dropped is None:
        return
    readings = case.sweep.readings
    count = len(dropped)
    fell = "1 reading" if count == 1 else f"{count} readings"
    yield Finding(
        code=FindingCode.CONTACT,
        severity=Severity.CAUTION,
        evidence=(
            f"{fell} fell toward zero among sound neighbours ({lines_of(readings, dropped)}): a "
            "bad contact or an arc; clean pins and socket with the bench off and discharged, then "
            "repeat."
        ),
        value=float(count),
        unit="readings",
        readings=positions(dropped),
    )
