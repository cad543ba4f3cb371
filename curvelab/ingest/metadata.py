"""``key: value`` lines: which keys mean what, and the conditions they state."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from curvelab.ingest.headings import Column, read_name
from curvelab.ingest.numbers import read_number, read_quantity, shorten
from curvelab.ingest.units import AMPERE, MINUTE, Dimension, dimension_of, find_unit, plain
from curvelab.quantities import MICROAMPERE, OHM, VOLT, Unit
from curvelab.sweep.records import Conditions, Remark, RemarkCode

__all__ = [
    "Key",
    "add_pair",
    "canonical_key",
    "read_assignments",
    "read_conditions",
    "read_pair",
    "read_set_up",
    "succeed",
    "value_of",
]

_ASSIGNMENT = re.compile(r"([^\W\d][^:=;,\t]*?)\s*[:=;\t]\s*([^:=;\t]*?)\s*")
_LABEL = re.compile(r"(?:curve|step|block|sweep|run|trace)\b[^:=]*:\s*(?=.*=)", re.IGNORECASE)
_LONGEST_KEY = 60


class Key:
    """The keys that mean something to the program; others are kept as they are."""

    TUBE = "tube"
    TYPE = "type"
    SECTION = "section"
    CONNECTION = "connection"
    WARM_UP = "warm-up"
    HEATER_VOLTAGE = "heater volts"
    HEATER_CURRENT = "heater amps"
    FILAMENT = "filament"
    FILAMENT_RETURN = "return"
    SCREEN_VOLTAGE = "screen volts"
    PLATE_RESISTOR = "plate resistor"
    CATHODE_RESISTOR = "cathode resistor"
    GRID_RESISTOR = "grid resistor"
    GRID_CURRENT_SIGN = "grid current sign"
    LEAKAGE = "heater-cathode leakage"
    SHORTS = "shorts"
    TAP_TEST = "tap test"
    CONVENTIONS = "conventions"
    KIND = "kind"
    BENCH = "bench"


# Compact spellings (lower case, letters and digits only) of each key.
_SPELLINGS = {
    Key.TUBE: "tube tubeid tubename tubeno tubenumber serial serialno serialnumber valve name",
    Key.TYPE: "type tubetype valvetype",
    Key.SECTION: "section sect half system",
    Key.CONNECTION: "connection connected wiring",
    Key.WARM_UP: "warmup warmuptime warmupminutes warmupmin warmups warmupseconds",
    Key.HEATER_VOLTAGE: "heatervolts heatervoltage heaterv filamentvolts filamentvoltage "
    "filamentv vh vf ef uf uh",
    Key.HEATER_CURRENT: "heateramps heatercurrent heatera heaterma filamentamps filamentcurrent "
    "filamenta ih if",
    Key.FILAMENT: "filament filamentsupply heatersupply",
    Key.FILAMENT_RETURN: "return filamentreturn cathodereturn",
    Key.SCREEN_VOLTAGE: "screenvolts screenvoltage screenv vg2 ug2 ec2 vs us",
    Key.PLATE_RESISTOR: "plateresistor anoderesistor plateload anodeload rl",  # rp is the tube's
    Key.CATHODE_RESISTOR: "cathoderesistor rk",
    Key.GRID_RESISTOR: "gridresistor rg rg1",
    Key.GRID_CURRENT_SIGN: "gridcurrentsign signofgridcurrent gridcurrent",
    Key.LEAKAGE: "heatercathodeleakage hkleakage leakageheatercathode heatercathode",
    Key.SHORTS: "shorts short shorttest",
    Key.TAP_TEST: "taptest tap",
    Key.CONVENTIONS: "conventions",
    Key.KIND: "kind",
    "lot": "lot batch box",
    "date": "date measured",
    Key.BENCH: "bench",
    "operator": "operator",
    "source": "source",
    "accuracy": "accuracy",
    "note": "note notes comment remark",
}
_CANONICAL = {word: key for key, words in _SPELLINGS.items() for word in words.split()}

# What describes one tube alone and must not pass to the next one of the file.
_OF_ONE_TUBE = frozenset({Key.LEAKAGE, Key.SHORTS, Key.TAP_TEST, "note"})
_FREE_TEXT = frozenset({"lot", Key.BENCH, "operator", "source", "accuracy", "note"})
_IDENTITY = (Key.TUBE, Key.TYPE, Key.SECTION)


@lru_cache(maxsize=1024)
def canonical_key(key: str) -> str | None:
    """Return the program's word for a key, or None for an unknown one."""
    bare = re.sub(r"[(\[].*?[)\]]", "", plain(key))
    return _CANONICAL.get(re.sub(r"[^a-z0-9]", "", bare.casefold()))


def read_pair(text: str, separators: str = ":=;\t") -> tuple[str, str] | None:
    """Split a line at its first separator into key and value, or return None.

    Spreadsheets pad such a line with their own separators, which are taken off.
    """
    text = text.strip().rstrip(";,\t ")
    if text.startswith('"') and text.count('"') >= 2:
        text = text.replace('"', "")
    where = min((at for mark in separators if (at := text.find(mark)) > 0), default=-1)
    if where < 0:
        return None
    key, value = text[:where].strip().strip('"'), text[where + 1 :].strip().strip('"')
    if not key or len(key) > _LONGEST_KEY or read_number(key) is not None:
        return None
    return key, value.strip()


def read_assignments(text: str) -> dict[Column, float] | None:
    """Return the set-points [V] of a line such as ``Vg = -2 V`` or ``Vp: 250; Vg: -8``.

    None if any part of the line is something else than a known voltage and its number.
    """
    found: dict[Column, float] = {}
    bare = _LABEL.sub("", text.strip().strip('"').rstrip(";,\t "))
    parts = [bare] if _ASSIGNMENT.fullmatch(bare) else re.split(r"\s*[;,]\s+", bare)
    for part in parts:
        if len(parts) > 1 and not any(mark in part for mark in ":="):
            continue  # a label, as in "step 3, Vg = -2 V"
        pair = _ASSIGNMENT.fullmatch(part)
        if pair is None:
            return None
        column, unit, _ = read_name(pair.group(1))
        value = _volts(pair.group(2), unit)
        if column is None or column.dimension is not Dimension.VOLTAGE or value is None:
            return None
        found[column] = value
    return found or None


def _volts(text: str, unit: Unit | None) -> float | None:
    decimal = "," if "," in text and "." not in text else "."
    quantity = read_quantity(text, decimal)
    if quantity is None:
        return None
    value, own = quantity
    unit = own or unit or VOLT
    return unit.to_si(value) if dimension_of(unit) is Dimension.VOLTAGE else None


def value_of(metadata: Mapping[str, str], key: str) -> str | None:
    """Return the value of a canonical key, however the file spells it."""
    found = None
    for name, value in metadata.items():
        if canonical_key(name) == key and value:
            found = value
    return found


def add_pair(metadata: dict[str, str], key: str, value: str) -> None:
    """Add a pair, in place: under one key all words are kept, of figures the last counts."""
    before = metadata.get(key)
    known = canonical_key(key)
    if before and value != before and (known is None or known in _FREE_TEXT):
        value = f"{before}; {value}"
    metadata[key] = value


def succeed(current: Mapping[str, str], pending: Mapping[str, str]) -> dict[str, str] | None:
    """Return the metadata of a new tube or section that ``pending`` opens, or None.

    A block that names another tube, type or section opens a new one: the set-up of the
    bench passes on to it, what was said of the tube before it alone does not.
    """
    changed = [
        key
        for key in _IDENTITY
        if (new := value_of(pending, key)) is not None and new != value_of(current, key)
    ]
    if not changed:
        return None
    dropped = _OF_ONE_TUBE | ({Key.SECTION} if Key.TUBE in changed else set())
    kept = {
        name: value
        for name, value in current.items()
        if (key := canonical_key(name)) is not None and key not in dropped and (key not in changed)
    }
    return {**kept, **pending}


@dataclass(frozen=True, slots=True)
class _Quantity:
    """How the value of a key becomes a number in SI."""

    field: str
    dimension: Dimension
    unit: Unit


_QUANTITIES = {
    Key.WARM_UP: _Quantity("warm_up", Dimension.TIME, MINUTE),
    Key.HEATER_VOLTAGE: _Quantity("heater_voltage", Dimension.VOLTAGE, VOLT),
    Key.HEATER_CURRENT: _Quantity("heater_current", Dimension.CURRENT, AMPERE),
    Key.SCREEN_VOLTAGE: _Quantity("screen_voltage", Dimension.VOLTAGE, VOLT),
    Key.PLATE_RESISTOR: _Quantity("plate_resistor", Dimension.RESISTANCE, OHM),
    Key.CATHODE_RESISTOR: _Quantity("cathode_resistor", Dimension.RESISTANCE, OHM),
    Key.GRID_RESISTOR: _Quantity("grid_resistor", Dimension.RESISTANCE, OHM),
}
# A comma parts current and voltage after a unit or before a blank; else it is a decimal mark.
_LEAKAGE = re.compile(
    r"(?P<current>.+?)\s*(?:\bat\b|@|(?<=[^\W\d]),|,(?=\s))\s*(?P<voltage>.+)", re.IGNORECASE
)
_LETTER_CODE = re.compile(r"(\d+)([RrKkM])(\d+)")  # 4k7, the code of IEC 60062
_SCREEN_IN_CONNECTION = re.compile(
    r"(?:vg2|ug2|ec2|vs|screen|g2)\D{0,12}?([\d.]+)\s*v\b", re.IGNORECASE
)
_TRIODE_CONNECTED = re.compile(
    r"connected|strapped|(?:g2|screen)\w*\s*(?:tied|strapped|joined)?\s*(?:to|=|\+|and)\s*"
    r"(?:the\s+)?(?:plate|anode|a\b|p\b)|(?:plate|anode)\s*(?:\+|and|to)\s*(?:g2|screen)",
    re.IGNORECASE,
)


def read_conditions(
    metadata: Mapping[str, str],
) -> tuple[Conditions, tuple[Remark, ...]]:
    """Return the conditions that metadata state, and remarks on what could not be read."""
    found: dict[str, float | str | None] = {}
    remarks: list[Remark] = []
    for name, value in metadata.items():
        key = canonical_key(name)
        if key is None or not value:
            continue
        fields = dict(_fields(key, name, value))
        found.update({field: item for field, item in fields.items() if item is not None})
        if fields and all(item is None for item in fields.values()):
            text = f"{shorten(name)}: {shorten(value)} is kept, but its value is not understood"
            remarks.append(Remark(RemarkCode.METADATA, text))
    if not found:
        return Conditions(), tuple(remarks)
    conditions = Conditions(**found)  # type: ignore[arg-type]
    stated = value_of(metadata, Key.CONNECTION)
    if stated is not None and conditions.connection not in (None, stated):
        text = f"connection {shorten(stated)!r} is taken as {conditions.connection}"
        remarks.append(Remark(RemarkCode.METADATA, text))
    return conditions, tuple(remarks)


def _fields(key: str, name: str, value: str) -> Iterator[tuple[str, float | str | None]]:
    quantity = _QUANTITIES.get(key)
    if quantity is not None:
        yield quantity.field, _in_si(name, value, quantity)
    elif key == Key.CONNECTION:
        yield "connection", _connection(value)
        screen = _SCREEN_IN_CONNECTION.search(plain(value))
        if screen is not None:
            yield "screen_voltage", read_number(screen.group(1))
    elif key == Key.FILAMENT:
        yield "filament", _filament(value)
        if _return(value) is not None:
            yield "filament_return", _return(value)
    elif key == Key.FILAMENT_RETURN:
        yield "filament_return", _return(value)
    elif key == Key.LEAKAGE:
        yield from _leakage(name, value)
    elif key == Key.SHORTS:
        yield "shorts", "none" if value.casefold() in ("no", "none", "0", "ok") else value
    elif key == Key.TAP_TEST:
        yield "tap_test", value


_SET_UP = {
    Column.GRID_RESISTOR: Key.GRID_RESISTOR,
    Column.HEATER_VOLTAGE: Key.HEATER_VOLTAGE,
}


def read_set_up(metadata: Mapping[str, str]) -> dict[Column, float]:
    """Return the settings [SI] of which blocks of one tube may differ, where stated."""
    found = {}
    for name, value in metadata.items():
        for column, key in _SET_UP.items():
            if canonical_key(name) == key and value:
                number = _in_si(name, value, _QUANTITIES[key])
                if number is not None:
                    found[column] = number
    return found


def _unit_in(name: str, dimension: Dimension) -> Unit | None:
    """Return the unit that a key itself names, as ``warm_up_min`` or ``Rk (kohm)``."""
    for word in reversed(re.split(r"[^\wµμΩω]+|_", plain(name))):
        unit = find_unit(word) if len(word) > 1 or word in "svaVA" else None
        if word and unit is not None and dimension_of(unit) is dimension:
            return unit
    return None


def _in_si(name: str, value: str, quantity: _Quantity) -> float | None:
    text = plain(value).strip()
    letter = _LETTER_CODE.fullmatch(text)
    if letter is not None:
        text = f"{letter.group(1)}.{letter.group(3)} {letter.group(2)}"
    if quantity.dimension is Dimension.RESISTANCE and text.casefold() in ("none", "no"):
        return 0.0
    decimal = "," if "," in text and "." not in text else "."
    read = read_quantity(text, decimal)
    if read is None:
        return None
    number, unit = read
    unit = unit or _unit_in(name, quantity.dimension) or quantity.unit
    return unit.to_si(number) if dimension_of(unit) is quantity.dimension else None


def _connection(value: str) -> str | None:
    text = plain(value).casefold()
    if "triode" in text:
        return "triode-connected" if _TRIODE_CONNECTED.search(text) else "triode"
    if any(word in text for word in ("pentode", "tetrode", "beam")):
        return "pentode"  # a screen at its own voltage
    return "triode-connected" if _TRIODE_CONNECTED.search(text) else None


def _filament(value: str) -> str | None:
    words = set(re.findall(r"[a-z]+", value.casefold()))
    if bool(words & {"ac"}) == bool(words & {"dc"}):
        return None
    return "AC" if "ac" in words else "DC"


def _return(value: str) -> str | None:
    text = value.casefold()
    if "negative" in text or "minus" in text or "neg" in text:
        return "negative end"
    if "centre" in text or "center" in text:
        return "centre tap"
    return "midpoint" if "mid" in text else None


def _leakage(name: str, value: str) -> Iterator[tuple[str, float | None]]:
    parts = _LEAKAGE.fullmatch(plain(value))
    current, voltage = (value, None) if parts is None else parts.group("current", "voltage")
    quantity = _Quantity("", Dimension.CURRENT, MICROAMPERE)
    yield "heater_cathode_leakage", _in_si(name, current, quantity)
    if voltage is not None:
        quantity = _Quantity("", Dimension.VOLTAGE, VOLT)
        yield "heater_cathode_voltage", _in_si("", voltage, quantity)
