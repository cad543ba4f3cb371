"""From what the database says went wrong to what a person can do about it."""

from __future__ import annotations

import sqlite3
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from curvelab.errors import CatalogDamagedError, CatalogError, CurvelabError

__all__ = ["BUSY_SECONDS", "plainly", "understood"]

BUSY_SECONDS = 10.0

_FULL = "the disk is full; nothing of this change was kept, and all that was in the file still is"
_UNWRITABLE = (
    "it may not be written: the file, its folder or the disk is read-only, or permission is "
    "refused; nothing was changed"
)
_BUSY = (
    f"another program has been writing to it for more than {BUSY_SECONDS:.0f} s; nothing was "
    "changed, try again"
)
_GONE = (
    "its disk or network share does not answer, or allows no more to be written; what was saved "
    "before is not touched by this"
)
_DAMAGED = (
    "the file is damaged; keep a copy of it as it is, then 'curvelab lot create NEW --salvage "
    "FILE' saves what can be read and lists what is lost"
)
_NO_LOT = "this is no lot file"
_WORDS = {
    "SQLITE_FULL": _FULL,
    "SQLITE_READONLY": _UNWRITABLE,
    "SQLITE_CANTOPEN": _UNWRITABLE,
    "SQLITE_PERM": _UNWRITABLE,
    "SQLITE_BUSY": _BUSY,
    "SQLITE_LOCKED": _BUSY,
    "SQLITE_PROTOCOL": _BUSY,
    "SQLITE_IOERR": _GONE,
}


@contextmanager
def plainly(path: Path) -> Iterator[None]:
    """Turn what the database or the disk raises within into a `CatalogError` about ``path``.

    Raises
    ------
    CatalogDamagedError
        If the content of the file is broken, or it is no database.
    CatalogError
        For anything else that keeps the file from being read or written.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _worded(path, error) from error
    except OSError as error:
        raise CatalogError(str(path), error.strerror or str(error)) from error


@contextmanager
def understood(path: Path) -> Iterator[None]:
    """Turn a row within that makes no sense to this version into a `CatalogDamagedError`."""
    try:
        yield
    except (IndexError, KeyError, ValueError, ArithmeticError, zlib.error, struct.error) as error:
        if isinstance(error, CurvelabError):
            raise
        raise CatalogDamagedError(
            str(path),
            f"it holds what this version does not understand ({error}): a newer curvelab may have "
            "written to it, or it is damaged",
        ) from error


def _worded(path: Path, error: sqlite3.Error) -> CatalogError:
    name = getattr(error, "sqlite_errorname", "") or ""
    family = "_".join(name.split("_")[:2])  # SQLITE_IOERR_WRITE is an SQLITE_IOERR
    if family == "SQLITE_NOTADB":
        return CatalogDamagedError(str(path), _NO_LOT)
    if family == "SQLITE_CORRUPT":
        return CatalogDamagedError(str(path), _DAMAGED)
    known = _WORDS.get(family)
    return CatalogError(str(path), known or f"the lot file cannot be used ({error})")
