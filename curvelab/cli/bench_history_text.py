"""How a bench repeats itself and agrees, as people read it on a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.bench_check.agreement import Agreement
from curvelab.bench_check.history import BenchHistory, Repeats
from curvelab.bench_check.records import CHECKED
from curvelab.cli.lot_keeping_text import sentences
from curvelab.cli.table import Cell, table_text
from curvelab.quantities import format_uncertain
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain
from curvelab.sweep.bench import UNSTATED_BENCH

__all__ = ["bench_history_text"]

_NONE: Cell = ("-",)


def bench_history_text(history: BenchHistory, width: int) -> str:
    """Return what the golden tubes say, for ``width`` columns."""
    rows: list[list[Cell]] = [
        [
            ("tube",),
            ("quantity",),
            ("days",),
            ("readings",),
            ("within a day (%)",),
            ("from day to day (%)",),
            ("together (%)",),
        ]
    ]
    rows += [_repeats_row(row) for row in history.repeats]
    parts = [table_text(rows, width), sentences(_sentences(history), width)]
    if history.agreements:
        heading = "earlier day" if history.against is None else plain(history.against)
        rows = [[("tube",), ("quantity",), ("newest",), (heading,), ("E_n",), ("agree",)]]
        rows += [_agreement_row(item) for item in history.agreements]
        parts.insert(1, table_text(rows, width))
    return "\n".join(parts)


def _repeats_row(row: Repeats) -> list[Cell]:
    known: list[Cell] = [_NONE] * 3
    if row.found is not None:
        shares = row.found.within, row.found.between, row.found.total
        known = [(f"{100 * share:.2f}",) for share in shares]
    return [
        (plain(row.tube),),
        (CHECKED[row.quantity],),
        (str(row.days),),
        (str(row.readings),),
        *known,
    ]


def _agreement_row(item: Agreement) -> list[Cell]:
    unit = dict(CONSTANT_QUANTITIES)[item.quantity].unit
    return [
        (plain(item.tube),),
        (CHECKED[item.quantity],),
        (format_uncertain(item.first, item.first_u95, unit),),
        (format_uncertain(item.second, item.second_u95, unit),),
        (f"{item.en:+.2f}",),
        ("yes" if item.agree else "no",),
    ]


def _sentences(history: BenchHistory) -> Iterator[str]:
    unnamed = history.bench == UNSTATED_BENCH.name
    bench = "a bench without a name" if unnamed else plain(history.bench)
    yield f"Standard deviations of the golden tubes' readings on {bench}."
    for row in history.repeats:
        if row.why_not and row.quantity == next(iter(CHECKED)):
            yield f"{row.tube}: no figure, {row.why_not}."
    for one in history.scatter:
        whence = "by its history" if one.firm else "house rule while the history is short"
        yield f"A check takes {100 * one.sigma:.1f} % for {CHECKED[one.quantity]} ({whence})."
    if not history.agreements:
        yield "There is no earlier day, or no tube of both benches, to compare with."
        return
    yield (
        "They agree where E_n is between -1 and 1: the difference over the uncertainties of both "
        "(ISO 13528:2015, 9.7)."
    )
    for remark in dict.fromkeys(item.remark for item in history.agreements if item.remark):
        yield f"{remark[:1].upper()}{remark[1:]}."
