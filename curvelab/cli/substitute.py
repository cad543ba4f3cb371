"""The command that sets two types side by side, and says whether one may replace the other."""

from __future__ import annotations

import textwrap
from argparse import Namespace
from collections.abc import Iterator

from curvelab.cli.console import note, show, width
from curvelab.cli.plain import plain_values, show_json
from curvelab.cli.table import Cell, table_text
from curvelab.reference.sockets import SocketFit
from curvelab.reference.substitution import Substitution, may_stand_in
from curvelab.sheets.stand_in import StandInCell, stand_in_rows, wiring_words
from curvelab.sheets.wording import CAUTIONS
from curvelab.workbench.stand_in import stand_in_limits
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
        stand_in_limits(),
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
        *_listed("house rules, editable", found.house_rules, columns),
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
    for row in stand_in_rows(found):
        yield [(row.what,), _cell(row.old), _cell(row.new), (row.outcome,)]


def _cell(cell: StandInCell) -> Cell:
    *before, last = cell.parts
    return (*before, f"{last} m") if cell.from_memory else cell.parts


def _wiring(socket: SocketFit, columns: int) -> Iterator[str]:
    words = wiring_words(socket)
    if words is not None:
        yield "\n"
        yield _wrapped(words, columns, "")
