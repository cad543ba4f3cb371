"""The report of a lot as plain tables, for a spreadsheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from curvelab.catalog.records import StoredResult
from curvelab.fitting.records import Constant
from curvelab.health.records import Severity, Verdict
from curvelab.sheets.lot_report import lot_histograms
from curvelab.sheets.paper_records import PaperSet, PaperTube
from curvelab.sheets.paper_words import found_text, reject_reasons
from curvelab.sheets.set_comparison import against_set, compare_set, said_of_set
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import finite, plain

__all__ = ["Cell", "LotTable", "lot_tables", "tube_table"]

Cell = str | float | Decimal | date | None
_DIGITS = 10  # free of the dust of unit changes


@dataclass(frozen=True, slots=True)
class LotTable:
    """A table with a heading a column; None is an empty cell."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def lot_tables(
    tubes: Sequence[PaperTube], sets: Sequence[PaperSet], today: date
) -> tuple[LotTable, ...]:
    """Return every table of a lot's report, that of the tubes first."""
    return (
        tube_table(tubes),
        _reject_table(tubes, today),
        _set_table(tubes, sets),
        _count_table(tubes),
        _histogram_table(tubes),
    )


def tube_table(tubes: Sequence[PaperTube]) -> LotTable:
    """Return a row a section of every tube; a tube that was not swept has one too."""
    constants = tuple(
        heading
        for _, quantity in CONSTANT_QUANTITIES
        for heading in (
            f"{quantity.symbol} ({quantity.unit.symbol})"
            if quantity.unit.symbol
            else quantity.symbol,
            f"{quantity.symbol} u95",
            f"{quantity.symbol} of bogey (%)",
            f"{quantity.symbol} outcome",
        )
    )
    headings = (
        *("lot", "tube", "section", "type", "type on label", "mark", "box", "shelf"),
        *("supplier", "cost", "price", "return by", "verdict", "verdict by a person"),
        *("grade", "grade because", "grade rules", "set", "set state"),
        *("Vp (V)", "Vg (V)", "Vs (V)", "compared with", "stand-in"),
        *constants,
        *("findings", "file", "SHA-256", "judged on", "bench", "bench assumed"),
    )
    rows = tuple(_tube_row(tube, result) for tube in tubes for result in (tube.sweeps or (None,)))
    return LotTable("tubes", headings, rows)


def _tube_row(tube: PaperTube, result: StoredResult | None) -> tuple[Cell, ...]:
    stored = tube.stored
    identity, overrule = stored.identity, stored.overrule
    section = result.section if result else None
    point = result.figures.operating_point if result else None
    basis = tube.bases.get(section)
    found = [
        f"{item.finding.severity} {found_text(item)}"
        for item in tube.found
        if result is None or item.section in (None, section)
    ]
    return (
        _words(identity.lot),
        tube.serial,
        _words(section),
        tube.type_name,
        *map(_words, (identity.type_label, identity.maker_mark, identity.box, identity.shelf)),
        _words(identity.supplier),
        identity.cost,
        identity.price,
        identity.return_by,
        "not tested" if tube.verdict is None else str(tube.verdict),
        _words(f"{overrule.person}: {overrule.reason}") if overrule else None,
        _words(tube.grade.word) if tube.grade else "not graded",
        _words(" ".join(tube.grade.reasons) if tube.grade else tube.not_graded),
        _words(tube.grade.rules) if tube.grade else None,
        _words(stored.set_name),
        str(stored.set_state) if stored.set_state else None,
        *(
            (point.plate_voltage, point.grid_voltage, point.screen_voltage)
            if point
            else (None, None, None)
        ),
        _words(basis.family) if basis else None,
        _yes(basis.stand_in) if basis else None,
        *(cell for name, _ in CONSTANT_QUANTITIES for cell in _constant(result, name)),
        "\n".join(found) or None,
        _words(result.file) if result else None,
        result.sha256 if result else None,
        result.made_at.date() if result else None,
        _words(result.bench) if result else None,
        _yes(basis.bench_assumed) if basis else None,
    )


def _constant(result: StoredResult | None, name: str) -> tuple[Cell, ...]:
    if result is None:
        return (None, None, None, None)
    unit = next(quantity.unit for each, quantity in CONSTANT_QUANTITIES if each == name)
    constant: Constant = getattr(result.figures.constants, name)
    value, u95 = finite(constant.value), finite(constant.u95)
    of_bogey = result.figures.of_bogey.get(name)
    return (
        None if value is None else _rounded(unit.from_si(value)),
        None if value is None or u95 is None else _rounded(unit.from_si(u95)),
        None if value is None or of_bogey is None else _rounded(100 * of_bogey),
        str(constant.outcome),
    )


def _reject_table(tubes: Sequence[PaperTube], today: date) -> LotTable:
    rows: list[tuple[Cell, ...]] = []
    for tube in tubes:
        if tube.verdict is not Verdict.REJECT:
            continue
        identity = tube.stored.identity
        left = None if identity.return_by is None else float((identity.return_by - today).days)
        reasons = reject_reasons(tube, tube.of_severity(Severity.REJECT))
        rows.append(
            (
                _words(identity.supplier),
                _words(identity.lot),
                tube.serial,
                tube.type_name,
                identity.cost,
                identity.return_by,
                left,
                "\n".join(reasons) or None,
                ", ".join(dict.fromkeys(plain(item.file) for item in tube.stored.results)),
                ", ".join(dict.fromkeys(item.sha256 for item in tube.stored.results)),
            )
        )
    headings = (
        *("supplier", "lot", "tube", "type", "cost", "return by", "days left"),
        *("reasons", "files", "SHA-256"),
    )
    return LotTable("rejects", headings, tuple(rows))


def _set_table(tubes: Sequence[PaperTube], sets: Sequence[PaperSet]) -> LotTable:
    rows: list[tuple[Cell, ...]] = []
    for item in sets:
        comparison = compare_set(item, tubes)
        members = ", ".join(
            plain(member.serial) + (" (spare)" if member.spare else "") for member in item.members
        )
        spread = comparison.spread_percent
        rows.append(
            (
                plain(item.name),
                str(item.state) if item.state else None,
                members,
                None if spread is None else _rounded(spread),
                " ".join((*against_set(comparison), said_of_set(comparison))),
            )
        )
    headings = ("set", "state", "tubes", "spread (%)", "can the bench tell them apart?")
    return LotTable("sets", headings, tuple(rows))


def _count_table(tubes: Sequence[PaperTube]) -> LotTable:
    counts: dict[tuple[str, str, str], int] = {}
    for tube in tubes:
        verdict = "not tested" if tube.verdict is None else str(tube.verdict)
        key = (tube.type_name, verdict, plain(tube.grade.word) if tube.grade else "not graded")
        counts[key] = counts.get(key, 0) + 1
    rows: tuple[tuple[Cell, ...], ...] = tuple((*key, float(counts[key])) for key in sorted(counts))
    return LotTable("counts", ("type", "verdict", "grade", "tubes"), rows)


def _histogram_table(tubes: Sequence[PaperTube]) -> LotTable:
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (item.title, item.axis_label, b.low, b.high, *map(float, (b.accept, b.hold, b.reject)))
        for item in lot_histograms(tubes)
        for b in item.bins
    )
    headings = ("type", "quantity", "from (%)", "below (%)", "accept", "hold", "reject")
    return LotTable("percent of bogey", headings, rows)


def _words(text: str | None) -> str | None:
    return plain(text) if text else None


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
