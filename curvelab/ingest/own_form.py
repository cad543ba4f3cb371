"""The project's own sweep file: long, UTF-8, nothing left to guess."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from curvelab.ingest.metadata import Key, canonical_key
from curvelab.ingest.reader import SETTLED
from curvelab.ingest.units import AMPERE
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, Unit
from curvelab.sweep.records import FloatArray, Readings, Sweep

__all__ = ["write_sweep"]

_DIRECTIONS = {1: "up", -1: "down"}
_SUFFIX = {MILLIAMPERE: "ma", MICROAMPERE: "ua", AMPERE: "a"}


def write_sweep(sweep: Sweep) -> str:
    """Return a sweep as the text of a file that reads back to the same numbers.

    Currents are written in milliamperes and microamperes where these give back every
    value exactly, else in amperes.
    """
    lines = [f"# {_one_line(key)}: {_one_line(value)}" for key, value in _metadata(sweep)]
    names, columns = zip(*_columns(sweep.readings), strict=True)
    lines.append(",".join(names))
    lines += [",".join(row) for row in zip(*columns, strict=True)]
    return "\n".join(lines) + "\n"


def _one_line(text: str) -> str:
    return re.sub(r"[\r\n]+", " ", text).strip()


def _metadata(sweep: Sweep) -> Iterator[tuple[str, str]]:
    yield Key.TUBE, sweep.tube
    if sweep.type_label is not None:
        yield Key.TYPE, sweep.type_label
    if sweep.section is not None:
        yield Key.SECTION, sweep.section
    yield Key.KIND, sweep.kind
    yield Key.CONVENTIONS, SETTLED
    yield Key.GRID_CURRENT_SIGN, "electrons positive"
    stated = {Key.TUBE, Key.TYPE, Key.SECTION, Key.KIND, Key.CONVENTIONS, Key.GRID_CURRENT_SIGN}
    for key, value in _conditions(sweep):
        stated.add(key)
        yield key, value
    for name, value in sweep.metadata.items():
        if canonical_key(name) not in stated:
            yield name, value


def _conditions(sweep: Sweep) -> Iterator[tuple[str, str]]:
    conditions = sweep.conditions
    words = (
        (Key.CONNECTION, conditions.connection),
        (Key.FILAMENT, conditions.filament),
        (Key.FILAMENT_RETURN, conditions.filament_return),
        (Key.SHORTS, conditions.shorts),
        (Key.TAP_TEST, conditions.tap_test),
    )
    numbers = (
        (Key.SCREEN_VOLTAGE, conditions.screen_voltage, "V"),
        (Key.HEATER_VOLTAGE, conditions.heater_voltage, "V"),
        (Key.HEATER_CURRENT, conditions.heater_current, "A"),
        (Key.WARM_UP, conditions.warm_up, "s"),
        (Key.PLATE_RESISTOR, conditions.plate_resistor, "ohm"),
        (Key.CATHODE_RESISTOR, conditions.cathode_resistor, "ohm"),
        (Key.GRID_RESISTOR, conditions.grid_resistor, "ohm"),
    )
    yield from ((key, word) for key, word in words if word is not None)
    yield from ((key, f"{value!r} {unit}") for key, value, unit in numbers if value is not None)
    if conditions.heater_cathode_leakage is not None:
        text = f"{conditions.heater_cathode_leakage!r} A"
        if conditions.heater_cathode_voltage is not None:
            text += f" at {conditions.heater_cathode_voltage!r} V"
        yield Key.LEAKAGE, text


def _columns(readings: Readings) -> Iterator[tuple[str, list[str]]]:
    yield "plate_v", _written(readings.plate_voltage)
    yield "grid_v", _written(readings.grid_voltage)
    yield _current("plate", readings.plate_current, MILLIAMPERE)
    if readings.grid_current is not None:
        yield _current("grid", readings.grid_current, MICROAMPERE)
    if readings.screen_voltage is not None:
        yield "screen_v", _written(readings.screen_voltage)
    if readings.screen_current is not None:
        yield _current("screen", readings.screen_current, MILLIAMPERE)
    if readings.heater_voltage is not None:
        yield "heater_v", _written(readings.heater_voltage)
    if readings.grid_resistor is not None:
        yield "grid_resistor_ohm", _written(readings.grid_resistor)
    if readings.time is not None:
        yield "time_s", _written(readings.time)
    if readings.direction is not None:
        yield "direction", [_DIRECTIONS.get(way, "") for way in readings.direction.tolist()]


def _written(values: FloatArray) -> list[str]:
    return ["" if value != value else repr(value) for value in values.tolist()]


def _current(electrode: str, values: FloatArray, unit: Unit) -> tuple[str, list[str]]:
    scaled = _exactly_in(values, unit)
    if scaled is None:
        return f"{electrode}_{_SUFFIX[AMPERE]}", _written(values)
    return f"{electrode}_{_SUFFIX[unit]}", _written(scaled)


def _exactly_in(values: FloatArray, unit: Unit) -> FloatArray | None:
    """Return numbers that give ``values`` back exactly when multiplied by the unit.

    Of the doubles beside the quotient the one with the fewest digits is tried first;
    None if for any value no such double exists.
    """
    quotient = values / unit.si
    result = np.round(quotient, 9)
    candidates = (
        quotient,
        values * (1.0 / unit.si),
        np.nextafter(quotient, np.inf),
        np.nextafter(quotient, -np.inf),
    )
    for candidate in candidates:
        wrong = (result * unit.si != values) & ~np.isnan(values)
        if not wrong.any():
            return result
        result = np.where(wrong, candidate, result)
    return result if bool((((result * unit.si) == values) | np.isnan(values)).all()) else None
