"""From a path to the lines of a text file, whatever its encoding and line ends."""

from __future__ import annotations

import codecs
import hashlib
import stat
from pathlib import Path
from types import MappingProxyType

from curvelab.errors import SweepFileError
from curvelab.sweep.records import SourceFile

__all__ = ["ENCODINGS", "MAX_BYTES", "decode", "load", "split_lines"]

# A family of curves is some ten kilobytes, a day's log at ten readings a second 25 MB.
# A file of this size takes 0.5 GB and 2 s to read, or 2 GB if not one of its rows is clean.
MAX_BYTES = 32 * 1024 * 1024

# What a person may choose, by the name that is shown, and how Python calls it.
ENCODINGS = MappingProxyType(
    {
        "UTF-8": "utf-8",
        "cp1252": "cp1252",
        "cp1250": "cp1250",
        "cp1251": "cp1251",
        "cp850": "cp850",
        "cp437": "cp437",
        "ISO 8859-15": "iso8859-15",
        "Mac Roman": "mac_roman",
    }
)

_CONTROL = bytes(code for code in range(32) if code not in b"\t\n\r\f\x1a") + b"\x7f"
_CONTROL_SHARE = 0.005
_PROBE = 4096


def load(path: Path, max_bytes: int = MAX_BYTES) -> SourceFile:
    """Read a regular file whole.

    Raises
    ------
    SweepFileError
        If it is missing, not a regular file, larger than ``max_bytes`` or not readable.
    """
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise SweepFileError(str(path), "this is a folder, not a file")
        if not stat.S_ISREG(status.st_mode):
            raise SweepFileError(str(path), "this is a device or pipe, not a regular file")
        with path.open("rb") as file:
            # One byte more than allowed, in case the file has grown since.
            content = file.read(max_bytes + 1) if status.st_size <= max_bytes else b""
    except (OSError, ValueError) as error:
        if isinstance(error, SweepFileError):
            raise
        raise SweepFileError(str(path), _why_not(error)) from error
    size = max(status.st_size, len(content))
    if size > max_bytes:
        raise SweepFileError(
            str(path),
            f"the file holds {size / 1e6:.4g} MB; "
            f"a sweep file is read up to {max_bytes / 1e6:.4g} MB",
        )
    return SourceFile(
        name=path.name,
        path=str(path),
        sha256=hashlib.sha256(content).hexdigest(),
        content=content,
    )


def _why_not(error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    if isinstance(error, PermissionError):
        return "the file may not be read: permission is refused"
    reason = getattr(error, "strerror", None) or "its name is not a valid one"
    return f"the file cannot be opened: {reason}"


def decode(source: SourceFile, chosen: str | None = None) -> tuple[str, str]:
    """Return the text of a file and the name of its encoding.

    A byte-order mark decides, then UTF-16's regular zero bytes, then a ``chosen`` one of
    `ENCODINGS`; otherwise UTF-8 is known by its strictness, and what is not is cp1252.

    Raises
    ------
    SweepFileError
        If the file is empty or is no text.
    """
    content = source.content
    if not content.strip():
        raise SweepFileError(source.path, "the file is empty")
    encoding = _utf16(content)
    if encoding is not None:
        text = content.decode(encoding, errors="replace").removeprefix("\ufeff")
        name = "UTF-16"
    elif _is_binary(content):
        raise SweepFileError(source.path, "the file holds binary data, not text")
    else:
        text, name = _decode_bytes(content, chosen)
    if not text.strip("\x1a \t\r\n\ufeff"):
        raise SweepFileError(source.path, "the file is empty")
    if "\0" in text:
        raise SweepFileError(source.path, "the file holds binary data, not text")
    return text, name


def _decode_bytes(content: bytes, chosen: str | None) -> tuple[str, str]:
    if chosen is not None and not content.startswith(codecs.BOM_UTF8):
        return content.decode(ENCODINGS[chosen], errors="replace"), chosen
    try:
        return content.removeprefix(codecs.BOM_UTF8).decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace"), "cp1252"


def _utf16(content: bytes) -> str | None:
    if content.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if content.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    probe = content[:_PROBE]
    half = len(probe) // 2
    even, odd = probe[0::2].count(0), probe[1::2].count(0)
    if half and odd > 0.7 * half and even < 0.05 * half:
        return "utf-16-le"
    if half and even > 0.7 * half and odd < 0.05 * half:
        return "utf-16-be"
    return None


def _is_binary(content: bytes) -> bool:
    control = len(content) - len(content.translate(None, _CONTROL))
    return b"\0" in content or control > _CONTROL_SHARE * len(content)


def split_lines(text: str) -> list[str]:
    """Split at CRLF, LF and a lone CR, and at nothing else.

    ``str.splitlines`` would also split at form feeds and Unicode separators, and the
    line numbers would no longer be those of an editor.
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.rstrip("\x1a").split("\n")
