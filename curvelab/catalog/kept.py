"""Records of other rooms, kept in versions: bench checks, corrections, grading limits.

Their shape belongs to the room that makes them; here each is a JSON text under a kind and a
name, and a new version never overwrites an old one.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from datetime import datetime

from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import KeptRecord
from curvelab.catalog.rows import insert

__all__ = ["all_kept", "insert_kept", "keep", "keep_all", "kept_versions", "newest_kept"]


def keep(lot_file: LotFile, kind: str, name: str, payload: str, made_at: datetime) -> KeptRecord:
    """Store the next version of a record and return it.

    Parameters
    ----------
    kind : str
        Such as ``bench-check``.
    name : str
        Which of its kind: a bench, a type, or empty where there is one only.
    payload : str
        JSON.

    Raises
    ------
    ValueError
        If the payload is not JSON.
    CatalogError
        If the file cannot be changed.
    """
    (record,) = keep_all(lot_file, [(kind, name, payload)], made_at)
    return record


def keep_all(
    lot_file: LotFile, records: Iterable[tuple[str, str, str]], made_at: datetime
) -> tuple[KeptRecord, ...]:
    """Store the next versions of some records (kind, name, payload): all of them, or none.

    Raises
    ------
    ValueError
        If a payload is not JSON.
    CatalogError
        If the file cannot be changed.
    """
    wanted = tuple(records)
    for _, _, payload in wanted:
        json.loads(payload)
    with lot_file.changing() as connection:
        return tuple(insert_kept(connection, *record, made_at) for record in wanted)


def insert_kept(
    connection: sqlite3.Connection, kind: str, name: str, payload: str, made_at: datetime
) -> KeptRecord:
    """Add the next version of a record."""
    (last,) = connection.execute(
        "SELECT ifnull(max(version), 0) FROM kept_record WHERE kind = ? AND name = ?", (kind, name)
    ).fetchone()
    record = KeptRecord(kind, name, last + 1, made_at, payload)
    insert(
        connection,
        "kept_record",
        {
            "kind": kind,
            "name": name,
            "version": record.version,
            "made_at": made_at.isoformat(),
            "payload": payload,
        },
    )
    return record


def kept_versions(lot_file: LotFile, kind: str, name: str | None = None) -> tuple[KeptRecord, ...]:
    """Return every version of the records of a kind, oldest first."""
    found = lot_file.rows("SELECT * FROM kept_record WHERE kind = ? ORDER BY id", (kind,))
    return tuple(_record_of(row) for row in found if name in (None, row["name"]))


def newest_kept(lot_file: LotFile, kind: str, name: str = "") -> KeptRecord | None:
    """Return the version in force, or None where none was ever kept."""
    versions = kept_versions(lot_file, kind, name)
    return versions[-1] if versions else None


def all_kept(lot_file: LotFile) -> tuple[KeptRecord, ...]:
    """Return every kept record, oldest first."""
    return tuple(_record_of(row) for row in lot_file.rows("SELECT * FROM kept_record ORDER BY id"))


def _record_of(row: sqlite3.Row) -> KeptRecord:
    return KeptRecord(
        kind=row["kind"],
        name=row["name"],
        version=row["version"],
        made_at=datetime.fromisoformat(row["made_at"]),
        payload=row["payload"],
    )
