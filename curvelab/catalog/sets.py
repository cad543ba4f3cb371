"""Sets of tubes that are kept together: locked, sold, or dissolved again."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import SetMember, SetState, TubeSet
from curvelab.catalog.rows import insert
from curvelab.catalog.tubes import key_of
from curvelab.errors import CatalogError

__all__ = [
    "change_set",
    "insert_set",
    "list_sets",
    "lock_sets",
    "take_back_change",
    "take_back_sets",
]

# What may become of a set; a sale that comes back is dissolved, tube by tube tested again.
_NEXT = {
    SetState.LOCKED: {SetState.SOLD, SetState.DISSOLVED},
    SetState.SOLD: {SetState.DISSOLVED},
    SetState.DISSOLVED: set(),
}


def lock_sets(lot_file: LotFile, tube_sets: Sequence[TubeSet]) -> None:
    """Keep the tubes of each set together under its name: all of the sets, or none.

    Raises
    ------
    CatalogError
        If a name is taken, a tube is not in the file or in another set, or the file
        cannot be changed.
    """
    with lot_file.changing() as connection:
        for tube_set in tube_sets:
            reason = insert_set(connection, tube_set)
            if reason is not None:
                raise CatalogError(str(lot_file.path), reason)


def insert_set(connection: sqlite3.Connection, tube_set: TubeSet) -> str | None:
    """Add a set; return why that cannot be, with nothing added, or None."""
    if not tube_set.name.strip():
        return "a set needs a name"
    if connection.execute("SELECT 1 FROM tube_set WHERE name = ?", (tube_set.name,)).fetchone():
        return f"there is a set {tube_set.name!r} already"
    released = tube_set.state is SetState.DISSOLVED
    keys = []
    for member in tube_set.members:
        key = key_of(connection, member.serial, member.lot)
        if key is None:
            return f"it holds no tube {member.serial!r} of lot {member.lot!r}"
        if not released and (other := _set_of(connection, key)) is not None:
            return f"{member.serial} is in the set {other!r}"
        keys.append(key)
    if not keys or len(set(keys)) < len(keys):
        return "a set needs tubes, each of them once"
    set_key = insert(
        connection,
        "tube_set",
        {
            "name": tube_set.name,
            "state": tube_set.state.value,
            "made_at": tube_set.made_at.isoformat(),
            "payload": tube_set.payload,
        },
    )
    for key, member in zip(keys, tube_set.members, strict=True):
        columns = {"set_id": set_key, "tube_id": key, "spare": int(member.spare)}
        insert(connection, "set_member", {**columns, "released": int(released)})
    return None


def _set_of(connection: sqlite3.Connection, tube_key: int) -> str | None:
    row = connection.execute(
        "SELECT t.name FROM set_member m JOIN tube_set t ON t.id = m.set_id "
        "WHERE m.tube_id = ? AND NOT m.released",
        (tube_key,),
    ).fetchone()
    return None if row is None else str(row["name"])


def change_set(lot_file: LotFile, name: str, state: SetState) -> None:
    """Mark a set as sold, or dissolve it so that its tubes are free again.

    Raises
    ------
    CatalogError
        If there is no such set, it cannot become that, or the file cannot be changed.
    """
    with lot_file.changing() as connection:
        row = connection.execute(
            "SELECT id, state FROM tube_set WHERE name = ?", (name,)
        ).fetchone()
        if row is None:
            raise CatalogError(str(lot_file.path), f"there is no set {name!r}")
        now = SetState(row["state"])
        if state not in _NEXT[now]:
            raise CatalogError(
                str(lot_file.path),
                f"the set {name!r} is {now.value} and cannot become {state.value}",
            )
        connection.execute("UPDATE tube_set SET state = ? WHERE id = ?", (state.value, row["id"]))
        if state is SetState.DISSOLVED:
            connection.execute("UPDATE set_member SET released = 1 WHERE set_id = ?", (row["id"],))


def take_back_sets(lot_file: LotFile, names: Sequence[str]) -> None:
    """Remove sets that were just locked, as if they never had been: all of them, or none.

    Raises
    ------
    CatalogError
        If one of them is not there or no longer locked, or the file cannot be changed.
    """
    with lot_file.changing() as connection:
        for name in names:
            key = _set_in_state(lot_file, connection, name, SetState.LOCKED)
            connection.execute("DELETE FROM set_member WHERE set_id = ?", (key,))
            connection.execute("DELETE FROM tube_set WHERE id = ?", (key,))


def take_back_change(lot_file: LotFile, name: str, now: SetState, before: SetState) -> None:
    """Give a set the state back that it had before it became what it is now.

    Raises
    ------
    CatalogError
        If it is not there or has become something else since, one of its tubes is in another
        set, or the file cannot be changed.
    """
    with lot_file.changing() as connection:
        key = _set_in_state(lot_file, connection, name, now)
        for row in connection.execute("SELECT tube_id FROM set_member WHERE set_id = ?", (key,)):
            other = _set_of(connection, row["tube_id"])
            if other not in (None, name):
                reason = f"a tube of the set {name!r} is in the set {other!r} by now"
                raise CatalogError(str(lot_file.path), reason)
        connection.execute("UPDATE tube_set SET state = ? WHERE id = ?", (before.value, key))
        released = int(before is SetState.DISSOLVED)
        connection.execute("UPDATE set_member SET released = ? WHERE set_id = ?", (released, key))


def _set_in_state(
    lot_file: LotFile, connection: sqlite3.Connection, name: str, state: SetState
) -> int:
    row = connection.execute("SELECT id, state FROM tube_set WHERE name = ?", (name,)).fetchone()
    if row is None or row["state"] != state.value:
        found = "is not there" if row is None else f"is {row['state']}"
        reason = f"the set {name!r} {found} by now; nothing was taken back"
        raise CatalogError(str(lot_file.path), reason)
    return int(row["id"])


def list_sets(lot_file: LotFile) -> tuple[TubeSet, ...]:
    """Return every set there ever was, oldest first."""
    members: defaultdict[int, list[SetMember]] = defaultdict(list)
    for row in lot_file.rows(
        "SELECT m.set_id, m.spare, t.serial, t.lot FROM set_member m "
        "JOIN tube t ON t.id = m.tube_id ORDER BY m.id"
    ):
        member = SetMember(row["serial"], row["lot"], bool(row["spare"]))
        members[row["set_id"]].append(member)
    return tuple(
        TubeSet(
            name=row["name"],
            state=SetState(row["state"]),
            members=tuple(members[row["id"]]),
            made_at=datetime.fromisoformat(row["made_at"]),
            payload=row["payload"],
        )
        for row in lot_file.rows("SELECT * FROM tube_set ORDER BY id")
    )
