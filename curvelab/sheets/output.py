"""Writing a result so that a file is either the old one or the whole new one."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from curvelab.errors import OutputError

__all__ = ["write_output"]


def write_output(path: Path, content: bytes) -> None:
    """Write ``content`` beside ``path`` first, then put it in its place.

    Raises
    ------
    OutputError
        If the folder is missing or read-only, the disk is full, or the like.
    """
    draft = path.with_name(f".{secrets.token_hex(6)}.part")
    try:
        try:
            draft.write_bytes(content)
            os.replace(draft, path)  # noqa: PTH105 - the name says that it replaces
        finally:
            draft.unlink(missing_ok=True)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"cannot write {path}: {reason[:1].lower()}{reason[1:]}") from error
