"""The report of a lot: counts, histograms, what to return and why, sets, every tube."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date as Date  # noqa: N812 - ``date`` is the page's own word
from decimal import Decimal

from curvelab.catalog.records import StoredResult
from curvelab.health.records import Severity, Verdict
from curvelab.sheets.histogram import Histogram, histogram_of
from curvelab.sheets.paged import (
    Block,
    Column,
    Heading,
    Histograms,
    PagedDocument,
    Paragraph,
    RuledTable,
)
from curvelab.sheets.paper_records import PaperSet, PaperTube
from curvelab.sheets.paper_words import (
    FEET,
    NONE,
    counted,
    figure_text,
    grade_word,
    point_heading,
    reject_reasons,
    short_point,
    verdict_word,
)
from curvelab.sheets.set_comparison import MATCHED_BY, against_set, compare_set, said_of_set
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain

__all__ = ["lot_histograms", "lot_report"]

_ROOM = (1.75, 1.6, 1.45, 1.5)  # of the constants' columns, by the digits they come with
_VERDICTS = (*map(str, Verdict), "not tested")


def lot_report(
    tubes: Sequence[PaperTube],
    sets: Sequence[PaperSet],
    *,
    name: str,
    made_with: str,
    date: Date,
) -> PagedDocument:
    """Return what the report of a lot says.

    Parameters
    ----------
    name : str
        What the lot is called.
    made_with : str
        Program and version.
    date : datetime.date
        The day it is made, from which the days left to return a tube are counted.
    """
    return PagedDocument(
        kind="Report of a lot",
        title=plain(name),
        subtitle=_subtitle(tubes, sets),
        blocks=(
            *_counts(tubes),
            *_pictures(tubes),
            *_rejects(tubes, date),
            *_holds(tubes),
            *_sets(tubes, sets),
            *_tubes(tubes),
        ),
        feet=FEET,
        made_with=made_with,
        date=date.isoformat(),
    )


def lot_histograms(tubes: Sequence[PaperTube]) -> tuple[Histogram, ...]:
    """Return, type by type, histograms of plate current and transconductance.

    Sections are counted, each under the verdict of its tube; a type with no figure at all
    has none, nor do shares of a stand-in's figure, which are not of this type's bogey.
    """
    return tuple(
        histogram
        for type_name in _types(tubes)
        for histogram in _of_type(type_name, [t for t in tubes if t.type_name == type_name])
        if histogram.bins
    )


def _of_type(type_name: str, tubes: Sequence[PaperTube]) -> Iterator[Histogram]:
    for name, quantity in CONSTANT_QUANTITIES:
        if name in MATCHED_BY:
            shares = [
                (_share(tube, result, name), tube.verdict or result.figures.verdict)
                for tube in tubes
                for result in tube.sweeps
            ]
            axis = f"{quantity.name} {quantity.symbol} (% of bogey)"
            yield histogram_of(type_name, axis, shares)


def _share(tube: PaperTube, result: StoredResult, name: str) -> float | None:
    basis = tube.bases.get(result.section)
    if basis is not None and basis.stand_in:
        return None
    return result.figures.of_bogey.get(name)


def _subtitle(tubes: Sequence[PaperTube], sets: Sequence[PaperSet]) -> str:
    parts = [counted(len(tubes), "tube"), counted(len(_types(tubes)), "type")]
    parts.append(counted(len(sets), "set"))
    for label, values in (
        ("lot", {tube.stored.identity.lot for tube in tubes}),
        ("supplier", {tube.stored.identity.supplier for tube in tubes}),
    ):
        named = sorted(plain(value) for value in values if value)
        if named:
            parts.append(f"{label} {', '.join(named)}")
    return "; ".join(parts)


def _types(tubes: Iterable[PaperTube]) -> list[str]:
    return sorted({tube.type_name for tube in tubes})


def _counts(tubes: Sequence[PaperTube]) -> Iterator[Block]:
    yield Heading("Verdicts")
    yield _count_table(_VERDICTS, [(tube.type_name, _standing(tube)) for tube in tubes])
    graded = [tube for tube in tubes if tube.grade is not None]
    yield Heading("Grades")
    if not graded:
        why = next((tube.not_graded for tube in tubes if tube.not_graded), "")
        yield Paragraph(f"None of the tubes is graded{f': {plain(why)}' if why else ''}.")
        return
    words = [(tube.type_name, grade_word(tube)) for tube in sorted(tubes, key=_rank)]
    yield _count_table(list(dict.fromkeys(word for _, word in words)), words)
    rules = sorted({plain(tube.grade.rules) for tube in graded if tube.grade})
    yield Paragraph(f"Graded by {'; '.join(rules)}. The reason of each grade stands at the end.")


def _rank(tube: PaperTube) -> tuple[bool, int]:
    """Order tubes from the best grade to the worst, those without one last."""
    return tube.grade is None, tube.grade.rank if tube.grade else 0


def _standing(tube: PaperTube) -> str:
    return "not tested" if tube.verdict is None else str(tube.verdict)


def _count_table(words: Sequence[str], given: Sequence[tuple[str, str]]) -> RuledTable:
    """Return how many of each type are called by each word, with the sums."""
    counts = Counter(given)
    types = sorted({type_name for type_name, _ in given})
    rows = [(name, [counts[name, word] for word in words]) for name in types]
    if len(types) > 1:
        rows.append(
            ("all", [sum(column) for column in zip(*(row for _, row in rows), strict=True)])
        )
    return RuledTable(
        (
            Column("type", 2.0),
            *(Column(word, numbers=True) for word in words),
            Column("all", numbers=True),
        ),
        tuple((name, *map(str, row), str(sum(row))) for name, row in rows),
    )


def _pictures(tubes: Sequence[PaperTube]) -> Iterator[Block]:
    histograms = lot_histograms(tubes)
    if not histograms:
        return
    yield Heading("How they lie to the bogey figures, sections counted each")
    for start in range(0, len(histograms), 2):
        yield Histograms(histograms[start : start + 2])


def _rejects(tubes: Sequence[PaperTube], date: Date) -> Iterator[Block]:
    rejects = [tube for tube in tubes if tube.verdict is Verdict.REJECT]
    yield Heading("Rejects, with what was found")
    if not rejects:
        yield Paragraph("None.")
        return
    rejects.sort(key=lambda tube: (tube.stored.identity.return_by or Date.max, tube.serial))
    yield RuledTable(
        (
            Column("tube", 1.5),
            Column("supplier, return by", 1.7),
            Column("cost", 0.7, numbers=True),
            Column("reasons", 6.2),
        ),
        tuple(_reject_row(tube, date) for tube in rejects),
    )
    cost = _cost(rejects)
    if cost is not None:
        yield Paragraph(f"Their cost, where it is on record, comes to {cost}.")
    yield Paragraph(
        "In brackets: the file of the readings, the day it was judged, the bench, and the "
        "beginning of its SHA-256. The readings are kept and can be handed over."
    )


def _reject_row(tube: PaperTube, date: Date) -> tuple[str, ...]:
    identity = tube.stored.identity
    until = ""
    if identity.return_by is not None:
        left = (identity.return_by - date).days
        late = f"{counted(left, 'day')} left" if left >= 0 else "passed"
        until = f"{identity.return_by.isoformat()} ({late})"
    supplier = ", ".join(part for part in (plain(identity.supplier or ""), until) if part)
    reasons = reject_reasons(tube, tube.of_severity(Severity.REJECT)) or ("no evidence is kept",)
    evidence = dict.fromkeys(
        f"{plain(item.file)}, {item.made_at.date().isoformat()}, bench: {plain(item.bench)}, "
        f"SHA-256 {item.sha256[:12]}"
        for item in tube.stored.results
    )
    cost = NONE if identity.cost is None else str(identity.cost)
    told = "\n".join((*reasons, *(f"[{line}]" for line in evidence)))
    return f"{tube.serial}, {tube.type_name}", supplier or NONE, cost, told


def _cost(tubes: Sequence[PaperTube]) -> Decimal | None:
    known = [tube.stored.identity.cost for tube in tubes]
    given = [cost for cost in known if cost is not None]
    return sum(given, Decimal(0)) if given else None


def _holds(tubes: Sequence[PaperTube]) -> Iterator[Block]:
    holds = [tube for tube in tubes if tube.verdict is Verdict.HOLD]
    if not holds:
        return
    yield Heading("On hold: a person must decide")
    yield RuledTable(
        (Column("tube", 1.5), Column("why", 8.6)),
        tuple(
            (
                f"{tube.serial}, {tube.type_name}",
                "\n".join(reject_reasons(tube, tube.of_severity(Severity.CAUTION))) or NONE,
            )
            for tube in holds
        ),
    )


def _sets(tubes: Sequence[PaperTube], sets: Sequence[PaperSet]) -> Iterator[Block]:
    yield Heading("Sets")
    if not sets:
        yield Paragraph("None.")
        return
    rows = []
    for item in sets:
        comparison = compare_set(item, tubes)
        members = ", ".join(
            f"{plain(member.serial)}{' (spare)' if member.spare else ''}" for member in item.members
        )
        state = str(item.state) if item.state else NONE
        spread = comparison.spread_percent
        shown = NONE if spread is None else f"{spread:.1f}"
        told = " ".join((*against_set(comparison), said_of_set(comparison)))
        rows.append((plain(item.name), state, members, shown, told))
    yield RuledTable(
        (
            Column("set", 1.1),
            Column("state", 0.9),
            Column("tubes", 2.8),
            Column("spread (%)", 0.9, numbers=True),
            Column("can the bench tell them apart?", 4.3),
        ),
        tuple(rows),
    )


def _tubes(tubes: Sequence[PaperTube]) -> Iterator[Block]:
    yield Heading("Every tube")
    symbols = [
        f"{quantity.symbol} ({quantity.unit.symbol})" if quantity.unit.symbol else quantity.symbol
        for _, quantity in CONSTANT_QUANTITIES
    ]
    rows = [row for tube in tubes for row in _tube_rows(tube)]
    yield RuledTable(
        (
            Column("tube, type", 1.9),
            Column(point_heading(tubes), 1.2),
            *(Column(*each, numbers=True) for each in zip(symbols, _ROOM, strict=True)),
            Column("Ip, gm (% bogey)", 1.0, numbers=True),
            Column("verdict, grade", 1.4),
            Column("findings, set", 1.9),
        ),
        tuple(rows),
    )
    if any(basis.stand_in for tube in tubes for basis in tube.bases.values()):
        yield Paragraph("s: in percent of the figure of a stand-in's family, not of its own bogey.")
    yield Paragraph("Uncertainties are expanded, at 95 %.")
    reasons = tuple(
        (f"{tube.serial}: {grade_word(tube)}", "\n".join(map(plain, tube.grade.reasons)))
        for tube in tubes
        if tube.grade is not None
    )
    if reasons:
        yield Heading("Why they are graded so")
        yield RuledTable((Column("tube", 1.6), Column("reason", 8.5)), reasons)


def _tube_rows(tube: PaperTube) -> Iterator[tuple[str, ...]]:
    codes = ", ".join(dict.fromkeys(item.finding.code.value for item in tube.found))
    in_set = f"set {plain(tube.stored.set_name)}" if tube.stored.set_name else ""
    more = "; ".join(part for part in (codes, in_set) if part) or NONE
    judged = f"{verdict_word(tube)}, {grade_word(tube)}"
    for result in tube.sweeps or (None,):
        if result is None:
            blank = (NONE,) * (len(CONSTANT_QUANTITIES) + 2)
            yield f"{tube.serial}, {tube.type_name}", *blank, judged, more
            continue
        section = f" ({plain(result.section)})" if result.section else ""
        figures, basis = result.figures, tube.bases.get(result.section)
        mark = " s" if basis is not None and basis.stand_in else ""
        shares = [
            f"{100 * figures.of_bogey[name]:.0f}" if name in figures.of_bogey else NONE
            for name in MATCHED_BY
            if figures.of_bogey
        ]
        yield (
            f"{tube.serial}{section}, {tube.type_name}",
            short_point(figures.operating_point),
            *(figure_text(getattr(figures.constants, n), q) for n, q in CONSTANT_QUANTITIES),
            ", ".join(shares) + mark or NONE,
            judged,
            more,
        )
