"""One lot file, open: how it is made, opened, checked, changed and closed."""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from types import TracebackType

from curvelab.catalog.faults import BUSY_SECONDS, plainly
from curvelab.catalog.migration import bring_up
from curvelab.catalog.schema import APPLICATION_ID, VERSION
from curvelab.errors import CatalogDamagedError, CatalogError, CatalogVersionError

__all__ = ["LotFile", "create_lot", "open_lot"]

_DAMAGED = (
    "the file is damaged ({}); keep a copy of it as it is, then 'curvelab lot create NEW "
    "--salvage FILE' saves what can be read and lists what is lost"
)


class LotFile:
    """An open lot file; made by `open_lot` and closed as a context manager.

    Attributes
    ----------
    path : Path
        As the user named it.
    writable : bool
        Whether it may be changed.
    newer : bool
        Whether a later version of the program made it; such a file is only read.
    connection : sqlite3.Connection
        For the modules of this room alone.
    """

    def __init__(
        self, path: Path, connection: sqlite3.Connection, *, writable: bool, newer: bool = False
    ) -> None:
        self.path = path
        self.writable = writable
        self.newer = newer
        self.connection = connection

    def __enter__(self) -> LotFile:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was changed is in it already."""
        with suppress(sqlite3.Error):  # a share that is gone by now loses nothing any more
            self.connection.close()

    def rows(self, statement: str, values: Sequence[object] = ()) -> list[sqlite3.Row]:
        """Return what a query finds.

        Raises
        ------
        CatalogError
            If the file cannot be read.
        """
        with plainly(self.path):
            return self.connection.execute(statement, values).fetchall()

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Hold one state of the file over several queries, whoever else writes meanwhile."""
        with plainly(self.path):
            self.connection.execute("BEGIN")
            try:
                yield
            finally:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")

    @contextmanager
    def changing(self) -> Iterator[sqlite3.Connection]:
        """Change the file: all that is done within, or nothing of it.

        Raises
        ------
        CatalogError
            If it may not be written, or cannot be.
        """
        if not self.writable:
            raise CatalogError(str(self.path), "the file was opened for reading only")
        with plainly(self.path):
            # At once the one writer there is: a lock taken later could find others' changes.
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield self.connection
                self.connection.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self.connection.execute("ROLLBACK")
                raise


def create_lot(path: Path) -> None:
    """Make an empty lot file; it is whole from the moment it bears its name.

    Raises
    ------
    CatalogError
        If something of that name is there, or it cannot be written.
    """
    if path.exists() or path.is_symlink():
        raise CatalogError(str(path), "there is a file of this name already")
    draft = path.with_name(f".{path.name}.{secrets.token_hex(6)}.part")
    try:
        with plainly(path):
            with closing(_connect(draft, "rwc")) as connection:
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute("PRAGMA journal_mode = WAL")
                bring_up(connection, draft, backup=False)
            _name(draft, path)
    finally:
        with suppress(OSError):
            draft.unlink(missing_ok=True)


def _name(draft: Path, path: Path) -> None:
    """Give the finished file its name, unless another has taken it meanwhile."""
    try:
        os.link(draft, path)
    except FileExistsError as error:
        raise CatalogError(str(path), "there is a file of this name already") from error
    except OSError:  # a file system without links
        draft.rename(path)


def open_lot(path: Path, *, write: bool) -> LotFile:
    """Open a lot file; one of an older version is brought up first, with a copy kept beside.

    Raises
    ------
    CatalogError
        If it is missing or cannot be opened.
    CatalogVersionError
        If a later version of the program made it and it was to be written; or it is older
        and cannot be brought up where it stands.
    CatalogDamagedError
        If it is broken, or no lot file.
    """
    if not path.is_file():
        what = "this is no file" if path.exists() else "there is no lot file of this name"
        raise CatalogError(str(path), f"{what} ('curvelab lot create FILE' makes one)")
    with plainly(path):
        connection = _open(path, write)
        try:
            version = _check(path, connection)
            if version > VERSION and write:
                raise CatalogVersionError(
                    str(path),
                    f"a newer curvelab made it (form {version}, this one knows {VERSION}); it "
                    "can be read here, and changed with the newer program only",
                )
            if version < VERSION:
                _bring_up(path, connection, write)
        except BaseException:
            connection.close()
            raise
    return LotFile(path, connection, writable=write, newer=version > VERSION)


def _open(path: Path, write: bool) -> sqlite3.Connection:
    """Return a connection that answers."""
    try:
        connection = _connect(path, "rw")
    except sqlite3.OperationalError:
        log = path.with_name(f"{path.name}-wal")
        if write or (log.exists() and log.stat().st_size):
            raise
        # A folder that may not be written lacks room for the log, and needs none.
        return _connect(path, "ro&immutable=1")
    if not write:
        connection.execute("PRAGMA query_only = ON")
    return connection


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    address = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(
        address, uri=True, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False
    )
    connection.row_factory = sqlite3.Row
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")  # saved means on the disk
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _check(path: Path, connection: sqlite3.Connection) -> int:
    """Return the version of a sound lot file."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if mark != APPLICATION_ID or version < 1:
        raise CatalogDamagedError(str(path), "this is a database, but no lot file")
    told = [row[0] for row in connection.execute("PRAGMA quick_check(3)")]
    if told != ["ok"]:
        raise CatalogDamagedError(str(path), _DAMAGED.format("; ".join(told).splitlines()[-1]))
    if connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise CatalogDamagedError(str(path), _DAMAGED.format("parts of it are missing"))
    return version


def _bring_up(path: Path, connection: sqlite3.Connection, write: bool) -> None:
    try:
        connection.execute("PRAGMA query_only = OFF")
        bring_up(connection, path)
        connection.execute(f"PRAGMA query_only = {'OFF' if write else 'ON'}")
    except (sqlite3.Error, OSError) as error:
        raise CatalogVersionError(
            str(path),
            "an older curvelab made it, and it cannot be brought up to this one where it stands "
            f"({error}); copy it to a folder that may be written",
        ) from error
