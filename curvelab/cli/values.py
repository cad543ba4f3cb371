"""Values of options, from the text that was written."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path

__all__ = [
    "POINT",
    "amount",
    "count",
    "day",
    "file_ending",
    "moment_text",
    "percent",
    "point",
    "positive",
    "volts",
    "words",
]

POINT = "VP,VG[,VS]"


def point(text: str) -> tuple[float, ...]:
    """Return the two or three voltages of ``250,-8``."""
    try:
        found = tuple(float(part) for part in text.split(","))
    except ValueError:
        found = ()
    if len(found) not in (2, 3) or not all(map(math.isfinite, found)):
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a point: write plate and grid volts as in 250,-8, with screen volts "
            "as a third where there is a screen"
        )
    return found


def file_ending(*endings: str) -> Callable[[str], Path]:
    """Return what takes a file to write whose name has one of these endings."""

    def read(text: str) -> Path:
        path = Path(text)
        if path.suffix.lower() not in endings:
            wanted = " or ".join(endings)
            raise argparse.ArgumentTypeError(f"{text!r} does not end in {wanted}")
        return path

    return read


def count(text: str) -> int:
    """Return a whole number of at least one."""
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of at least 1")
    return int(text)


def amount(text: str) -> Decimal:
    """Return an amount of money."""
    try:
        value = Decimal(text)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise argparse.ArgumentTypeError(f"{text!r} is no amount: write it as in 12.50")
    return value


def words(text: str) -> str:
    """Return a text that says something."""
    if not text.strip():
        raise argparse.ArgumentTypeError("it must say something")
    return text.strip()


def day(text: str) -> date:
    """Return a date."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no date: write it as in 2031-05-17"
        ) from error


def positive(text: str) -> float:
    """Return a number above zero."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above zero")
    return value


def moment_text(text: str) -> str:
    """Return an ISO 8601 date or time as it was written."""
    try:
        datetime.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no date: write it as in 2031-05-17 or 2031-05-17T09:30"
        ) from error
    return text


def percent(text: str) -> float:
    """Return a fraction above 0 and below 1, written in percent such as ``5``."""
    value = positive(text) / 100.0
    if value >= 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a percentage below 100")
    return value


def volts(text: str) -> float:
    """Return a voltage such as ``250``."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is not a voltage: write it as in 250")
    return value
