"""The content of one type file (TOML, already parsed) as a record, or a plain refusal.

A file holds the name, aliases, kind and cathode of a type; then tables, each with the
``source`` and ``status`` of its values: ``socket``, ``pins``, ``heater``, ``figures``,
``capacitances``, ``ratings``, ``points``, ``pentode_points``, ``cutoffs``, ``curves``,
``limits``, ``operation``. A value of another origin is written
``{ value = ..., source = "...", status = "..." }``. Notes cite sources as ``[S1]`` or
``[S1, S9]``. A table ``sources`` may bring sources of the file's own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields
from itertools import chain

from curvelab.errors import ReferenceDataError
from curvelab.reference.fields import (
    BIAS_FIELDS,
    CAPACITANCE_FIELDS,
    CONSTANT_FIELDS,
    FIGURE_FIELDS,
    HEATER_FIELDS,
    LIMIT_FIELDS,
    OPERATION_FIELDS,
    PENTODE_FIELDS,
    RATING_FIELDS,
)
from curvelab.reference.records import (
    Figure,
    Heater,
    Operation,
    PrintedLimit,
    Rating,
    TubeType,
    Words,
)
from curvelab.reference.table import SOURCE_KINDS, Source, Table
from curvelab.reference.typepoints import (
    read_curves,
    read_cutoffs,
    read_pentode_points,
    read_points,
)

__all__ = ["parse_sources", "parse_type"]

_TOP_KEYS = tuple(
    "name aliases kind cathode near notes sources socket pins heater figures capacitances "
    "ratings points pentode_points cutoffs curves limits operation".split()
)
_CONDITION_WORDS = {
    "plate_v": "{:g} V on the plate",
    "screen_v": "{:g} V on the screen",
    "grid_v": "{:g} V on the grid",
    "supply_v": "{:g} V plate supply",
    "grid_supply_v": "{:+g} V grid supply",
    "cathode_ohm": "{:g} ohm in the cathode",
    "plate_ma": "{:g} mA",
}
_CONDITION_FIELDS = {
    key: (BIAS_FIELDS | PENTODE_FIELDS | CONSTANT_FIELDS)[key] for key in _CONDITION_WORDS
}
_STAGES = ("new", "end of life")
_PINS = (*map(str, range(1, 15)), "cap")
_CITATION = re.compile(r"\[([A-Z]+\d+(?:, [A-Z]+\d+)*)\]")


def parse_sources(file: str, content: Mapping[str, object]) -> dict[str, Source]:
    """Return the sources by their short names.

    Raises
    ------
    ReferenceDataError
    """
    found = {}
    for name, raw in content.items():
        if not isinstance(raw, dict):
            raise ReferenceDataError(f"{file}, {name}: wanted a table, got {raw!r}")
        table = Table(f"{file}, {name}", raw, {})
        table.allow(("title", "kind"))
        kind = table.text("kind")
        if kind not in SOURCE_KINDS:
            raise table.refusal("kind", kind, f"one of {', '.join(SOURCE_KINDS)}")
        found[name] = Source(table.text("title"), kind)
    return found


def parse_type(file: str, content: Mapping[str, object], sources: Mapping[str, Source]) -> TubeType:
    """Return the type that a file describes.

    Parameters
    ----------
    file : str
        Name for the messages.
    content : mapping
        The parsed TOML.

    Raises
    ------
    ReferenceDataError
        With file, place, key, what was wanted and what was got.
    """
    top = Table(file, content, {**sources, **_own_sources(file, content)})
    top.allow(_TOP_KEYS)
    cathode = top.text("cathode")
    if not cathode.startswith(("direct", "indirect")):
        raise top.refusal("cathode", cathode, "direct... or indirect...")
    socket = _socket(top)
    figures = _single(top, "figures")
    kind, pentode_points = top.text("kind"), read_pentode_points(top)
    if pentode_points and not ("pentode" in kind or "tetrode" in kind):
        raise top.refusal("kind", kind, "a pentode or tetrode, as there are pentode_points")
    return TubeType(
        name=top.text("name"),
        aliases=top.texts("aliases"),
        kind=kind,
        cathode=cathode,
        base=socket["base"].text if "base" in socket else None,
        points=read_points(top, pentode_points),
        cutoffs=read_cutoffs(top),
        ratings=tuple(_rating(table) for table in top.tables("ratings")),
        printed_limits=tuple(chain.from_iterable(map(_limits, top.tables("limits")))),
        heaters=_heaters(top),
        notes=tuple(_cited(top, note) for note in top.texts("notes")),
        near=top.texts("near"),
        filament_shift=figures.get("filament_shift"),
        amplification_factor=figures.get("amplification_factor"),
        basing_code=socket.get("basing_code"),
        pins=_pins(top),
        capacitances=_capacitances(top),
        operations=_operations(top),
        pentode_points=pentode_points,
        curves=read_curves(top),
    )


def _own_sources(file: str, content: Mapping[str, object]) -> dict[str, Source]:
    raw = content.get("sources", {})
    if not isinstance(raw, dict):
        raise ReferenceDataError(
            f"{file}, sources: wanted tables such as [sources.N1], got {raw!r}"
        )
    return parse_sources(f"{file}, sources", raw)


def _single(top: Table, key: str) -> dict[str, Figure]:
    table = top.table(key)
    if table is None:
        return {}
    table.allow(FIGURE_FIELDS)
    return table.figures(FIGURE_FIELDS)


def _socket(top: Table) -> dict[str, Words]:
    table = top.table("socket")
    if table is None:
        return {}
    keys = ("base", "basing_code")
    table.allow(keys)
    return {key: table.words(key) for key in keys if key in table.values}


def _pins(top: Table) -> dict[str, Words]:
    table = top.table("pins")
    if table is None:
        return {}
    table.allow(_PINS)
    return {key: table.words(key) for key in table.values if key in _PINS}


def _heaters(top: Table) -> tuple[Heater, ...]:
    table = top.table("heater")
    heaters = []
    for row in table.rows() if table else ():
        row.allow((*HEATER_FIELDS, "arrangement"))
        figures = row.figures(HEATER_FIELDS)
        if len(figures) != len(HEATER_FIELDS):
            raise row.refusal("heater", sorted(row.values), "heater_v and heater_a")
        heaters.append(
            Heater(figures["heater_voltage"], figures["heater_current"], row.text("arrangement"))
        )
    return tuple(heaters)


def _capacitances(top: Table) -> dict[str, tuple[Figure, ...]]:
    table = top.table("capacitances")
    if table is None:
        return {}
    table.allow((*CAPACITANCE_FIELDS, "condition"))
    found = {}
    for key, field in CAPACITANCE_FIELDS.items():
        if key not in table.values:
            continue
        raw, origin = table.entry(key)
        printed = raw if isinstance(raw, list) else [raw]
        if len(printed) not in (1, 2):
            raise table.refusal(key, raw, "one figure, or one for each of two units")
        found[field.name] = tuple(
            Figure(table.in_bounds(key, one, field), origin.title, origin.status) for one in printed
        )
    return found


def _rating(table: Table) -> Rating:
    table.allow((*RATING_FIELDS, "system", "service", "note"))
    limits = table.figures(RATING_FIELDS)
    if not limits:
        raise table.refusal("ratings", sorted(table.values), "at least one limit")
    note = table.text("note") if "note" in table.values else None
    service = table.text("service") if "service" in table.values else None
    return Rating(table.text("system"), limits, note, service)


def _limits(table: Table) -> list[PrintedLimit]:
    table.allow((*LIMIT_FIELDS, "stage", "at"))
    stage = table.text("stage")
    if stage not in _STAGES:
        raise table.refusal("stage", stage, " or ".join(_STAGES))
    origin = table.default_origin("limits")
    condition, volts = _condition(table)
    found = []
    for key, field in LIMIT_FIELDS.items():
        if key not in table.values:
            continue
        raw = table.values[key]
        if not isinstance(raw, dict) or not raw or raw.keys() - {"low", "high"}:
            raise table.refusal(key, raw, "{ low = ..., high = ... } or one of them")
        ends = {end: table.in_bounds(key, value, field) for end, value in raw.items()}
        low, high = ends.get("low"), ends.get("high")
        if low is not None and high is not None and low >= high:
            raise table.refusal(key, raw, "low below high")
        found.append(
            PrintedLimit(
                quantity=field.name,
                stage=stage,
                low=low,
                high=high,
                source=origin.title,
                status=origin.status,
                condition=condition,
                **volts,
            )
        )
    if not found:
        raise table.refusal("limits", sorted(table.values), "at least one limit")
    return found


def _condition(table: Table) -> tuple[str, dict[str, float]]:
    """Return the condition of a set of limits in words, and what it fixes of the volts."""
    raw = table.values.get("at")
    if not isinstance(raw, dict) or not raw:
        raise table.refusal("at", raw, "the condition, such as { plate_v = 250, grid_v = -8 }")
    at = Table(f"{table.where}, at", raw, table.sources, table.origin)
    at.allow(_CONDITION_FIELDS)
    figures = at.figures(_CONDITION_FIELDS)
    words = (
        _CONDITION_WORDS[key].format(field.unit.from_si(figures[field.name].value))
        for key, field in _CONDITION_FIELDS.items()
        if field.name in figures
    )
    fixed = [item.name for item in fields(PrintedLimit) if item.name in figures]
    return ", ".join(words), {name: figures[name].value for name in fixed}


def _operations(top: Table) -> tuple[Operation, ...]:
    found = []
    for row in chain.from_iterable(table.rows() for table in top.tables("operation")):
        row.allow((*OPERATION_FIELDS, "class"))
        found.append(Operation(row.text("class"), row.figures(OPERATION_FIELDS)))
    return tuple(found)


def _cited(top: Table, note: str) -> str:
    """Return a note with the short names of sources replaced by their titles."""

    def titles(match: re.Match[str]) -> str:
        names = match[1].split(", ")
        for name in names:
            if name not in top.sources:
                raise top.refusal("notes", name, "a source of sources.toml")
        return f"[{'; '.join(top.sources[name].title for name in names)}]"

    return _CITATION.sub(titles, note)
