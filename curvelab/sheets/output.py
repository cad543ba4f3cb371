"""Writing a result so that a file is either the old one or the whole new one."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from curvelab.errors import OutputError

__all__ = ["make_folder", "write_output"]


def write_output(path: Path, content: bytes) -> None:
    """Write ``content`` beside ``path`` first, then put it in its place.

    A link stays a link to what is replaced; a device or pipe is written to, never replaced.

    Raises
    ------
    OutputError
        If the folder is missing or read-only, the disk is full, or the like.
    """
    try:
        target = path.resolve()
        if target.exists() and not target.is_file():
            target.write_bytes(content)
            return
        draft = target.with_name(f".{secrets.token_hex(6)}.part")
        try:
            draft.write_bytes(content)
            os.replace(draft, target)  # noqa: PTH105 - the name says that it replaces
        finally:
            draft.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"cannot write {path}: {_reason(error)}") from error


def make_folder(path: Path) -> None:
    """Make a folder, and those above it, unless it is there.

    Raises
    ------
    OutputError
        If it cannot be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"cannot make the folder {path}: {_reason(error)}") from error


def _reason(error: OSError) -> str:
    reason = error.strerror or str(error)
    return f"{reason[:1].lower()}{reason[1:]}"
