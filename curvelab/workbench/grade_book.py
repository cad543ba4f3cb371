"""The grades of a lot file that still rest on what is known of its tubes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from curvelab.catalog.kept import kept_versions
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import StoredTube
from curvelab.errors import DocumentError, GradeRulesError
from curvelab.sheets.grade_json import stored_grade_record
from curvelab.sheets.json_fields import parsed
from curvelab.workbench.grading import load_grade_rules

__all__ = ["EMPTY_BOOK", "GRADE", "GradeBook", "StandingGrade", "read_grade_book", "whose"]

GRADE = "grade"  # the kind of its kept records

_RESTS_ON = ("rests_on", "verdict")


@dataclass(frozen=True, slots=True)
class StandingGrade:
    """A grade as it was given.

    Attributes
    ----------
    rank : int
        Place of its word among those of the rules in force, the best first; beyond them for a
        word that they do not have.
    """

    word: str
    meaning: str
    reasons: tuple[str, ...]
    rules: str
    rank: int


@dataclass(frozen=True, slots=True, eq=False)
class GradeBook:
    """The newest grade of each tube, by serial and lot, as it is kept."""

    records: Mapping[tuple[str, str], dict[str, Any]]
    order: tuple[str, ...]

    def of(self, tube: StoredTube) -> StandingGrade | None:
        """Return the grade of a tube if nothing has become known of it since."""
        record = self.records.get(whose(tube))
        if record is None:
            return None
        today = stored_grade_record(tube, None)
        if any(record.get(key) != today[key] for key in _RESTS_ON):
            return None
        word, reasons = str(record.get("grade")), record.get("reasons")
        return StandingGrade(
            word=word,
            meaning=str(record.get("meaning") or ""),
            reasons=tuple(map(str, reasons)) if isinstance(reasons, list) else (),
            rules=str(record.get("rules") or ""),
            rank=self.order.index(word) if word in self.order else len(self.order),
        )


EMPTY_BOOK = GradeBook(MappingProxyType({}), ())


def read_grade_book(opened: LotFile) -> GradeBook:
    """Return the grades that a lot file keeps.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for record in kept_versions(opened, GRADE):
        try:
            entry = parsed(record.payload)
            found[entry.text("serial"), entry.text("lot")] = dict(entry.values)
        except DocumentError:  # of another program's making: it grades nothing here
            continue
    try:
        order = load_grade_rules().order if found else ()
    except GradeRulesError:  # told when tubes are graded by them
        order = ()
    return GradeBook(found, order)


def whose(tube: StoredTube) -> tuple[str, str]:
    """Return what grades are kept by: serial and lot."""
    return tube.identity.serial, tube.identity.lot
