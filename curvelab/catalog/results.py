"""Sweeps, logs and what was made of them: stored once, never overwritten."""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from curvelab.catalog.curve_codec import (
    packed_curves,
    packed_text,
    unpacked_curves,
    unpacked_text,
)
from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.faults import understood
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import Characterisation, Measurement, TubeIdentity
from curvelab.catalog.rows import figures_columns, figures_of, insert
from curvelab.catalog.tubes import AmbiguousTube, take_in_tube
from curvelab.errors import CatalogDamagedError, CatalogError
from curvelab.sweep.records import SourceFile

__all__ = [
    "FiledResults",
    "StoredTest",
    "add_characterisation",
    "add_characterisations",
    "characterisation_of",
    "curve_grids",
    "documents",
    "file_results",
    "insert_characterisation",
    "insert_measurement",
    "insert_source",
    "known_hashes",
    "measurement_keys",
    "newest_settings",
    "settings_used",
    "sources_of",
    "stored_sources",
    "take_back_characterisations",
    "tests_beside",
]

_AT_ONCE = 500  # values in one query


@dataclass(frozen=True, slots=True)
class FiledResults:
    """What came of filing one source.

    Attributes
    ----------
    new : bool
        False where the file holds these bytes already; nothing was added then.
    notices : tuple of str
        What a person should look at, a sentence each.
    refused : str or None
        Why nothing of the source was filed.
    """

    new: bool
    notices: tuple[str, ...] = ()
    refused: str | None = None


@dataclass(frozen=True, slots=True)
class StoredTest:
    """A test of a tube under a changed set-up.

    ``key`` is that of its newest judging; ``named`` the tube's name in the file.
    """

    key: int
    named: str
    section: str | None
    sha256: str


def known_hashes(lot_file: LotFile) -> frozenset[str]:
    """Return the SHA-256 of every source whose bytes the file holds."""
    found = lot_file.rows("SELECT sha256 FROM source WHERE content IS NOT NULL")
    return frozenset(row["sha256"] for row in found)


def file_results(
    lot_file: LotFile,
    source: SourceFile,
    items: Sequence[tuple[TubeIdentity, Measurement]],
) -> FiledResults:
    """Store a source with its measurements: all of it, or nothing.

    Parameters
    ----------
    items : sequence of (TubeIdentity, Measurement)
        A tube may occur more than once: sections, or several sweeps. An identity without a
        lot means whichever lot knows the serial.
    """
    notices: list[str] = []
    try:
        with lot_file.changing() as connection:
            source_key = insert_source(connection, source)
            if source_key is None:
                return FiledResults(new=False)
            for identity, measurement in items:
                key, known = take_in_tube(connection, identity, identity.lot or None)
                if known.type_label != identity.type_label and identity.type_label is not None:
                    notices.append(
                        f"{identity.serial} is labelled {known.type_label} in the lot file and "
                        f"{identity.type_label} in {source.name}: is it the same tube?"
                    )
                insert_measurement(connection, key, source_key, measurement)
    except AmbiguousTube as error:
        return FiledResults(new=True, refused=str(error))
    return FiledResults(new=True, notices=tuple(dict.fromkeys(notices)))


def insert_source(connection: sqlite3.Connection, source: SourceFile) -> int | None:
    """Store the bytes of a file and return its key; None if they are there already.

    Bytes that a salvage had lost are put in their place, and count as known.
    """
    row = connection.execute(
        "SELECT id, content IS NULL AS lost FROM source WHERE sha256 = ?", (source.sha256,)
    ).fetchone()
    content = zlib.compress(source.content) if source.content else None
    if row is None:
        return insert(
            connection,
            "source",
            {"sha256": source.sha256, "name": source.name, "content": content},
        )
    if row["lost"] and content is not None:
        connection.execute("UPDATE source SET content = ? WHERE id = ?", (content, row["id"]))
    return None


def insert_measurement(
    connection: sqlite3.Connection, tube_key: int, source_key: int, measurement: Measurement
) -> None:
    """Add a measurement with its judgings to the history of a tube."""
    key = insert(
        connection,
        "measurement",
        {
            "tube_id": tube_key,
            "source_id": source_key,
            "named": measurement.named,
            "section": measurement.section,
            "kind": measurement.kind.value,
            **({} if measurement.set_up is None else {"set_up": measurement.set_up}),
        },
    )
    for characterisation in measurement.characterisations:
        insert_characterisation(connection, key, characterisation)


def insert_characterisation(
    connection: sqlite3.Connection, measurement_key: int, item: Characterisation
) -> int:
    """Add a judging to the history of a measurement and return its key."""
    key = insert(
        connection,
        "characterisation",
        {
            "measurement_id": measurement_key,
            "made_at": item.made_at.isoformat(),
            "made_with": item.made_with,
            "bench": item.bench,
            **figures_columns(item.figures),
        },
    )
    insert(
        connection,
        "detail",
        {
            "id": key,
            "settings": packed_text(item.settings),
            "document": packed_text(item.document),
            "curves": None if item.curves is None else packed_curves(item.curves),
        },
    )
    return key


def add_characterisation(lot_file: LotFile, measurement_key: int, item: Characterisation) -> None:
    """Add a new judging of a stored sweep; the earlier ones stay.

    Raises
    ------
    CatalogError
        If the file cannot be changed, or holds no such measurement.
    """
    with lot_file.changing() as connection:
        insert_characterisation(connection, measurement_key, item)


def add_characterisations(lot_file: LotFile, items: Iterable[tuple[int, Characterisation]]) -> None:
    """Add new judgings of stored sweeps, by the keys of their measurements: all, or none.

    Raises
    ------
    CatalogError
        If the file cannot be changed, or holds no such measurement.
    """
    with lot_file.changing() as connection:
        for measurement_key, item in items:
            insert_characterisation(connection, measurement_key, item)


def take_back_characterisations(
    lot_file: LotFile, items: Iterable[tuple[int, Characterisation]]
) -> None:
    """Remove the newest judgings of some measurements; those before hold again: all, or none.

    Raises
    ------
    CatalogError
        If one of them is not the newest, or the file cannot be changed.
    """
    with lot_file.changing() as connection:
        for measurement_key, item in items:
            row = connection.execute(
                "SELECT max(id) AS id, made_at FROM characterisation WHERE measurement_id = ?",
                (measurement_key,),
            ).fetchone()
            if row["made_at"] != item.made_at.isoformat():
                raise CatalogError(
                    str(lot_file.path),
                    "it cannot be taken back: the tube has been judged again since",
                )
            connection.execute("DELETE FROM detail WHERE id = ?", (row["id"],))
            connection.execute("DELETE FROM characterisation WHERE id = ?", (row["id"],))


def measurement_keys(
    lot_file: LotFile, sha256: str
) -> tuple[tuple[int, str, str | None, str], ...]:
    """Return (key, name in the file, section, kind) of what a source holds, in its order."""
    found = lot_file.rows(
        "SELECT m.id, m.named, m.section, m.kind FROM measurement m "
        "JOIN source s ON s.id = m.source_id WHERE s.sha256 = ? ORDER BY m.id",
        (sha256,),
    )
    return tuple((row["id"], row["named"], row["section"], row["kind"]) for row in found)


def characterisation_of(row: sqlite3.Row) -> Characterisation:
    """Return the judging of a row of ``characterisation`` joined with ``detail``."""
    return Characterisation(
        made_at=datetime.fromisoformat(row["made_at"]),
        made_with=row["made_with"],
        bench=row["bench"],
        settings=unpacked_text(row["settings"]),
        figures=figures_of(row),
        document=unpacked_text(row["document"]),
        curves=None if row["curves"] is None else unpacked_curves(row["curves"]),
    )


def documents(lot_file: LotFile, keys: Iterable[int]) -> dict[int, str]:
    """Return the JSON of characterisations by their keys."""
    with understood(lot_file.path):
        return {
            row["id"]: unpacked_text(row["document"])
            for row in _details(lot_file, "document", tuple(keys))
        }


def curve_grids(lot_file: LotFile, keys: Iterable[int]) -> dict[int, CurveGrid]:
    """Return the curves of characterisations by their keys; those without any are left out."""
    with understood(lot_file.path):
        return {
            row["id"]: unpacked_curves(row["curves"])
            for row in _details(lot_file, "curves", tuple(keys))
            if row["curves"] is not None
        }


def settings_used(lot_file: LotFile, keys: Iterable[int]) -> dict[int, str]:
    """Return how characterisations were judged, as JSON, by their keys."""
    with understood(lot_file.path):
        return {
            row["id"]: unpacked_text(row["settings"])
            for row in _details(lot_file, "settings", tuple(keys))
        }


def newest_settings(lot_file: LotFile) -> dict[str, str]:
    """Return how each source was judged last, as JSON, by its SHA-256."""
    found = lot_file.rows(
        "SELECT s.sha256, max(c.id) AS id FROM source s JOIN measurement m ON m.source_id = s.id "
        "JOIN characterisation c ON c.measurement_id = m.id GROUP BY s.id"
    )
    keys = {row["sha256"]: row["id"] for row in found}
    texts = settings_used(lot_file, keys.values())
    return {sha256: texts[key] for sha256, key in keys.items()}


def tests_beside(lot_file: LotFile, tube_key: int) -> tuple[StoredTest, ...]:
    """Return the tests under a changed set-up that go with the usual sweeps of a tube today.

    A test goes with the usual sweep of its section that was the newest when it was filed, or
    that was filed with it.
    """
    found = lot_file.rows(
        """
        SELECT max(c.id) AS id, m.named, m.section, s.sha256
        FROM measurement m
        JOIN characterisation c ON c.measurement_id = m.id
        JOIN source s ON s.id = m.source_id
        WHERE m.tube_id = ? AND m.set_up IS NOT NULL AND m.id > ifnull((
            SELECT max(o.id) FROM measurement o
            WHERE o.tube_id = m.tube_id AND o.section IS m.section AND o.kind = m.kind
            AND o.set_up IS NULL AND o.id < (
                SELECT max(u.id) FROM measurement u
                WHERE u.tube_id = m.tube_id AND u.section IS m.section AND u.kind = m.kind
                AND u.set_up IS NULL)), 0)
        GROUP BY m.id ORDER BY m.id
        """,
        (tube_key,),
    )
    return tuple(
        StoredTest(row["id"], row["named"], row["section"], row["sha256"]) for row in found
    )


def _details(lot_file: LotFile, column: str, keys: tuple[int, ...]) -> Iterator[sqlite3.Row]:
    for first in range(0, len(keys), _AT_ONCE):
        part = keys[first : first + _AT_ONCE]
        places = ", ".join("?" * len(part))
        yield from lot_file.rows(f"SELECT id, {column} FROM detail WHERE id IN ({places})", part)


def stored_sources(lot_file: LotFile, hashes: Iterable[str] | None = None) -> Iterator[SourceFile]:
    """Yield files with their original bytes, checked against their SHA-256.

    Parameters
    ----------
    hashes : iterable of str, optional
        Which; all of them by default. One whose bytes a salvage lost comes without any.

    Raises
    ------
    CatalogDamagedError
        If the bytes are not those that were stored.
    """
    if hashes is None:
        hashes = [row["sha256"] for row in lot_file.rows("SELECT sha256 FROM source ORDER BY id")]
    for sha256 in dict.fromkeys(hashes):
        for row in lot_file.rows("SELECT name, content FROM source WHERE sha256 = ?", (sha256,)):
            yield _checked(lot_file, row, sha256)


def _checked(lot_file: LotFile, row: sqlite3.Row, sha256: str) -> SourceFile:
    content, lost = b"", row["content"] is None
    if not lost:
        with suppress(zlib.error):
            content = zlib.decompress(row["content"])
    if not lost and hashlib.sha256(content).hexdigest() != sha256:
        raise CatalogDamagedError(
            str(lot_file.path), f"the stored bytes of {row['name']} are no longer those of the file"
        )
    return SourceFile(name=row["name"], path=row["name"], sha256=sha256, content=content)


def sources_of(lot_file: LotFile, tube_keys: Iterable[int]) -> tuple[str, ...]:
    """Return the SHA-256 of every source that holds one of some tubes, oldest first."""
    wanted = set(tube_keys)
    found = lot_file.rows(
        "SELECT DISTINCT s.id, s.sha256, m.tube_id FROM source s "
        "JOIN measurement m ON m.source_id = s.id ORDER BY s.id"
    )
    return tuple(dict.fromkeys(row["sha256"] for row in found if row["tube_id"] in wanted))
