"""The tubes of a lot file: which is which, and what the house knows of them."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import fields

from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import TubeIdentity
from curvelab.catalog.rows import identity_columns, identity_of, insert
from curvelab.errors import CatalogError, UnknownTubeError

__all__ = [
    "AmbiguousTube",
    "change_tube",
    "find_tube",
    "key_of",
    "named_with_lot",
    "take_in_tube",
]

_NO_LOT = "no lot"
_NAMED = re.compile(r"(.*) \((.*)\)")


class AmbiguousTube(Exception):  # noqa: N818 - a question to the caller, not a failure
    """A serial that stands in several lots of the file.

    Parameters
    ----------
    lots : tuple of str
        The lots that have it.
    """

    def __init__(self, serial: str, lots: tuple[str, ...]) -> None:
        self.lots = lots
        named = ", ".join(repr(lot) for lot in lots)
        super().__init__(f"{serial} stands in the lots {named}: say which one is meant")


def key_of(connection: sqlite3.Connection, serial: str, lot: str | None) -> int | None:
    """Return the key of a tube, or None; without a lot the one tube of that serial.

    Raises
    ------
    AmbiguousTube
        If no lot is named and several have such a tube.
    """
    found = connection.execute(
        "SELECT id, lot FROM tube WHERE serial = ? ORDER BY lot", (serial,)
    ).fetchall()
    if lot is not None:
        return next((int(row["id"]) for row in found if row["lot"] == lot), None)
    if len(found) > 1:
        raise AmbiguousTube(serial, tuple(row["lot"] for row in found))
    return int(found[0]["id"]) if found else None


def named_with_lot(serial: str, lot: str) -> str:
    """Return what a tube is called where other lots hold its serial too."""
    return f"{serial} ({lot or _NO_LOT})"


def find_tube(lot_file: LotFile, serial: str, lot: str | None = None) -> tuple[int, TubeIdentity]:
    """Return key and identity of a tube.

    Parameters
    ----------
    serial : str
        Its serial, or its name as `named_with_lot` makes it.

    Raises
    ------
    UnknownTubeError
        If there is no such tube, or several lots have one and none was named.
    """
    try:
        key = key_of(lot_file.connection, serial, lot)
    except AmbiguousTube as error:
        raise UnknownTubeError(str(lot_file.path), str(error)) from error
    if key is None and lot is None and (named := _NAMED.fullmatch(serial)):
        held = "" if named[2] == _NO_LOT else named[2]
        key = key_of(lot_file.connection, named[1], held)
    if key is None:
        where = f" of lot {lot!r}" if lot else ""
        raise UnknownTubeError(str(lot_file.path), f"it holds no tube {serial!r}{where}")
    (row,) = lot_file.rows("SELECT * FROM tube WHERE id = ?", (key,))
    return key, identity_of(row)


def take_in_tube(
    connection: sqlite3.Connection, identity: TubeIdentity, lot: str | None
) -> tuple[int, TubeIdentity]:
    """Return key and identity of a tube, entered now if it is new.

    What is known of an old tube stays; what was not known is filled in.

    Parameters
    ----------
    lot : str or None
        The lot that was asked for; None for whichever has a tube of this serial, and
        ``identity.lot`` where none has.

    Raises
    ------
    AmbiguousTube
        If no lot was asked for and several have such a tube.
    """
    key = key_of(connection, identity.serial, lot)
    if key is None:
        return insert(connection, "tube", identity_columns(identity)), identity
    row = _row(connection, key)
    missing = {
        name: value
        for name, value in identity_columns(identity).items()
        if value is not None and row[name] is None
    }
    _update(connection, key, missing)
    return key, identity_of(_row(connection, key))


def change_tube(lot_file: LotFile, key: int, identity: TubeIdentity) -> None:
    """Put what is now known of a tube in the place of what was.

    Raises
    ------
    CatalogError
        If another tube has that serial and lot, or there is no tube of this key.
    """
    columns = identity_columns(identity)
    with lot_file.changing() as connection:
        taken = key_of(connection, identity.serial, identity.lot)
        if taken not in (None, key):
            raise CatalogError(
                str(lot_file.path), f"another tube is {identity.serial!r} of lot {identity.lot!r}"
            )
        if not _update(connection, key, columns):
            raise CatalogError(str(lot_file.path), f"it holds no tube of key {key}")


def _row(connection: sqlite3.Connection, key: int) -> sqlite3.Row:
    row: sqlite3.Row = connection.execute("SELECT * FROM tube WHERE id = ?", (key,)).fetchone()
    return row


def _update(connection: sqlite3.Connection, key: int, columns: dict[str, object]) -> int:
    if not columns:
        return 0
    assert set(columns) <= {item.name for item in fields(TubeIdentity)}
    assignments = ", ".join(f"{name} = ?" for name in columns)
    cursor = connection.execute(
        f"UPDATE tube SET {assignments} WHERE id = ?", (*columns.values(), key)
    )
    return cursor.rowcount
