"""The lot file that is open: its tubes as they stand, and which of them have been judged now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from curvelab.catalog.listing import list_tubes, standing_tube, tube_history
from curvelab.catalog.lot_file import open_lot
from curvelab.catalog.records import StoredResult, StoredTube, TubeHistory
from curvelab.catalog.results import known_hashes
from curvelab.catalog.retest import Retest, compare_retests
from curvelab.sheets.text import plain
from curvelab.workbench.characterize import Request, settings_of
from curvelab.workbench.grade_book import EMPTY_BOOK, GradeBook, read_grade_book
from curvelab.workbench.session import Entry, Wish
from curvelab.workbench.tube_rows import (
    Graded,
    TubeRow,
    row_of_entry,
    row_of_stored,
    row_of_untested,
)

__all__ = ["OpenLot", "history_of", "read_lot", "read_tube"]

Place = tuple[str, str, str | None, str]
_UNTESTED = -(10**12)  # beyond the keys of results: lines of tubes that were never swept


class OpenLot:
    """What the window holds of a lot file; made by `read_lot`, in whatever thread.

    Attributes
    ----------
    path : Path
        As the user named it.
    newer : bool
        Whether a later version of the program made it; such a file is only read.
    """

    def __init__(
        self,
        path: Path,
        tubes: Iterable[StoredTube],
        hashes: frozenset[str],
        grades: GradeBook = EMPTY_BOOK,
        *,
        newer: bool,
    ) -> None:
        self.path, self.newer = path, newer
        self._hashes, self._grades = hashes, grades
        self._not_graded: Mapping[int, str] = {}
        self._tubes: dict[int, StoredTube] = {}
        self._rows: dict[int, TubeRow] = {}
        self._rows_of: dict[int, tuple[int, ...]] = {}
        self._places: dict[Place, int] = {}
        for tube in tubes:
            self.put(tube)

    @property
    def tubes(self) -> tuple[StoredTube, ...]:
        """The tubes as they stand, in the order they were entered."""
        return tuple(self._tubes.values())

    def put(self, tube: StoredTube) -> None:
        """Take in how a tube stands now."""
        old = self._rows_of.get(tube.key, ())
        if old:
            self._places = {at: key for at, key in self._places.items() if key not in old}
        for key in old:
            del self._rows[key]
        self._tubes[tube.key] = tube
        grade = self._grades.of(tube)
        graded = Graded(grade, "" if grade else self._not_graded.get(tube.key, ""))
        rows = [row_of_stored(tube, result, graded) for result in tube.results]
        for result, row in zip(tube.results, rows, strict=True):
            self._places[_place_of_result(result)] = row.key
        rows = rows or [row_of_untested(tube, _UNTESTED - tube.key, graded)]
        self._rows_of[tube.key] = tuple(row.key for row in rows)
        self._rows.update((row.key, row) for row in rows)

    def explain_grades(self, why_not: Mapping[int, str]) -> None:
        """Say of some tubes, by their keys, why the last grading gave them none."""
        self._not_graded = why_not
        for key in why_not:
            if key in self._tubes:
                self.put(self._tubes[key])

    def row_key(self, entry: Entry) -> int | None:
        """Return the line that an entry belongs to, or None where the lot file has none."""
        return self._places.get(_place_of_entry(entry))

    def holds(self, entry: Entry) -> bool:
        """Tell whether the file of an entry is stored, be it as the newest or as history."""
        return entry.assessment.sweep.source.sha256 in self._hashes

    def tube_of_row(self, key: int) -> StoredTube | None:
        """Return the tube of a line."""
        row = self._rows.get(key)
        return None if row is None or row.house is None else self._tubes[row.house.tube]

    def rows(self, entries: Iterable[Entry]) -> Iterator[TubeRow]:
        """Yield the lines: the lot's tubes in its order, then what is in no lot file.

        A tube judged otherwise than it was filed shows how it was judged now.
        """
        loose = []
        asked: dict[int, Entry] = {}
        for entry in entries:
            key = self.row_key(entry)
            if key is not None:
                if entry.wish != Wish():
                    asked[key] = entry
            elif not self.holds(entry):
                loose.append(entry)
        for keys in self._rows_of.values():
            for key in keys:
                row = self._rows[key]
                yield row_of_entry(asked[key], key, row.house) if key in asked else row
        yield from map(row_of_entry, loose)


def read_lot(path: Path) -> OpenLot:
    """Return a lot file as it stands.

    Raises
    ------
    CatalogError
        If it cannot be opened or read.
    """
    with open_lot(path, write=False) as opened:
        return OpenLot(
            path,
            list_tubes(opened),
            known_hashes(opened),
            read_grade_book(opened),
            newer=opened.newer,
        )


def read_tube(path: Path, key: int) -> StoredTube:
    """Return one tube as it stands.

    Raises
    ------
    CatalogError
        If there is no such tube, or the file cannot be read.
    """
    with open_lot(path, write=False) as opened:
        return standing_tube(opened, key)


def history_of(path: Path, key: int) -> tuple[TubeHistory, tuple[Retest, ...]]:
    """Return all that was measured of a tube, and its newest sweeps against those before.

    Raises
    ------
    CatalogError
        If there is no such tube, or the file cannot be read.
    """
    limits = settings_of(Request(paths=())).limits
    with open_lot(path, write=False) as opened:
        history = tube_history(opened, key)
    return history, compare_retests(history, limits)


def _place_of_result(result: StoredResult) -> Place:
    return result.sha256, result.named, result.section, result.kind.value


def _place_of_entry(entry: Entry) -> Place:
    sweep = entry.assessment.sweep
    section = None if sweep.section is None else plain(sweep.section)
    return sweep.source.sha256, plain(sweep.tube), section, sweep.kind.value
