"""The command that shows the library: every type in a line, or one in full."""

from __future__ import annotations

import textwrap
from argparse import Namespace
from collections.abc import Iterator
from typing import Any

from curvelab.cli.console import note, show, width
from curvelab.cli.plain import plain_values, show_json
from curvelab.cli.table import Cell, table_text
from curvelab.quantities import MILLIAMPERE, VOLT, WATT, Unit
from curvelab.reference.band import tolerance_band
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.records import (
    Figure,
    HandbookPoint,
    PentodePoint,
    Status,
    TubeType,
)
from curvelab.sheets.type_text import type_text
from curvelab.workbench.type_library import current_families, current_types

__all__ = ["run"]

_SCHEMA = "curvelab.types/1"


def run(arguments: Namespace) -> int:
    """Print the library, or the type that was named, as text or JSON."""
    joined = current_types()
    library = joined.types
    for problem in joined.problems:
        note(problem)
    if arguments.name is not None:
        types = [library.find(arguments.name)[0]]
    else:
        types = list(library.types.values())
    if arguments.json:
        known = current_families()
        content = [
            {
                **plain_values(item),
                "reference_family": _stated(item, known.families.get(item.name)),
                "pentode_family": _stated(item, known.pentodes.get(item.name)),
            }
            for item in types
        ]
        show_json({"schema": _SCHEMA, "units": "SI", "types": content})
    elif arguments.name is not None:
        known, name = current_families(), types[0].name
        families = known.families.get(name), known.pentodes.get(name)
        show(type_text(types[0], width(), *families))
    else:
        show(_list_text(types, width()))
    return 0


def _stated(item: TubeType, family: ReferenceFamily | None) -> Any:
    """Return what there is to say of a reference family, as plain values."""
    if family is None:
        return None
    return plain_values(
        {
            "law": family.law,
            "parameters": family.parameters,
            "follows_curves": family.follows_curves,
            "residual": family.residual,
            "near_cutoff": sorted(family.near_cutoff),
            "origin": family.origin,
            "from_memory": family.from_memory,
            "backed": family.region,
            "tolerance": tolerance_band(item, family),
        }
    )


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


def _listed_point(item: TubeType) -> HandbookPoint | PentodePoint | None:
    """Return the bogey point, of a pentode the one with its own screen voltage if there is one."""
    return next((point for point in item.pentode_points if point.bogey), item.bogey)


def _bogey_parts(item: TubeType) -> Iterator[str]:
    point = _listed_point(item)
    if point is None:
        yield "-"
        return
    yield f"{point.plate_voltage:.4g} V,"
    if isinstance(point, PentodePoint):
        yield f"screen {point.screen_voltage:.4g} V,"
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
    point = _listed_point(item)
    if point is None:
        return ("-",)
    constants = [point.plate_current, point.transconductance, point.plate_resistance]
    if isinstance(point, HandbookPoint):
        constants.append(point.amplification_factor)
    known = {figure.status for figure in constants if figure is not None} | {point.status}
    return (known.pop().value,) if len(known) == 1 else ("partly", Status.FROM_MEMORY.value)
