"""A grade as plain values for JSON."""

from __future__ import annotations

from typing import Any

from curvelab.grading.grade import Grade
from curvelab.sheets.text import finite, plain

__all__ = ["grade_record"]


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
