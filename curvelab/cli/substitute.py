"""The command that sets two types side by side, and says whether one may replace the other."""

from __future__ import annotations

import textwrap
from argparse import Namespace
from collections.abc import Iterator

from curvelab.cli.console import note, show, width
from curvelab.cli.plain import plain_values, show_json
from curvelab.cli.table import Cell, table_text
from curvelab.reference.in_circuit import InCircuit
from curvelab.reference.rating_pairs import RatingPair
from curvelab.reference.records import Figure, Heater
from curvelab.reference.same_circuit import Settled
from curvelab.reference.sockets import SocketFit
from curvelab.reference.substitution import CapacitancePair, Substitution, may_stand_in
from curvelab.reference.substitution_notes import limit_words, shown
from curvelab.sheets.wording import CAUTIONS
from curvelab.workbench.type_library import current_families, current_types

__all__ = ["run"]

_SCHEMA = "curvelab.substitution/1"


def run(arguments: Namespace) -> int:
    """Compare two types and print what was found, as text or JSON."""
    for problem in current_types().problems:
        note(problem)
    found = may_stand_in(
        current_families(),
        arguments.old,
        arguments.new,
        arguments.at,
        arguments.plate_ohm,
    )
    if arguments.json:
        show_json({"schema": _SCHEMA, "units": "SI", **plain_values(found)})
    else:
        show(_text(found, width()))
    return 0


def _text(found: Substitution, columns: int) -> str:
    parts = [
        _wrapped(f"{found.new} in place of {found.old}: {found.suitability}", columns, ""),
        *_listed("against it", found.against, columns),
        *_listed("conditions", found.conditions, columns),
        *_listed("not known", found.unknown, columns),
        "\n" + table_text(list(_rows(found)), columns),
        *_wiring(found.socket, columns),
        "\n",
        *(_wrapped(caution, columns, "") for caution in CAUTIONS),
    ]
    return "".join(parts)


def _listed(title: str, lines: tuple[str, ...], columns: int) -> Iterator[str]:
    if lines:
        yield f"\n{title}\n"
        yield from (_wrapped(line, columns, "  ") for line in lines)


def _wrapped(text: str, columns: int, indent: str) -> str:
    lines = textwrap.wrap(
        text, columns, initial_indent=indent, subsequent_indent=indent + ("  " if indent else "")
    )
    return "\n".join(lines) + "\n"


def _rows(found: Substitution) -> Iterator[list[Cell]]:
    yield [("",), (found.old,), (found.new,), ("",)]
    yield [("heater",), (_heater(found.old_heaters),), (_heater(found.new_heaters),), ("",)]
    yield [("base and pins",), ("",), ("",), (found.socket.fit.value,)]
    yield from map(_rating_row, found.ratings)
    yield from map(_capacitance_row, found.capacitances)
    if found.in_circuit is not None:
        yield from _circuit_rows(found.in_circuit)


def _heater(heaters: tuple[Heater, ...]) -> str:
    return (
        " or ".join(
            f"{item.voltage.value:g} V {item.current.value:g} A{_memory(item.current)}"
            for item in heaters
        )
        or "not known"
    )


def _memory(figure: Figure) -> str:
    return "" if figure.verified else " m"


def _rating_row(pair: RatingPair) -> list[Cell]:
    old, new = (
        ("not known",) if figure is None else (shown(pair.name, figure.value) + _memory(figure),)
        for figure in (pair.old, pair.new)
    )
    return [(limit_words(pair.name, pair.service),), old, new, (pair.relation.value,)]


def _capacitance_row(pair: CapacitancePair) -> list[Cell]:
    old, new = (
        (f"{figure.value * 1e12:.3g} pF{_memory(figure)}",) for figure in (pair.old, pair.new)
    )
    return [(f"{limit_words(pair.name)} capacitance",), old, new, ("",)]


def _circuit_rows(both: InCircuit) -> Iterator[list[Cell]]:
    stage = f"{both.supply_voltage:.4g} V, {both.cathode_resistance:.4g} ohm in the cathode"
    yield [("at rest,",), _settled(both.old), _settled(both.cathode_bias), (stage,)]
    fixed = f"{both.old.grid_voltage:.4g} V fixed"
    yield [("at rest,",), _settled(both.old), _settled(both.fixed_bias), (fixed,)]
    for words, name, unit, scale in (
        ("mu there", "amplification_factor", "", 1.0),
        ("gm there", "transconductance", " mA/V", 1e3),
        ("rp there", "plate_resistance", " kohm", 1e-3),
    ):
        old, new = (
            (f"{getattr(item, name) * scale:.3g}{unit}",) for item in (both.old, both.cathode_bias)
        )
        yield [(words,), old, new, ("same cathode resistor",)]


def _settled(item: Settled) -> Cell:
    beyond = " (extrapolated)" if item.extrapolated else ""
    return (
        f"{item.plate_voltage:.4g} V,",
        f"{item.grid_voltage:.3g} V,",
        f"{item.plate_current * 1e3:.3g} mA{beyond}",
    )


def _wiring(socket: SocketFit, columns: int) -> Iterator[str]:
    if socket.wiring:
        yield "\n"
        wires = ", ".join(
            f"{wire.electrode}: {wire.socket_pin} to {wire.tube_pin}" for wire in socket.wiring
        )
        yield _wrapped(f"adapter, pin of the socket to pin of the tube: {wires}", columns, "")
