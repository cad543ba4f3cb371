"""What a column's heading says: quantity, unit, and the step of a wide file.

Letter symbols are those of the trade and of the IRE and IEC standards (Eb, Ec, Ib, Ic;
Ua, Ug1, Ia); a number in a heading is a step.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from curvelab.ingest.numbers import read_number
from curvelab.ingest.units import Dimension, dimension_of, find_unit, plain
from curvelab.quantities import Unit

__all__ = ["Column", "Heading", "is_long", "is_wide", "read_heading", "read_name"]


class Column(StrEnum):
    """What a column holds."""

    PLATE_VOLTAGE = "plate voltage"
    GRID_VOLTAGE = "grid voltage"
    PLATE_CURRENT = "plate current"
    GRID_CURRENT = "grid current"
    SCREEN_VOLTAGE = "screen voltage"
    SCREEN_CURRENT = "screen current"
    HEATER_VOLTAGE = "heater voltage"
    GRID_RESISTOR = "grid resistor"
    TIME = "time"
    DIRECTION = "direction"
    TUBE = "tube"
    SECTION = "section"
    TYPE = "type"

    @property
    def dimension(self) -> Dimension | None:
        """What its unit must measure; None for a column of words."""
        if self.value.endswith("voltage"):
            return Dimension.VOLTAGE
        if self.value.endswith("current"):
            return Dimension.CURRENT
        if self is Column.GRID_RESISTOR:
            return Dimension.RESISTANCE
        return Dimension.TIME if self is Column.TIME else None


@dataclass(frozen=True, slots=True)
class Heading:
    """One heading cell as understood.

    Attributes
    ----------
    column : Column or None
        What the cells below hold; None if not understood.
    step : float or None
        The grid (or, in a transposed file, plate) voltage of a wide column [V].
    step_of : Column or None
        What the step is a step of, if the heading says so.
    rank : int
        0 for a demanded value, 1 for a plain name, 2 for a measured value.
    """

    text: str
    column: Column | None = None
    unit: Unit | None = None
    step: float | None = None
    step_of: Column | None = None
    rank: int = 1


_ELECTRODES = {
    "plate": "plate anode anoden",
    "grid": "grid grid1 g1 controlgrid cgrid gitter steuergitter",
    "screen": "screen screengrid grid2 g2 schirmgitter",
    "heater": "heater filament fil heiz",
}
_VOLTAGE_WORDS = "voltage voltages volts volt v u e potential spannung"
_CURRENT_WORDS = "current currents i amps strom"
_SYMBOLS = {
    Column.PLATE_VOLTAGE: "vp va ua up eb ep ea vb ub vpk vak uak upk vbb ubb ebb b+ ht",
    Column.GRID_VOLTAGE: "vg vg1 ug ug1 ec ec1 eg eg1 vgk vg1k ugk ug1k ecc vc bias gridbias "
    "biasvoltage biasvolts",
    Column.PLATE_CURRENT: "ip ia ib current",
    Column.GRID_CURRENT: "ig ig1 ic ic1",
    Column.SCREEN_VOLTAGE: "vs us es vg2 ug2 ec2 eg2 vsg vg2k ug2k",
    Column.SCREEN_CURRENT: "is ig2 ic2 isg",
    Column.HEATER_VOLTAGE: "vh vf ef uf eh uh",
    Column.GRID_RESISTOR: "rg rg1 gridresistor gridresistance gridleak gridleakresistor "
    "seriesgridresistor gridseriesresistor",
    Column.TIME: "t time elapsed elapsedtime timestamp clock zeit datetime",
    Column.DIRECTION: "direction dir pass updown",
    Column.TUBE: "tube tubeid tubename tubeno tubenumber serial serialno valve",
    Column.SECTION: "section sect unit half system triode",
    Column.TYPE: "type tubetype valvetype",
}
_ELECTRODE_COLUMNS: dict[str, tuple[Column, Column | None]] = {
    "plate": (Column.PLATE_VOLTAGE, Column.PLATE_CURRENT),
    "grid": (Column.GRID_VOLTAGE, Column.GRID_CURRENT),
    "screen": (Column.SCREEN_VOLTAGE, Column.SCREEN_CURRENT),
    "heater": (Column.HEATER_VOLTAGE, None),
}


def _names() -> Iterator[tuple[str, Column]]:
    for column, symbols in _SYMBOLS.items():
        for symbol in symbols.split():
            yield symbol, column
    for electrode, words in _ELECTRODES.items():
        voltage, current = _ELECTRODE_COLUMNS[electrode]
        for word in words.split():
            yield from _both_orders(word, _VOLTAGE_WORDS, voltage)
            if current is not None:
                yield from _both_orders(word, _CURRENT_WORDS, current)


def _both_orders(electrode: str, words: str, column: Column) -> Iterator[tuple[str, Column]]:
    for quantity in words.split():
        yield electrode + quantity, column
        yield quantity + electrode, column


_COLUMNS = dict(_names())
_ELECTRODE_OF = {
    word: electrode for electrode, words in _ELECTRODES.items() for word in words.split()
}
_RANKS = {
    **dict.fromkeys("set setpoint setting nominal nom demand demanded target cmd".split(), 0),
    **dict.fromkeys("measured meas actual act read reading readback".split(), 2),
}
_BRACKETED = re.compile(r"(.*?)\s*[(\[{]\s*(.*?)\s*[)\]}]\s*")
_JOINED_UNIT = re.compile(r"(.*?\S)(?:\s*[/,|]\s*|\s+in\s+|[\s_]+)([^\W\d_]+)\.?")
_STEP_VALUE = r"(?P<value>[-+]?\d+(?:[.,]\d+)?)\s*(?P<unit>kV|mV|V|Volts?)?(?![\w.])"
_BARE_STEP = re.compile(_STEP_VALUE, re.IGNORECASE)
_STEP = re.compile(
    r"(?P<name>[a-z][\w ]*?)?\s*(?:[=:@]\s*|[\s_]*(?=[-+]\d)|(?<=\()(?=[-+]|\d+(?:[.,]\d+)?\s*V))"
    + _STEP_VALUE,
    re.IGNORECASE,
)
_EMPTY_BRACKETS = re.compile(r"[(\[]\s*[)\]]")
_COMPACT = re.compile(r"[^\w+]|_")


@lru_cache(maxsize=2048)
def read_heading(cell: str) -> Heading:
    """Return what one heading cell says."""
    text = plain(cell).strip().strip("\"'").strip()
    if not text:
        return Heading(cell)
    name, unit_text = _unbracket(text)
    bare = _BARE_STEP.fullmatch(name)
    if bare is not None:
        return Heading(cell, unit=find_unit(unit_text), step=_step_value(bare))
    step = _STEP.search(text)
    if step is not None:
        return _read_step(cell, text, step)
    column, unit, rank = read_name(text)
    return Heading(cell, column, unit, rank=rank)


def _unbracket(text: str) -> tuple[str, str]:
    """Part ``name (unit)``; without brackets the second part is empty."""
    found = _BRACKETED.fullmatch(text)
    return (text, "") if found is None else (found.group(1), found.group(2))


def _step_value(found: re.Match[str]) -> float | None:
    text = found.group("value")
    value = read_number(text, "," if "," in text else ".")
    unit = find_unit(found.group("unit") or "V")
    return None if value is None or unit is None else unit.to_si(value)


def _read_step(cell: str, text: str, found: re.Match[str]) -> Heading:
    """Read ``Vg=-2``, ``Ip @ -2 V``, ``Ia(-2V)`` or ``Ia (mA) Vg = -2 V``."""
    step_of: Column | None = None
    rest = text[: found.start()] + " " + text[found.end() :]
    words = (found.group("name") or "").split()
    for cut in range(len(words)):
        named = read_name(" ".join(words[cut:]))[0]
        if named is not None and named.dimension is Dimension.VOLTAGE:
            step_of = named
            words = words[:cut]
            break
    rest = _EMPTY_BRACKETS.sub(" ", " ".join([*words, rest])).strip(" ,;@:")
    column, unit, rank = read_name(rest)
    if column is not None and column.dimension is not Dimension.CURRENT:
        step_of, column = step_of or column, None
    if unit is None:
        unit = find_unit(rest)
    return Heading(cell, column, unit, _step_value(found), step_of, rank)


@lru_cache(maxsize=2048)
def read_name(text: str) -> tuple[Column | None, Unit | None, int]:
    """Return the column, the unit and the rank that a name without a step says."""
    text = plain(text).strip()
    rank = 1
    words = re.split(r"[\s_]+", text)
    kept = [word for word in words if _RANKS.get(word.strip("()[].").casefold()) is None]
    if kept and len(kept) < len(words):
        marks = {_RANKS.get(word.strip("()[].").casefold(), 1) for word in words} - {1}
        rank, text = max(marks), " ".join(kept)
    name, unit_text = _unbracket(text)
    unit = find_unit(unit_text)
    if not unit_text:
        joined = _JOINED_UNIT.fullmatch(text)
        unit = find_unit(joined.group(2)) if joined is not None else None
        name = joined.group(1) if joined is not None and unit is not None else text
    column = _lookup(name, unit) or _lookup(unit_text)  # "plate voltage (Vp)"
    if column is not None and (unit is None or dimension_of(unit) is column.dimension):
        return column, unit, rank
    column = _lookup(text)  # "I_a": what looks like a unit belongs to the name
    if column is not None:
        return column, None, rank
    unit = find_unit(text)
    if unit is not None and dimension_of(unit) is Dimension.CURRENT:
        return Column.PLATE_CURRENT, unit, rank
    return None, None, rank


def _lookup(name: str, unit: Unit | None = None) -> Column | None:
    """Return the column of a name; an electrode alone needs its unit to tell."""
    compact = _COMPACT.sub("", name).casefold()
    column = _COLUMNS.get(compact)
    if column is not None:
        return column
    electrode = _ELECTRODE_OF.get(compact)
    if electrode is None:
        words = name.split()
        # A name followed by its own letter symbol: "anode current Ia".
        if len(words) > 1 and _COLUMNS.get(words[-1].casefold()) is not None:
            column = _COLUMNS.get(_COMPACT.sub("", " ".join(words[:-1])).casefold())
            return column if column is _COLUMNS[words[-1].casefold()] else None
        return None
    voltage, current = _ELECTRODE_COLUMNS[electrode]
    if unit is None or dimension_of(unit) is Dimension.VOLTAGE:
        return voltage
    return current if dimension_of(unit) is Dimension.CURRENT else None


def is_long(headings: list[Heading]) -> bool:
    """Tell whether cells are the heading of a long table: at least two known columns."""
    known = {item.column for item in headings if item.column is not None and item.step is None}
    return len(known) >= 2 and any(column.dimension is not None for column in known)


def is_wide(headings: list[Heading]) -> bool:
    """Tell whether cells are the heading of a wide table.

    Its first cell is no number and at least two others are steps; one is enough where
    it names what it is a step of, or what is read there.
    """
    if len(headings) < 2 or headings[0].step is not None:
        return False
    steps = [item for item in headings[1:] if item.step is not None]
    named = [item for item in steps if item.step_of is not None or item.column is not None]
    return len(steps) >= 2 or bool(named)
