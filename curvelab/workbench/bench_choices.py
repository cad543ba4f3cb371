"""How a bench writes its files, as its description keeps it.

::

    [reading]
    encoding = "cp850"
    decimal = ","
    step_unit = "mA"                 # under the steps of a wide table
    grid_volts = "positive numbers mean negative bias"
    grid_current = "reverse positive"
    type = "6SN7GTB"                 # for files that name none; connection likewise
    answers = ["rows are plate voltages, columns grid voltages"]

    [[reading.columns]]
    heading = "Channel 3"
    holds = "plate current"          # or "nothing"
    unit = "mA"
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import replace
from typing import Any

from curvelab.errors import BenchDescriptionError
from curvelab.ingest.choices import (
    CONNECTIONS,
    ColumnChoice,
    GridCurrentSign,
    GridVoltsSign,
    ReadingChoices,
)
from curvelab.ingest.decode import ENCODINGS
from curvelab.ingest.headings import Column
from curvelab.ingest.units import Dimension, dimension_of, find_unit
from curvelab.quantities import Unit

__all__ = [
    "READING",
    "choices_of_stored",
    "choices_text",
    "read_choices",
    "stored_choices",
    "with_choices",
]

READING = "reading"
_NOTHING = "nothing"
_HEADER = re.compile(r"\s*\[\[?\s*(?P<name>[\w.\-]+)")


def read_choices(name: str, table: object) -> ReadingChoices:
    """Return the choices of a description's ``reading`` table.

    Raises
    ------
    BenchDescriptionError
        If a key or value is not known; without the file's name.
    """
    if not isinstance(table, Mapping):
        raise BenchDescriptionError(f"{READING} must be a table")
    readers: dict[str, Callable[[object], object]] = {
        "encoding": lambda value: _one_of("encoding", value, ENCODINGS),
        "decimal": lambda value: _one_of("decimal", value, (".", ",")),
        "step_unit": lambda value: _unit("step_unit", value, Dimension.CURRENT),
        "grid_volts": lambda value: GridVoltsSign(
            _one_of("grid_volts", value, list(GridVoltsSign))
        ),
        "grid_current": lambda value: GridCurrentSign(
            _one_of("grid_current", value, list(GridCurrentSign))
        ),
        "type": lambda value: _text("type", value),
        "connection": lambda value: _one_of("connection", value, CONNECTIONS),
        "answers": _answers,
        "columns": _columns,
    }
    unknown = [key for key in table if key not in readers]
    if unknown:
        raise BenchDescriptionError(
            f"{READING} has no key {unknown[0]!r} (there are {', '.join(readers)})"
        )
    found: dict[str, Any] = {key: readers[key](value) for key, value in table.items()}
    if "type" in found:
        found["type_name"] = found.pop("type")
    return ReadingChoices(name=name, **found)


def stored_choices(choices: ReadingChoices) -> dict[str, Any]:
    """Return choices as values of JSON, with a person's overruling too."""
    table: dict[str, Any] = tomllib.loads(choices_text(choices))[READING]
    return {"name": choices.name, "overrules": sorted(choices.overrules), **table}


def choices_of_stored(values: Mapping[str, Any]) -> ReadingChoices:
    """Return the choices that `stored_choices` gave.

    Raises
    ------
    BenchDescriptionError
        If a key or value is not known.
    """
    table = {key: value for key, value in values.items() if key not in ("name", "overrules")}
    choices = read_choices(str(values.get("name", "")), table)
    return replace(choices, overrules=frozenset(map(str, values.get("overrules", ()))))


def _text(key: str, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise BenchDescriptionError(f"{READING}.{key} must be a text")
    return value.strip()


def _one_of(key: str, value: object, allowed: Collection[str]) -> str:
    if not isinstance(value, str) or value not in allowed:
        names = ", ".join(allowed)
        raise BenchDescriptionError(f"{READING}.{key} is {value!r}; wanted one of: {names}")
    return value


def _unit(key: str, value: object, dimension: Dimension | None) -> Unit:
    unit = find_unit(value) if isinstance(value, str) else None
    if unit is None or dimension is None or dimension_of(unit) is not dimension:
        measured = "nothing" if dimension is None else dimension
        raise BenchDescriptionError(f"{READING}.{key} is {value!r}; wanted a unit of {measured}")
    return unit


def _answers(value: object) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise BenchDescriptionError(f"{READING}.answers must be a list of texts")
    return tuple(_text("answers", item) for item in value)


def _columns(value: object) -> tuple[ColumnChoice, ...]:
    if not isinstance(value, list) or not all(isinstance(item, Mapping) for item in value):
        raise BenchDescriptionError(f"{READING}.columns must be tables, [[{READING}.columns]]")
    return tuple(_column(item) for item in value)


def _column(table: Mapping[str, object]) -> ColumnChoice:
    unknown = [key for key in table if key not in ("heading", "holds", "unit")]
    if unknown:
        raise BenchDescriptionError(
            f"{READING}.columns has no key {unknown[0]!r} (there are heading, holds, unit)"
        )
    heading = _text("columns.heading", table.get("heading"))
    holds = _one_of("columns.holds", table.get("holds"), (_NOTHING, *Column))
    column = None if holds == _NOTHING else Column(holds)
    unit = None
    if "unit" in table:
        dimension = None if column is None else column.dimension
        unit = _unit("columns.unit", table["unit"], dimension)
    return ColumnChoice(heading, column, unit)


def choices_text(choices: ReadingChoices) -> str:
    """Return choices as the TOML that `read_choices` reads back to the same."""
    lines = [f"[{READING}]", *_lines(choices)]
    for item in choices.columns:
        lines += ["", f"[[{READING}.columns]]", f"heading = {_quoted(item.heading)}"]
        lines.append(f"holds = {_quoted(item.column or _NOTHING)}")
        if item.unit is not None:
            lines.append(f"unit = {_quoted(item.unit.symbol)}")
    return "\n".join(lines) + "\n"


def _lines(choices: ReadingChoices) -> Iterator[str]:
    for key, value in (
        ("encoding", choices.encoding),
        ("decimal", choices.decimal),
        ("step_unit", None if choices.step_unit is None else choices.step_unit.symbol),
        ("grid_volts", choices.grid_volts),
        ("grid_current", choices.grid_current),
        ("type", choices.type_name),
        ("connection", choices.connection),
    ):
        if value is not None:
            yield f"{key} = {_quoted(value)}"
    if choices.answers:
        yield f"answers = [{', '.join(map(_quoted, choices.answers))}]"


def _quoted(text: str) -> str:
    """Return a basic string of TOML 1.0, whose escapes are those of JSON and one more."""
    return json.dumps(str(text), ensure_ascii=False).replace("\x7f", "\\u007f")


def with_choices(text: str, choices: ReadingChoices) -> str:
    """Return a description with other choices; its meters and comments stay as they are."""
    kept, in_reading = [], False
    for line in text.splitlines():
        header = _HEADER.match(line)
        if header is not None:
            in_reading = header["name"].split(".")[0] == READING
        if not in_reading:
            kept.append(line)
    rest = "\n".join(kept).strip()
    return f"{rest}\n\n{choices_text(choices)}"
