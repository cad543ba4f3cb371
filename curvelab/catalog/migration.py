"""Bringing an older lot file up to this program's form, a copy kept first."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from curvelab.catalog.schema import STEPS, VERSION

__all__ = ["backup_path", "bring_up"]


def backup_path(path: Path, version: int) -> Path:
    """Return where the copy of a file of this version is kept."""
    return path.with_name(f"{path.name}.form-{version}.backup")


def bring_up(connection: sqlite3.Connection, path: Path, *, backup: bool = True) -> None:
    """Take every step that a file lacks, each whole or not at all.

    Parameters
    ----------
    connection : sqlite3.Connection
        In autocommit, allowed to write.
    backup : bool
        Whether each step is preceded by a copy of the file as it is.

    Raises
    ------
    sqlite3.Error, OSError
        If the file or the copy cannot be written.
    """
    while True:
        connection.execute("BEGIN IMMEDIATE")  # another program may be at it: look under the lock
        try:
            version = int(connection.execute("PRAGMA user_version").fetchone()[0])
            if version < VERSION:
                if backup:
                    _keep_copy(path, version)
                for statement in STEPS[version]:
                    connection.execute(statement)
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
        if version >= VERSION:
            return


def _keep_copy(path: Path, version: int) -> None:
    """Copy a file as last saved; the copy bears its name only once it is whole."""
    target = backup_path(path, version)
    draft = target.with_name(f".{target.name}.part")  # one at a time, under the lock
    draft.unlink(missing_ok=True)  # of a program that was killed here
    try:
        with (
            closing(sqlite3.connect(path)) as source,
            closing(sqlite3.connect(draft)) as copy,
        ):
            source.backup(copy)
        with draft.open("rb+") as file:
            os.fsync(file.fileno())
        draft.replace(target)
    finally:
        draft.unlink(missing_ok=True)
