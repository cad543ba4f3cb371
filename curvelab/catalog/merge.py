"""Taking the content of one lot file into another: what is there already stays as it is."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from curvelab.catalog.kept import insert_kept
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import LotContent, TubeHistory
from curvelab.catalog.results import insert_measurement, insert_source
from curvelab.catalog.rows import hand_test_columns, insert, overrule_columns
from curvelab.catalog.sets import insert_set, list_sets
from curvelab.catalog.tubes import take_in_tube
from curvelab.errors import CatalogError

__all__ = ["Merged", "merge"]


@dataclass(frozen=True, slots=True)
class Merged:
    """What was taken in.

    Attributes
    ----------
    tubes, sources : int
        New ones.
    known : int
        Sources that the file held already; their measurements were left alone.
    notices : tuple of str
        What could not be taken in, a sentence each.
    """

    tubes: int
    sources: int
    known: int
    notices: tuple[str, ...]


def merge(lot_file: LotFile, content: LotContent) -> Merged:
    """Take in the whole of a content, or nothing.

    Raises
    ------
    CatalogError
        If a measurement names a source that the content lacks, or the file cannot be changed.
    """
    notices: list[str] = []
    with lot_file.changing() as connection:
        before = _count(connection, "tube")
        fresh = {
            source.sha256: key
            for source in content.sources
            if (key := insert_source(connection, source)) is not None
        }
        known = {source.sha256 for source in content.sources} - set(fresh)
        for history in content.tubes:
            key, _ = take_in_tube(connection, history.identity, history.identity.lot)
            for measurement in history.measurements:
                if measurement.sha256 in known:
                    continue
                source_key = fresh.get(measurement.sha256)
                if source_key is None:
                    reason = f"a measurement of {history.identity.serial} names no source of it"
                    raise CatalogError(str(lot_file.path), reason)
                insert_measurement(connection, key, source_key, measurement)
            _take_in_words(connection, key, history)
        there = {tube_set.name: tube_set for tube_set in list_sets(lot_file)}
        for tube_set in content.sets:
            if tube_set == there.get(tube_set.name):
                continue
            if (refused := insert_set(connection, tube_set)) is not None:
                notices.append(f"the set {tube_set.name!r} was not taken in: {refused}")
        _take_in_kept(connection, content)
        added = _count(connection, "tube") - before
    return Merged(added, len(fresh), len(known), tuple(notices))


def _count(connection: sqlite3.Connection, table: str) -> int:
    return int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def _take_in_words(connection: sqlite3.Connection, key: int, history: TubeHistory) -> None:
    """Add the hand tests and overruled verdicts that the tube's history lacks."""
    for test in history.hand_tests:
        _insert_new(connection, "hand_test", {"tube_id": key, **hand_test_columns(test)})
    for overrule in history.overrules:
        _insert_new(connection, "overrule", {"tube_id": key, **overrule_columns(overrule)})


def _insert_new(connection: sqlite3.Connection, table: str, columns: dict[str, object]) -> None:
    same = " AND ".join(f"{name} IS ?" for name in columns)
    values = tuple(columns.values())
    if connection.execute(f"SELECT 1 FROM {table} WHERE {same}", values).fetchone() is None:
        insert(connection, table, columns)


def _take_in_kept(connection: sqlite3.Connection, content: LotContent) -> None:
    for record in content.kept:
        there = connection.execute(
            "SELECT 1 FROM kept_record WHERE kind = ? AND name = ? AND made_at = ? AND payload = ?",
            (record.kind, record.name, record.made_at.isoformat(), record.payload),
        ).fetchone()
        if there is None:
            insert_kept(connection, record.kind, record.name, record.payload, record.made_at)
