"""A grade as plain values for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from curvelab import __version__
from curvelab.catalog.records import StoredTube
from curvelab.grading.grade import Grade
from curvelab.sheets.text import finite, plain

__all__ = ["grade_record", "grades_document", "stored_grade_record"]


def grade_record(grade: Grade) -> dict[str, Any]:
    """Return a grade as the plain values that results and a catalogue keep."""
    return {
        "grade": grade.word,
        "meaning": grade.meaning,
        "decided": grade.decided,
        "reasons": [plain(reason) for reason in grade.reasons],
        "limits": [
            {
                "grade": bound.grade,
                "quantity": bound.quantity,
                "side": bound.side,
                "value": finite(bound.value),
                "u95": finite(bound.u95),
                "limit": finite(bound.limit),
                "unit": bound.unit,
                "source": plain(bound.source),
                "standing": bound.keeping.value,
            }
            for bound in grade.bounds
        ],
        "rules": plain(grade.rules),
    }


def stored_grade_record(tube: StoredTube, grade: Grade | None) -> dict[str, Any]:
    """Return the grade of a tube of a lot file with what it rests on; None for no grade."""
    return {
        "serial": plain(tube.identity.serial),
        "lot": plain(tube.identity.lot),
        **({"grade": None} if grade is None else grade_record(grade)),
        "verdict": None if tube.verdict is None else tube.verdict.value,
        "rests_on": [
            {
                "section": result.section,
                "kind": result.kind.value,
                "sha256": result.sha256,
                "made_at": result.made_at.isoformat(),
            }
            for result in tube.results
        ],
    }


def grades_document(
    rules: str, records: Sequence[dict[str, Any]], why_not: Sequence[str]
) -> dict[str, Any]:
    """Return the grades of a lot, schema ``curvelab.grades/1``.

    Parameters
    ----------
    records : sequence of dict
        As `stored_grade_record` gives them.
    why_not : sequence of str
        For each of them why it has no grade; empty where it has one.
    """
    return {
        "schema": "curvelab.grades/1",
        "made_with": f"curvelab {__version__}",
        "rules": plain(rules),
        "tubes": [
            {**record, "why_not": plain(why) or None}
            for record, why in zip(records, why_not, strict=True)
        ],
    }
