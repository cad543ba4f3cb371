"""Numbers as benches and spreadsheets write them."""

from __future__ import annotations

import re

from curvelab.ingest.units import find_unit, plain
from curvelab.quantities import Unit

__all__ = ["LARGEST", "is_missing", "looks_numeric", "read_number", "read_quantity", "shorten"]

# Beyond any bench in any unit a file may use; larger numbers are a slip of the logger,
# and their squares would overflow later on.
LARGEST = 1e15

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?")
_GROUPED = {
    ".": re.compile(r"[+-]?\d{1,3}(?:([, '’])\d{3})(?:\1\d{3})*(?:\.\d*)?"),
    ",": re.compile(r"[+-]?\d{1,3}(?:([. '’])\d{3})(?:\1\d{3})*(?:,\d*)?"),
}
_ANY_NUMBER = re.compile(
    r"[+-]?(?:\d+(?:[.,'’]\d+| \d{3}(?!\d))*[.,]?|[.,]\d+)(?:[eE][+-]?\d{1,3})?"
)
_QUANTITY = re.compile(r"(.*?\d[.,]?)\s*([^\W\d_]+)\.?")
_OVER_RANGE = frozenset({"ol", "o.l", "o.l.", "ovld", "ovl", "over", "overload", "overrange"})
_NO_READING = frozenset({"nan", "n/a", "na", "none", "null", "inf", "+inf", "-inf", "?"})
_SHOWN = 60


def shorten(text: str, length: int = _SHOWN) -> str:
    """Return text fit for a message: printable, on one line, no longer than ``length``."""
    head = text[: length + 1]
    clean = "".join(char if char.isprintable() else " " for char in head).strip()
    return clean if len(text) <= length else clean[: length - 1] + "…"


def is_missing(cell: str) -> str | None:
    """Return why a cell such as ``OL`` or ``---`` holds no number, or None."""
    word = cell.strip().casefold()
    if word.lstrip("+-") in _OVER_RANGE:
        return "is over the meter's range"
    if word in _NO_READING or (word and not word.strip("-")):
        return "is no reading"
    return None


def looks_numeric(cell: str) -> bool:
    """Tell whether a cell could be a number under some decimal mark, with or without a unit."""
    text = plain(cell).strip()
    if _ANY_NUMBER.fullmatch(text) is not None:
        return True
    parts = _QUANTITY.fullmatch(text)
    if parts is None or _ANY_NUMBER.fullmatch(parts.group(1)) is None:
        return False
    return find_unit(parts.group(2)) is not None


def read_number(cell: str, decimal: str = ".") -> float | None:
    """Return the number a cell holds under a decimal mark, or None.

    Thousands separators are taken out only where they stand at every third digit.
    """
    text = plain(cell).strip()
    grouped = _GROUPED[decimal].fullmatch(text)
    if grouped is not None:
        text = text.replace(grouped.group(1), "")
    if decimal == ",":
        text = text.replace(",", ".")
    if _NUMBER.fullmatch(text) is None:
        return None
    value = float(text)
    return value if abs(value) < LARGEST else None


def read_quantity(cell: str, decimal: str = ".") -> tuple[float, Unit | None] | None:
    """Return the number and unit of a cell such as ``-2 V`` or ``9.1mA``, or None.

    A bare number has the unit None; a number followed by anything that is no unit is
    not a quantity.
    """
    value = read_number(cell, decimal)
    if value is not None:
        return value, None
    parts = _QUANTITY.fullmatch(plain(cell).strip())
    if parts is None:
        return None
    value, unit = read_number(parts.group(1), decimal), find_unit(parts.group(2))
    return None if value is None or unit is None else (value, unit)
