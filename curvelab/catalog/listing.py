"""The tubes of a lot file as they stand today, and one tube with all its history."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import TypeVar

from curvelab.catalog.faults import understood
from curvelab.catalog.kept import all_kept
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import (
    Characterisation,
    HandTest,
    LotContent,
    Measurement,
    Overrule,
    SetState,
    StoredResult,
    StoredTube,
    TubeHistory,
)
from curvelab.catalog.results import characterisation_of, stored_sources
from curvelab.catalog.rows import figures_of, hand_test_of, identity_of, overrule_of
from curvelab.catalog.sets import list_sets
from curvelab.errors import UnknownTubeError
from curvelab.sweep.records import SweepKind

__all__ = ["list_tubes", "lot_content", "standing_tube", "tube_history"]

Made = TypeVar("Made")

# The newest measurement of each section and kind under the usual set-up, and the newest judging
# of that one. What a test under another set-up found is in the judging of the usual readings.
_NEWEST = """
    SELECT c.*, m.tube_id, m.named, m.section, m.kind, s.name AS file, s.sha256
    FROM characterisation c
    JOIN measurement m ON m.id = c.measurement_id
    JOIN source s ON s.id = m.source_id
    WHERE m.id IN (
        SELECT max(id) FROM measurement WHERE set_up IS NULL GROUP BY tube_id, section, kind)
    AND c.id IN (SELECT max(id) FROM characterisation GROUP BY measurement_id)
    ORDER BY m.section, m.kind DESC, c.id
"""
_NEWEST_BY_HAND = """
    SELECT * FROM hand_test
    WHERE id IN (SELECT max(id) FROM hand_test GROUP BY tube_id, section) ORDER BY section
"""
_NEWEST_OVERRULE = """
    SELECT o.* FROM overrule o
    WHERE o.id IN (SELECT max(id) FROM overrule GROUP BY tube_id)
    AND o.characterisations = (
        SELECT count(*) FROM characterisation c JOIN measurement m ON m.id = c.measurement_id
        WHERE m.tube_id = o.tube_id)
    AND o.hand_tests = (SELECT count(*) FROM hand_test h WHERE h.tube_id = o.tube_id)
"""
_IN_A_SET = """
    SELECT m.tube_id, t.name, t.state FROM set_member m JOIN tube_set t ON t.id = m.set_id
    WHERE NOT m.released
"""


def list_tubes(lot_file: LotFile) -> tuple[StoredTube, ...]:
    """Return every tube as it stands, in the order they were entered.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    with understood(lot_file.path), lot_file.reading():
        return _all_standing(lot_file, lot_file.rows("SELECT * FROM tube ORDER BY id"))


def standing_tube(lot_file: LotFile, key: int) -> StoredTube:
    """Return one tube as it stands.

    Raises
    ------
    UnknownTubeError
        If there is no tube of this key.
    """
    with understood(lot_file.path), lot_file.reading():
        rows = lot_file.rows("SELECT * FROM tube WHERE id = ?", (key,))
        found = _all_standing(lot_file, rows, key)
    if not found:
        raise UnknownTubeError(str(lot_file.path), f"it holds no tube of key {key}")
    return found[0]


def _all_standing(
    lot_file: LotFile, tubes: Iterable[sqlite3.Row], key: int | None = None
) -> tuple[StoredTube, ...]:
    """Return tubes as they stand; with a key, what is read is only that tube's."""

    def read(query: str) -> list[sqlite3.Row]:
        if key is None:
            return lot_file.rows(query)
        return lot_file.rows(f"SELECT * FROM ({query}) WHERE tube_id = ?", (key,))

    results = _by_tube(read(_NEWEST), _result_of)
    hand_tests = _by_tube(read(_NEWEST_BY_HAND), hand_test_of)
    overrules = {row["tube_id"]: overrule_of(row) for row in read(_NEWEST_OVERRULE)}
    sets = {row["tube_id"]: row for row in read(_IN_A_SET)}
    return tuple(_standing(row, results, hand_tests, overrules, sets) for row in tubes)


def _standing(
    row: sqlite3.Row,
    results: Mapping[int, list[StoredResult]],
    hand_tests: Mapping[int, list[HandTest]],
    overrules: Mapping[int, Overrule],
    sets: Mapping[int, sqlite3.Row],
) -> StoredTube:
    key = row["id"]
    member = sets.get(key)
    return StoredTube(
        key=key,
        identity=identity_of(row),
        results=tuple(results.get(key, ())),
        hand_tests=tuple(hand_tests.get(key, ())),
        overrule=overrules.get(key),
        set_name=member["name"] if member is not None else None,
        set_state=SetState(member["state"]) if member is not None else None,
    )


def tube_history(lot_file: LotFile, key: int) -> TubeHistory:
    """Return one tube with everything that was ever measured of it.

    Raises
    ------
    UnknownTubeError
        If there is no tube of this key.
    """
    with understood(lot_file.path), lot_file.reading():
        found = _histories(lot_file, " WHERE t.id = ?", (key,))
    if not found:
        raise UnknownTubeError(str(lot_file.path), f"it holds no tube of key {key}")
    return found[0]


def lot_content(lot_file: LotFile) -> LotContent:
    """Return all that a lot file holds.

    Raises
    ------
    CatalogDamagedError
        If the bytes of a source are no longer those that were stored.
    """
    with understood(lot_file.path), lot_file.reading():
        return LotContent(
            tubes=_histories(lot_file),
            sources=tuple(stored_sources(lot_file)),
            sets=list_sets(lot_file),
            kept=all_kept(lot_file),
        )


def _histories(
    lot_file: LotFile, where: str = "", values: tuple[int, ...] = ()
) -> tuple[TubeHistory, ...]:
    tubes = lot_file.rows(f"SELECT t.* FROM tube t{where} ORDER BY t.id", values)
    of_tube = f" JOIN tube t ON t.id = m.tube_id{where}"
    judged: defaultdict[int, list[Characterisation]] = defaultdict(list)
    for row in lot_file.rows(
        "SELECT c.*, d.settings, d.document, d.curves FROM characterisation c "
        "JOIN detail d ON d.id = c.id JOIN measurement m ON m.id = c.measurement_id"
        f"{of_tube} ORDER BY c.id",
        values,
    ):
        judged[row["measurement_id"]].append(characterisation_of(row))
    measurements = _by_tube(
        lot_file.rows(
            "SELECT m.*, s.sha256 FROM measurement m JOIN source s ON s.id = m.source_id"
            f"{of_tube} ORDER BY m.id",
            values,
        ),
        lambda row: _measurement_of(row, judged),
    )
    hand_tests = _by_tube(
        lot_file.rows(f"SELECT m.* FROM hand_test m{of_tube} ORDER BY m.id", values), hand_test_of
    )
    overrules = _by_tube(
        lot_file.rows(f"SELECT m.* FROM overrule m{of_tube} ORDER BY m.id", values), overrule_of
    )
    return tuple(
        TubeHistory(
            identity=identity_of(row),
            measurements=tuple(measurements.get(row["id"], ())),
            hand_tests=tuple(hand_tests.get(row["id"], ())),
            overrules=tuple(overrules.get(row["id"], ())),
        )
        for row in tubes
    )


def _by_tube(
    rows: Iterable[sqlite3.Row], made: Callable[[sqlite3.Row], Made]
) -> dict[int, list[Made]]:
    gathered: defaultdict[int, list[Made]] = defaultdict(list)
    for row in rows:
        gathered[row["tube_id"]].append(made(row))
    return gathered


def _result_of(row: sqlite3.Row) -> StoredResult:
    return StoredResult(
        key=row["id"],
        named=row["named"],
        section=row["section"],
        kind=SweepKind(row["kind"]),
        file=row["file"],
        sha256=row["sha256"],
        made_at=datetime.fromisoformat(row["made_at"]),
        made_with=row["made_with"],
        bench=row["bench"],
        figures=figures_of(row),
    )


def _measurement_of(row: sqlite3.Row, judged: Mapping[int, list[Characterisation]]) -> Measurement:
    return Measurement(
        named=row["named"],
        section=row["section"],
        kind=SweepKind(row["kind"]),
        sha256=row["sha256"],
        characterisations=tuple(judged.get(row["id"], ())),
        set_up=row["set_up"],
    )
