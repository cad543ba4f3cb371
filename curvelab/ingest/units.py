"""Spellings of the units a bench writes, and what they are in SI."""

from __future__ import annotations

import re
import unicodedata
from enum import StrEnum
from functools import lru_cache

from curvelab.quantities import KILOHM, MICROAMPERE, MILLIAMPERE, OHM, SECOND, VOLT, Unit

__all__ = [
    "AMPERE",
    "HOUR",
    "KILOVOLT",
    "MEGOHM",
    "MILLISECOND",
    "MILLIVOLT",
    "MINUTE",
    "NANOAMPERE",
    "Dimension",
    "dimension_of",
    "find_unit",
    "plain",
    "units_of",
]


class Dimension(StrEnum):
    """What a unit measures."""

    VOLTAGE = "voltage"
    CURRENT = "current"
    TIME = "time"
    RESISTANCE = "resistance"


KILOVOLT = Unit("kV", 1e3)
MILLIVOLT = Unit("mV", 1e-3)
AMPERE = Unit("A", 1.0)
NANOAMPERE = Unit("nA", 1e-9)
MILLISECOND = Unit("ms", 1e-3)
MINUTE = Unit("min", 60.0)
HOUR = Unit("h", 3600.0)
MEGOHM = Unit("Mohm", 1e6)

# Upper and lower case are not told apart: no bench reads megaamperes, and many write MA.
# The one pair that needs its case, milliohm and megohm, has no use here for the first.
_SPELLINGS: dict[Dimension, dict[Unit, str]] = {
    Dimension.VOLTAGE: {
        VOLT: "v volt volts vdc vac",
        KILOVOLT: "kv kilovolt kilovolts",
        MILLIVOLT: "mv millivolt millivolts",
    },
    Dimension.CURRENT: {
        AMPERE: "a amp amps ampere amperes adc",
        MILLIAMPERE: "ma madc mamp mamps milliamp milliamps milliampere milliamperes",
        MICROAMPERE: "ua μa uadc mua microamp microamps microampere microamperes",
        NANOAMPERE: "na nanoamp nanoamps nanoampere nanoamperes",
    },
    Dimension.TIME: {
        SECOND: "s sec secs second seconds",
        MILLISECOND: "ms msec millisecond milliseconds",
        MINUTE: "min mins minute minutes",
        HOUR: "h hr hrs hour hours",
    },
    Dimension.RESISTANCE: {
        OHM: "ohm ohms ω r",
        KILOHM: "k kohm kohms kω kiloohm kilohm kilohms",
        MEGOHM: "m meg megohm megohms mohm mohms mω",
    },
}
_BY_SPELLING: dict[str, tuple[Unit, Dimension]] = {
    spelling: (unit, dimension)
    for dimension, units in _SPELLINGS.items()
    for unit, spellings in units.items()
    for spelling in spellings.split()
}
_DIMENSION = {unit: dimension for dimension, units in _SPELLINGS.items() for unit in units}
_MINUS = str.maketrans({"\u2212": "-", "\u2013": "-", "\u2010": "-", "\u2011": "-"})
_BRACKETS = re.compile(r"^[\s\[\](){}]+|[\s\[\](){}.]+$")


def plain(text: str) -> str:
    """Return text with one form of every micro, ohm, minus sign and blank (NFKC)."""
    if text.isascii():
        return text
    return unicodedata.normalize("NFKC", text).translate(_MINUS)


@lru_cache(maxsize=512)
def find_unit(text: str) -> Unit | None:
    """Return the unit that ``text`` spells, in or out of brackets, or None."""
    found = _BY_SPELLING.get(_BRACKETS.sub("", plain(text)).casefold())
    return None if found is None else found[0]


def dimension_of(unit: Unit) -> Dimension:
    """Return what ``unit`` measures."""
    return _DIMENSION[unit]


def units_of(dimension: Dimension) -> tuple[Unit, ...]:
    """Return the units that can be read of a dimension."""
    return tuple(_SPELLINGS[dimension])
