"""Swapped: columns whose headings were exchanged."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.sweep.records import RemarkCode

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Ask a person to confirm the exchange that the reader made."""
    swapped = [item.text for item in case.sweep.remarks if item.code is RemarkCode.SWAPPED]
    if swapped:
        yield Finding(
            code=FindingCode.SWAPPED, severity=Severity.CAUTION, evidence=" ".join(swapped)
        )
