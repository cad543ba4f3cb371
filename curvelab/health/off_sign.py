"""Off sign: a column whose sign the reader had to turn round."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.sweep.records import RemarkCode

__all__ = ["find"]

_TURNED = (RemarkCode.GRID_SIGN, RemarkCode.GRID_CURRENT_SIGN, RemarkCode.REVERSED)


def find(case: Case) -> Iterator[Finding]:
    """Note the reader's guesses about signs; what the file itself states needs no note."""
    turned = [
        remark.text
        for remark in case.sweep.remarks
        if remark.code in _TURNED and (remark.guessed or remark.code is not _TURNED[1])
    ]
    if turned:
        yield Finding(code=FindingCode.OFF_SIGN, severity=Severity.NOTE, evidence=" ".join(turned))
