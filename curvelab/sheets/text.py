"""Text and numbers made fit to be printed."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable

from curvelab.quantities import format_number

__all__ = [
    "decimals_of",
    "finite",
    "in_one_line",
    "plain",
    "printed_unit",
    "signed_percent",
    "trimmed",
    "volts",
]

_NO_TEXT = ("Cc", "Zl", "Zp")
_TURNS = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def plain(text: str) -> str:
    """Return ``text`` without what no page or file can hold.

    Control characters, line ends and what turns the direction of writing become blanks;
    surrogates (a file name that was not UTF-8) become the replacement character.
    """
    if text.isprintable():  # most are: neither kind is among what Python calls printable
        return text
    kept = "".join(
        " " if unicodedata.category(char) in _NO_TEXT or char in _TURNS else char for char in text
    )
    return kept.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def in_one_line(reasons: Iterable[str]) -> str:
    """Return reasons one after another; a sentence that others follow loses its full stop."""
    *before, last = [*reasons] or [""]
    return "; ".join([*(reason.removesuffix(".") for reason in before), last])


def finite(value: float | None) -> float | None:
    """Return ``value``, or None where it is missing or not a finite number."""
    return None if value is None or not math.isfinite(value) else float(value)


def decimals_of(uncertainty: float) -> int:
    """Return the decimals that show two figures of ``uncertainty`` (JCGM 100:2008, 7.2.6)."""
    return max(0, 1 - math.floor(math.log10(uncertainty)))


def trimmed(value: float, digits: int = 3) -> str:
    """Return a number of ``digits`` figures without an exponent and without trailing zeros."""
    shown = format_number(value, digits)
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def volts(value: float) -> str:
    """Return a voltage [V] to the millivolt, without trailing zeros and without unit."""
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def signed_percent(fraction: float) -> str:
    """Return a fraction as a percentage with its sign, to two figures or a tenth."""
    percent = 100 * fraction
    if round(percent, 2) == 0:
        return "0.0 %"
    shown = format_number(percent, 2) if abs(percent) < 10 else f"{percent:.0f}"
    return f"{'+' if percent > 0 else ''}{shown} %"


def printed_unit(unit: str | None) -> str:
    """Return a finding's unit as a page prints it, with a leading blank where there is one."""
    if not unit:
        return ""
    return " " + unit.replace("uA", "µA").replace("umho", "µmho")
