"""Saving what can still be read of a damaged lot file, row by row, and saying what is lost."""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from curvelab.catalog.curve_codec import unpacked_curves, unpacked_text
from curvelab.catalog.faults import plainly
from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.catalog.rows import insert
from curvelab.catalog.schema import TABLES, VERSION
from curvelab.errors import CatalogDamagedError, CatalogError, CatalogVersionError

__all__ = ["Salvaged", "salvage"]

Row = dict[str, object]
Tables = dict[str, dict[int, Row]]
SourceOf = Callable[[str], tuple[str, str] | None]

_HIGHEST = 1 << 20  # rows looked for where the file no longer says how many there were
_BLOCK = 1024  # ids that are tried at once where the end is not known
_LOST_HASH = "lost-{}"


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What was saved.

    Attributes
    ----------
    kept : mapping of str to int
        Rows by table.
    lost : tuple of str
        What is gone or incomplete, a sentence each; empty where nothing is.
    """

    kept: Mapping[str, int]
    lost: tuple[str, ...]


def salvage(damaged: Path, target: Path, source_of: SourceOf) -> Salvaged:
    """Copy every readable row into a new lot file; the damaged one is only read.

    Parameters
    ----------
    source_of : callable
        Name and SHA-256 of the file that a result document came from, or None; so that a
        lost source is known again when it is added once more.

    Raises
    ------
    CatalogDamagedError
        If not even its list of tables can be read.
    CatalogVersionError
        If a later version of the program made it.
    CatalogError
        If the new file cannot be made.
    """
    if not damaged.is_file():
        raise CatalogError(str(damaged), "there is no file of this name")
    lost: list[str] = []
    tables = _read(damaged, lost)
    _check_details(tables, lost)
    _check_sources(tables, lost)
    create_lot(target)
    try:
        with open_lot(target, write=True) as opened:
            # The new file is of no use before all of it is there.
            with opened.changing() as connection:
                kept = _Rebuilding(connection, tables, source_of, lost).run()
    except BaseException:
        target.unlink(missing_ok=True)
        raise
    return Salvaged(kept, tuple(lost))


def _read(damaged: Path, lost: list[str]) -> Tables:
    tables: Tables = {}
    with plainly(damaged), closing(_opened(damaged)) as connection:
        try:
            version = int(connection.execute("PRAGMA user_version").fetchone()[0])
            there = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        except sqlite3.DatabaseError as error:
            raise CatalogDamagedError(
                str(damaged), "not even its list of tables can be read; " + _backups(damaged)
            ) from error
        if version > VERSION:
            raise CatalogVersionError(
                str(damaged), "a newer curvelab made it; salvage it with that"
            )
        counts = _counts(connection)
        for table in TABLES:
            tables[table] = {}
            if table not in there:
                continue
            highest = _highest(connection, table, counts)
            if highest is None:
                tables[table], missing = _as_far_as_readable(connection, table)
                lost += _words_for(table, missing)
                name = table.replace("_", " ")
                lost.append(f"{name}: its table is damaged; how many there were is not known")
                continue
            missing = []
            for key, row in _rows(connection, table, 1, highest):
                if row is None:
                    missing.append(key)
                else:
                    tables[table][key] = row
            lost += _words_for(table, missing)
    return tables


def _as_far_as_readable(
    connection: sqlite3.Connection, table: str
) -> tuple[dict[int, Row], list[int]]:
    """Return the rows of a table whose end is not known, and the ids between that are lost.

    It is read block by block until there is one of which nothing can be read.
    """
    rows: dict[int, Row] = {}
    missing: list[int] = []
    for first in range(1, _HIGHEST, _BLOCK):
        found = list(_rows(connection, table, first, first + _BLOCK - 1))
        read = {key: row for key, row in found if row is not None}
        if not read:
            break
        rows |= read
        missing += [key for key, row in found if row is None]
    last = max(rows, default=0)
    return rows, [key for key in missing if key < last]


def _words_for(table: str, keys: Sequence[int]) -> Iterator[str]:
    """Yield what cannot be read, keys that follow one another together."""
    name = table.replace("_", " ")
    for _, members in groupby(enumerate(keys), key=lambda pair: pair[1] - pair[0]):
        run = [key for _, key in members]
        which = f"{run[0]}" if len(run) == 1 else f"{run[0]} to {run[-1]}"
        yield f"{name} {which} cannot be read"


def _opened(path: Path) -> sqlite3.Connection:
    address = f"{path.absolute().as_uri()}?mode=ro"
    connection = sqlite3.connect(address, uri=True, isolation_level=None)
    connection.row_factory = sqlite3.Row
    return connection


def _backups(path: Path) -> str:
    found = sorted(item.name for item in path.parent.glob(f"{path.name}.form-*.backup"))
    return f"beside it lie older copies: {', '.join(found)}" if found else "no copy lies beside it"


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    """Return the highest id that each table has given out, as far as that is known."""
    counts: dict[str, int] = {}
    with suppress(sqlite3.DatabaseError):
        for row in connection.execute("SELECT name, seq FROM sqlite_sequence"):
            counts[row["name"]] = int(row["seq"])
    return counts


def _highest(connection: sqlite3.Connection, table: str, counts: Mapping[str, int]) -> int | None:
    """Return the highest id that a table may hold; None where nobody knows."""
    known = counts.get("characterisation" if table == "detail" else table)
    if known is not None:
        return min(known, _HIGHEST)
    try:
        return int(connection.execute(f"SELECT ifnull(max(id), 0) FROM {table}").fetchone()[0])
    except sqlite3.DatabaseError:
        return None


def _rows(
    connection: sqlite3.Connection, table: str, first: int, last: int
) -> Iterator[tuple[int, Row | None]]:
    """Yield rows by id; a range that cannot be read is halved down to the rows at fault."""
    if first > last:
        return
    try:
        found = connection.execute(
            f"SELECT * FROM {table} WHERE id BETWEEN ? AND ? ORDER BY id", (first, last)
        ).fetchall()
    except sqlite3.DatabaseError:
        if first == last:
            yield first, None
            return
        middle = (first + last) // 2
        yield from _rows(connection, table, first, middle)
        yield from _rows(connection, table, middle + 1, last)
        return
    for row in found:
        yield row["id"], dict(row)


def _check_details(tables: Tables, lost: list[str]) -> None:
    """Drop details that do not unpack, and judgings without their details."""
    for key, row in list(tables["detail"].items()):
        try:
            unpacked_text(row["document"])  # type: ignore[arg-type]
            unpacked_text(row["settings"])  # type: ignore[arg-type]
        except (zlib.error, UnicodeDecodeError, TypeError):
            del tables["detail"][key]
            continue
        try:
            if row["curves"] is not None:
                unpacked_curves(row["curves"])  # type: ignore[arg-type]
        except (zlib.error, ValueError, TypeError):
            row["curves"] = None
            lost.append(f"the curves of characterisation {key} are damaged")
    for key in set(tables["characterisation"]) - set(tables["detail"]):
        del tables["characterisation"][key]
        lost.append(f"characterisation {key} has lost its document; judge its file again")


def _check_sources(tables: Tables, lost: list[str]) -> None:
    for row in tables["source"].values():
        if row["content"] is None:
            continue
        content = b""
        with suppress(zlib.error, TypeError):
            content = zlib.decompress(row["content"])  # type: ignore[arg-type]
        if hashlib.sha256(content).hexdigest() != row["sha256"]:
            row["content"] = None
            lost.append(f"the bytes of {row['name']} are damaged; add the file again")


class _Rebuilding:
    """Puts rows into a new file, parents first, with a stand-in for a parent that is lost."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        tables: Tables,
        source_of: SourceOf,
        lost: list[str],
    ) -> None:
        self._connection = connection
        self._tables = tables
        self._source_of = source_of
        self._lost = lost

    def run(self) -> dict[str, int]:
        """Insert every row that can be, and return how many of each table."""
        for key, row in self._tables["measurement"].items():
            self._stand_in(key, row)
        kept = dict.fromkeys(TABLES, 0)
        for table, parents in TABLES.items():
            for key, row in list(self._tables[table].items()):
                missing = [p for column, p in parents.items() if row[column] not in self._tables[p]]
                if missing or not self._inserted(table, row):
                    del self._tables[table][key]
                    why = (
                        f"the {missing[0].replace('_', ' ')} it belongs to" if missing else "sense"
                    )
                    self._lost.append(f"{table.replace('_', ' ')} {key} lacks {why}")
                    continue
                kept[table] += 1
        return kept

    def _inserted(self, table: str, row: Row) -> bool:
        try:
            insert(self._connection, table, row)
        except sqlite3.IntegrityError:
            return False
        return True

    def _stand_in(self, key: int, row: Row) -> None:
        """Make the tube and the source of a measurement where they are lost."""
        tube, source = row["tube_id"], row["source_id"]
        if isinstance(tube, int) and tube not in self._tables["tube"]:
            serials = {item["serial"] for item in self._tables["tube"].values()}
            serial = row["named"] if row["named"] not in serials else f"{row['named']} ({tube})"
            self._tables["tube"][tube] = {"id": tube, "serial": serial}
            self._lost.append(f"of tube {tube} only its name {serial} and its tests are left")
        if isinstance(source, int) and source not in self._tables["source"]:
            name, sha256 = self._known_source(key) or ("lost", _LOST_HASH.format(source))
            fresh: Row = {"id": source, "sha256": sha256, "name": name, "content": None}
            self._tables["source"][source] = fresh
            self._lost.append(f"the bytes of {name} are lost; add the file again")

    def _known_source(self, measurement: int) -> tuple[str, str] | None:
        for key, row in self._tables["characterisation"].items():
            if row["measurement_id"] == measurement:
                text = unpacked_text(self._tables["detail"][key]["document"])  # type: ignore[arg-type]
                return self._source_of(text)
        return None
