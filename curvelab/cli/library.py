"""The command that shows the library: every type in a line, or one in full."""

from __future__ import annotations

import json
import textwrap
from argparse import Namespace
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from curvelab.cli.console import show, show_bytes, width
from curvelab.cli.table import Cell, table_text
from curvelab.cli.type_text import type_text
from curvelab.quantities import MILLIAMPERE, VOLT, WATT, Unit
from curvelab.reference.loader import load_library
from curvelab.reference.records import Figure, Status, TubeType

__all__ = ["run"]

_SCHEMA = "curvelab.types/1"


def run(arguments: Namespace) -> int:
    """Print the library, or the type that was named, as text or JSON."""
    library = load_library()
    if arguments.name is not None:
        types = [library.find(arguments.name)[0]]
    else:
        types = list(library.types.values())
    if arguments.json:
        content = {"schema": _SCHEMA, "units": "SI", "types": [_plain(item) for item in types]}
        text = json.dumps(content, ensure_ascii=False, allow_nan=False, indent=2)
        show_bytes(f"{text}\n".encode())
    elif arguments.name is not None:
        show(type_text(types[0], width()))
    else:
        show(_list_text(types, width()))
    return 0


def _plain(value: Any) -> Any:
    """Return a record as plain values, its fields as keys."""
    if is_dataclass(value):
        return {item.name: _plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return [_plain(item) for item in value.tolist()]
    return float(f"{value:.10g}") if isinstance(value, float) else value


def _list_text(types: list[TubeType], columns: int) -> str:
    rows: list[list[Cell]] = [
        [("type",), ("also",), ("kind",), ("bogey point",), ("plate, at most",), ("figures",)]
    ]
    rows += [
        [
            (item.name,),
            _in_pairs(item.aliases),
            (item.kind,),
            tuple(_bogey_parts(item)),
            tuple(_plate_parts(item)),
            _how_well_known(item),
        ]
        for item in types
    ]
    legend = "m: from memory. 'curvelab types NAME' shows a type with the sources of its figures.\n"
    return table_text(rows, columns) + "\n" + "\n".join(textwrap.wrap(legend, columns)) + "\n"


def _in_pairs(names: tuple[str, ...]) -> Cell:
    """Return names as parts of two, so that a long list stacks where room is short."""
    pairs = [", ".join(names[start : start + 2]) for start in range(0, len(names), 2)]
    return tuple(f"{pair}," for pair in pairs[:-1]) + tuple(pairs[-1:]) or ("",)


def _bogey_parts(item: TubeType) -> Iterator[str]:
    point = item.bogey
    if point is None:
        yield "-"
        return
    yield f"{point.plate_voltage:.4g} V,"
    yield f"{point.grid_voltage:.4g} V" + ("," if point.plate_current else "")
    if point.plate_current is not None:
        yield _figure(point.plate_current, MILLIAMPERE)


def _plate_parts(item: TubeType) -> Iterator[str]:
    named = (("plate_voltage", VOLT), ("plate_dissipation", WATT))
    parts = [
        _figure(figure, unit) for name, unit in named if (figure := item.rating(name)) is not None
    ]
    yield from (f"{part}," for part in parts[:-1])
    yield from parts[-1:] or ("-",)


def _figure(figure: Figure, unit: Unit) -> str:
    return f"{unit.from_si(figure.value):.4g} {unit.symbol}" + ("" if figure.verified else " m")


def _how_well_known(item: TubeType) -> Cell:
    """Return how well the figures of the bogey point are known."""
    point = item.bogey
    if point is None:
        return ("-",)
    constants = (
        point.plate_current,
        point.transconductance,
        point.plate_resistance,
        point.amplification_factor,
    )
    known = {figure.status for figure in constants if figure is not None} | {point.status}
    return (known.pop().value,) if len(known) == 1 else ("partly", Status.FROM_MEMORY.value)
