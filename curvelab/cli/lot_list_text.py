"""The tubes of a lot as a table on a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from curvelab.catalog.records import Figures, StoredResult, StoredTube
from curvelab.cli.table import Cell, table_text
from curvelab.fitting.records import Constant
from curvelab.quantities import Quantity, format_uncertain
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain, volts
from curvelab.sweep.records import SweepKind

__all__ = ["lot_list_text"]

_NONE: Cell = ("-",)


def lot_list_text(tubes: Sequence[StoredTube], width: int) -> str:
    """Return the tubes as they stand, a row a section, for ``width`` columns."""
    if not tubes:
        return "The lot file holds no tube.\n"
    return table_text(list(_rows(tubes)), width)


def _rows(tubes: Sequence[StoredTube]) -> Iterator[list[Cell]]:
    heads = (
        (quantity.symbol, f"({quantity.unit.symbol})")
        if quantity.unit.symbol
        else (quantity.symbol,)
        for _, quantity in CONSTANT_QUANTITIES
    )
    yield [
        ("tube",),
        ("lot",),
        ("type",),
        ("Vp,", "Vg (V)"),
        *heads,
        ("findings",),
        ("verdict",),
        ("set",),
    ]
    for tube in tubes:
        for result in tube.results or (None,):
            yield _row(tube, result)


def _row(tube: StoredTube, result: StoredResult | None) -> list[Cell]:
    figures = result.figures if result is not None else None
    return [
        _name(tube, result),
        _words(tube.identity.lot),
        _words((figures.type_name if figures else None) or tube.identity.type_label),
        _point(figures),
        *(_constant(figures, name, quantity) for name, quantity in CONSTANT_QUANTITIES),
        _findings(tube, figures),
        _verdict(tube),
        (plain(tube.set_name), f"({tube.set_state.value})")
        if tube.set_name and tube.set_state
        else _NONE,
    ]


def _name(tube: StoredTube, result: StoredResult | None) -> Cell:
    lines = [plain(tube.identity.serial)]
    if result is not None and result.section is not None:
        lines.append(f"section {plain(result.section)}")
    if result is not None and result.kind is SweepKind.DRIFT_LOG:
        lines.append(result.kind.value)
    return tuple(lines)


def _words(text: str | None) -> Cell:
    return (plain(text),) if text else _NONE


def _point(figures: Figures | None) -> Cell:
    point = figures.operating_point if figures else None
    if point is None:
        return _NONE
    at = (f"{volts(point.plate_voltage)},", volts(point.grid_voltage))
    if point.screen_voltage is None:
        return at
    return (at[0], f"{at[1]},", f"screen {volts(point.screen_voltage)}")


def _constant(figures: Figures | None, name: str, quantity: Quantity) -> Cell:
    constant: Constant | None = getattr(figures.constants, name) if figures else None
    if constant is None or constant.value is None:
        return _NONE
    bare = replace(quantity.unit, symbol="")
    value, _, u95 = format_uncertain(constant.value, constant.u95, bare).partition(" ± ")
    return (value, f"± {u95}") if u95 else (value,)


def _findings(tube: StoredTube, figures: Figures | None) -> Cell:
    by_hand = [mark for test in tube.hand_tests for mark in test.findings]
    codes = dict.fromkeys(mark.code for mark in (*(figures.findings if figures else ()), *by_hand))
    *before, last = [*codes] or _NONE
    return (*(f"{code}," for code in before), last)


def _verdict(tube: StoredTube) -> Cell:
    if tube.verdict is None:
        return ("not tested",)
    return (tube.verdict.value, "by a person") if tube.overrule else (tube.verdict.value,)
