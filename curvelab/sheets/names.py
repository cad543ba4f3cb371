"""File names for tubes: safe on every system, and never the same for two tubes."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection

__all__ = ["safe_file_stem"]

_LONGEST = 80  # bytes in UTF-8: leaves room for a number, a suffix and a deep folder
# Device names that Windows reserves in every folder, with any suffix.
_RESERVED = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$"]
    + [f"{port}{number}" for port in ("com", "lpt") for number in range(10)]
)


def safe_file_stem(tube: str, section: str | None, used: Collection[str] = ()) -> str:
    """Return a file name without suffix for one tube or section.

    Only letters, digits, hyphen and underscore are kept, so that no name out of a file can
    become a path, a hidden file or a device.

    Parameters
    ----------
    used : collection of str
        Stems already given out, which the new one differs from even where upper and lower
        case are one.
    """
    stem = _cleaned(tube) if section is None else f"{_cleaned(tube)}_section-{_cleaned(section)}"
    stem = _shortened(stem, _LONGEST)
    if stem.casefold() in _RESERVED:
        stem += "_tube"
    taken = {name.casefold() for name in used}
    candidate, number = stem, 2
    while candidate.casefold() in taken:
        candidate = f"{stem}_{number}"
        number += 1
    return candidate


def _cleaned(text: str) -> str:
    """Return the words of ``text`` joined by hyphens; ``tube`` where nothing is left."""
    folded = unicodedata.normalize("NFKC", text)
    words = "".join(char if char.isalnum() or char == "_" else " " for char in folded).split()
    return "-".join(words).strip("-_") or "tube"


def _shortened(text: str, longest: int) -> str:
    return text.encode("utf-8")[:longest].decode("utf-8", "ignore").rstrip("-_") or "tube"
