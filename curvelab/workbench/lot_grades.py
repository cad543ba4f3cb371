"""Use case: grades for the tubes of a lot file, kept there with the rules they were given by."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from curvelab.catalog.kept import keep_all
from curvelab.catalog.listing import list_tubes
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.records import StoredTube
from curvelab.grading.rules import GradeRules
from curvelab.sheets.grade_json import stored_grade_record
from curvelab.workbench.grade_book import GRADE, read_grade_book, whose
from curvelab.workbench.grading import load_grade_rules
from curvelab.workbench.stored_grades import GradeGiven, grades_of_lot

__all__ = ["GradedLot", "GradedTube", "grade_lot", "standing_grades"]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]


@dataclass(frozen=True, slots=True, eq=False)
class GradedTube:
    """A tube and the grade it was given; ``record`` is what the lot file keeps of it."""

    tube: StoredTube
    given: GradeGiven
    record: dict[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class GradedLot:
    """The tubes of a lot with their grades.

    Attributes
    ----------
    kept : int
        Grades that are new in the lot file; one that says the same is not kept again.
    """

    rules: GradeRules
    tubes: tuple[GradedTube, ...]
    kept: int


def grade_lot(
    path: Path,
    lot: str | None = None,
    rules: Path | None = None,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> GradedLot:
    """Grade the tubes of a lot file and keep the grades; stopped, nothing is kept.

    Parameters
    ----------
    lot : str, optional
        Tubes of this lot only.
    rules : Path, optional
        Grade rules instead of the user's own or the shipped ones.

    Raises
    ------
    CatalogError
        If the file cannot be read or changed.
    GradeRulesError
        If the grade rules cannot be read.
    """
    read = load_grade_rules(rules)
    with open_lot(path, write=True) as opened:
        tubes = [tube for tube in list_tubes(opened) if lot in (None, tube.identity.lot)]
        given = grades_of_lot(opened, tubes, progress, should_stop, rules=read)
        graded = tuple(
            GradedTube(tube, given[tube.key], stored_grade_record(tube, given[tube.key].grade))
            for tube in tubes
        )
        if should_stop is not None and should_stop():
            return GradedLot(read, graded, 0)
        before = read_grade_book(opened).records
        fresh = [
            (GRADE, _name(item.tube), _text(item.record))
            for item in graded
            if item.given.grade is not None and before.get(whose(item.tube)) != item.record
        ]
        keep_all(opened, fresh, datetime.now(UTC))
    return GradedLot(read, graded, len(fresh))


def standing_grades(opened: LotFile, tubes: Sequence[StoredTube]) -> dict[int, str]:
    """Return the words of the grades that still rest on what is known of each tube, by its key.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    book = read_grade_book(opened)
    found = ((tube.key, book.of(tube)) for tube in tubes)
    return {key: grade.word for key, grade in found if grade is not None}


def _name(tube: StoredTube) -> str:
    identity = tube.identity
    return f"{identity.serial} ({identity.lot})" if identity.lot else identity.serial


def _text(record: dict[str, Any]) -> str:
    return json.dumps(record, allow_nan=False, ensure_ascii=False)
