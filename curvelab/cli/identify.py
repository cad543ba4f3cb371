"""The command that asks of sweeps without a label which type they look like."""

from __future__ import annotations

import textwrap
from argparse import Namespace
from collections.abc import Sequence

from curvelab.cli.console import Progress, note, show, width
from curvelab.cli.plain import plain_values, show_json
from curvelab.cli.table import Cell, table_text
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.identify import Identified, identify
from curvelab.workbench.type_library import current_families, current_types

__all__ = ["run"]

_SCHEMA = "curvelab.identities/1"
_DONE, _NOT_READ = 0, 3
_SHOWN, _LEAST_ODDS = 5, 1e-6
_LEAST_SAID = 1e-3  # odds below it are no more than that
_LEGEND = (
    "odds: among the types of the library, all as likely beforehand; a type that it does not "
    "hold cannot be named. current: the tube's over the family's. shape: what is left of the "
    "difference without that factor."
)


def run(arguments: Namespace) -> int:
    """Rank the library for every tube and print it, as text or JSON."""
    for problem in current_types().problems:
        note(problem)
    with Progress() as progress:
        batch = characterize(Request(paths=tuple(arguments.paths), bench=arguments.bench), progress)
    for error in batch.errors:
        note(f"{error.file}: {error.reason}")
    found = identify(batch.assessments, current_families())
    if arguments.json:
        errors = [{"file": error.file, "reason": error.reason} for error in batch.errors]
        show_json({"schema": _SCHEMA, "tubes": plain_values(found), "errors": errors})
    else:
        show(_text(found, width()))
    return _NOT_READ if batch.errors else _DONE


def _text(found: Sequence[Identified], columns: int) -> str:
    parts = [_tube_text(item, columns) for item in found]
    if any(item.ranked for item in found):
        parts.append("\n".join(textwrap.wrap(_LEGEND, columns)) + "\n")
    return "\n".join(parts)


def _percent(odds: float) -> str:
    return f"{100 * odds:.3g} %" if odds >= _LEAST_SAID else f"< {100 * _LEAST_SAID:g} %"


def _tube_text(item: Identified, columns: int) -> str:
    title = item.tube if item.section is None else f"{item.tube} section {item.section}"
    label = f" (label: {item.type_label})" if item.type_label else ""
    lines = [f"{title}{label}\n"]
    if item.remark:
        lines.append("\n".join(textwrap.wrap(item.remark, columns)) + "\n")
    if item.ranked:
        rows: list[list[Cell]] = [[("type",), ("odds",), ("current",), ("shape",)]]
        rows += [
            [
                tuple(f"{name}," for name in one.type_names[:-1]) + one.type_names[-1:],
                (_percent(one.odds),),
                ("-" if one.current is None else f"{100 * one.current:.0f} %",),
                ("-" if one.shape is None else f"{100 * one.shape:.1f} %",),
            ]
            for place, one in enumerate(item.ranked[:_SHOWN])
            if place == 0 or one.odds >= _LEAST_ODDS
        ]
        lines.append(table_text(rows, columns))
    return "".join(lines)
