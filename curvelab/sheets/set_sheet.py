"""The sheet of a set: every tube's curves over one another, their figures side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date as Date  # noqa: N812 - ``date`` is the page's own word

from curvelab.fitting.records import PlateFamily
from curvelab.health.records import Severity, Verdict
from curvelab.sheets.overlay_picture import overlay_picture
from curvelab.sheets.paged import (
    Block,
    Column,
    Curves,
    Heading,
    PagedDocument,
    Paragraph,
    RuledTable,
)
from curvelab.sheets.paper_records import PaperSet, PaperTube
from curvelab.sheets.paper_words import (
    FEET,
    NONE,
    figure_text,
    found_text,
    grade_word,
    verdict_word,
)
from curvelab.sheets.set_comparison import (
    MATCHED_BY,
    SetComparison,
    Side,
    SideBySide,
    compare_set,
    said_of_set,
)
from curvelab.sheets.tables import point_text
from curvelab.sheets.text import plain, volts

__all__ = ["set_picture_blocks", "set_sheet", "set_word"]

_WORDS = {2: "pair", 3: "trio", 4: "quad", 5: "quintet", 6: "sextet", 8: "octet"}

# Of a type; of its connection with a screen at a voltage of its own [V] where one is given.
FindFamily = Callable[[str, float | None], PlateFamily | None]


def set_word(item: PaperSet) -> str:
    """Return what a set of that size is called, spares apart."""
    spares = sum(member.spare for member in item.members)
    size = len(item.members) - spares
    word = _WORDS.get(size, f"set of {size}")
    if not spares:
        return word
    return f"{word} with {'a spare' if spares == 1 else f'{spares} spares'}"


def set_sheet(
    item: PaperSet,
    tubes: Sequence[PaperTube],
    family_of: FindFamily,
    *,
    made_with: str,
    date: Date,
) -> PagedDocument:
    """Return what the sheet of a set says.

    Parameters
    ----------
    tubes : sequence of PaperTube
        Of the lot; those of the set are picked out.
    family_of : callable
        The reference family of a type, or None; of a pentode at the screen voltage asked for.
    """
    comparison = compare_set(item, tubes)
    types = sorted({tube.type_name for tube in comparison.tubes if tube is not None})
    return PagedDocument(
        kind=f"{'Proposed' if item.proposed else 'Matched'} {set_word(item)}",
        title=f"Set {plain(item.name)}",
        subtitle=f"{', '.join(types) or 'type unknown'}: {', '.join(_names(comparison))}",
        blocks=(
            *_warnings(comparison, types),
            *set_picture_blocks(comparison, family_of),
            *_figures(comparison),
            *_matching(comparison),
            *_cautions(comparison),
        ),
        feet=FEET,
        made_with=made_with,
        date=date.isoformat(),
    )


def _names(comparison: SetComparison) -> list[str]:
    """Return the serials; where one occurs twice, with their lots."""
    serials = [member.serial for member in comparison.of.members]
    return [
        plain(
            member.serial
            + (f" of {member.lot}" if serials.count(member.serial) > 1 and member.lot else "")
            + (" (spare)" if member.spare else "")
        )
        for member in comparison.of.members
    ]


def _warnings(comparison: SetComparison, types: Sequence[str]) -> Iterator[Block]:
    """Yield what must not be overlooked before anything else."""
    if comparison.of.proposed:
        yield Paragraph("Proposed only: the lot file does not keep these tubes together.")
    for name, tube in zip(_names(comparison), comparison.tubes, strict=True):
        if tube is None:
            yield Paragraph(f"{name} is not in this lot file: nothing is known of it here.", True)
        elif tube.verdict is Verdict.REJECT:
            yield Paragraph(f"{name} is a reject: not fit for use as it is.", True)
    if len(types) > 1:
        yield Paragraph(f"These tubes are of different types: {', '.join(types)}.", True)


def set_picture_blocks(comparison: SetComparison, family_of: FindFamily) -> Iterator[Block]:
    """Yield the curves of every section over the reference family."""
    tubes = [tube for tube in comparison.tubes if tube is not None]
    sections = sorted({key for tube in tubes for key in tube.curves}, key=lambda name: name or "")
    names = _names(comparison)
    for section in sections:
        members = {
            name: tube.curves[section]
            for name, tube in zip(names, comparison.tubes, strict=True)
            if tube is not None and section in tube.curves
        }
        basis = next((b for t in tubes if (b := t.bases.get(section)) and b.family), None)
        family_name = basis.family if basis else None
        screens = {_screen(tube, section) for tube in tubes if section in tube.curves}
        one_screen = len(screens) == 1
        family = family_of(family_name, *screens) if family_name and one_screen else None
        picture = overlay_picture(comparison.of.name, members, family, family_name)
        where = f" of section {plain(section)}" if section else ""
        if picture is None:
            yield Paragraph(f"The sweeps{where} share no grid voltage, so no curves are laid over.")
            continue
        (screen,) = screens if one_screen else (None,)
        at = "" if screen is None else f", screen at {volts(screen)} V"
        yield Heading(f"Fitted curves{where}{at}, as far as the readings cover them")
        if not one_screen:
            said = "Their screens had different voltages: these curves do not compare."
            yield Paragraph(said, strong=True)
        yield Curves(picture)


def _screen(tube: PaperTube, section: str | None) -> float | None:
    """Return the screen voltage [V] of a section's curves; None for a triode's."""
    points = (r.figures.operating_point for r in tube.sweeps if r.section == section)
    return next((point.screen_voltage for point in points if point is not None), None)


def _figures(comparison: SetComparison) -> Iterator[Block]:
    yield Heading(f"Figures at {point_text(comparison.point)}" if comparison.point else "Figures")
    names = _names(comparison)
    columns = (
        Column("", 2.2),
        *(Column(name, 1.5, numbers=True) for name in names),
        Column("spread (%)", 0.9, numbers=True),
        Column("told apart", 0.9, numbers=True),
    )
    blank = ("", "")
    rows = [*map(_row, comparison.rows), *_shares(comparison)]
    rows.append(("verdict", *(verdict_word(t) if t else NONE for t in comparison.tubes), *blank))
    rows.append(("grade", *(grade_word(t) if t else NONE for t in comparison.tubes), *blank))
    rows.append(("judged on", *(_judged_on(t) for t in comparison.tubes), *blank))
    yield RuledTable(columns, tuple(rows))
    if not comparison.rows:
        yield Paragraph(
            "Their figures are not set side by side: they were not all measured at one and the "
            "same point."
        )
        return
    yield Paragraph(
        "Uncertainties are expanded, at 95 %. Told apart: two of the tubes differ by more than "
        "both uncertainties together leave open."
    )


def _shares(comparison: SetComparison) -> Iterator[tuple[str, ...]]:
    """Yield a row a section: plate current and transconductance in percent of bogey."""
    for section in dict.fromkeys(row.section for row in comparison.rows):
        named = {row.name: row for row in comparison.rows if row.section == section}
        one, other = (named[name].sides for name in MATCHED_BY)
        before = f"{plain(section)}: " if section else ""
        cells = (", ".join(map(_share, pair)) for pair in zip(one, other, strict=True))
        yield (f"{before}Ip, gm (% of bogey)", *cells, "", "")


def _share(side: Side) -> str:
    return NONE if side.of_bogey is None else f"{100 * side.of_bogey:.0f}"


def _row(row: SideBySide) -> tuple[str, ...]:
    section = f"{plain(row.section)}: " if row.section else ""
    apart = {True: "yes", False: "no", None: NONE}[row.told_apart]
    spread = NONE if row.spread is None else f"{100 * row.spread:.1f}"
    sides = (_side(side, row) for side in row.sides)
    return (f"{section}{row.quantity.axis_label}", *sides, spread, apart)


def _side(side: Side, row: SideBySide) -> str:
    if side.constant is None:
        return NONE
    return figure_text(side.constant, row.quantity)


def _judged_on(tube: PaperTube | None) -> str:
    days = {result.made_at.date().isoformat() for result in tube.sweeps} if tube else set()
    return max(days, default=NONE)


def _matching(comparison: SetComparison) -> Iterator[Block]:
    yield Heading("Match")
    if comparison.since:
        yield Paragraph(
            f"Measured or judged again since they were matched: {', '.join(comparison.since)}. "
            "What the match said then no longer holds; what stands here is by the new figures.",
            strong=True,
        )
    if comparison.spread_percent is not None:
        by = ", the larger of those of plate current and transconductance at the point"
        if comparison.matched_by:
            by = f", by {plain(comparison.matched_by)}"
        yield Paragraph(f"Spread {comparison.spread_percent:.1f} %{by}.")
    yield Paragraph(f"Can the bench tell these tubes apart? {said_of_set(comparison)}")
    benches = {plain(result.bench) for tube in comparison.tubes if tube for result in tube.sweeps}
    if len(benches) > 1:
        yield Paragraph(
            f"They were measured on different benches ({', '.join(sorted(benches))}): a match "
            "holds between benches only as far as both state their accuracy.",
            strong=True,
        )
    elif any(b.bench_assumed for t in comparison.tubes if t for b in t.bases.values()):
        yield Paragraph(
            "No accuracy of the bench is stated: the comparison holds between tubes measured on "
            "this bench alike, not for the figures as such."
        )


def _cautions(comparison: SetComparison) -> Iterator[Block]:
    yield Heading("What was found at each tube")
    rows = []
    for name, tube in zip(_names(comparison), comparison.tubes, strict=True):
        found = [] if tube is None else list(tube.found)
        told = [
            f"{item.finding.severity.upper()} {found_text(item)}"
            for item in found
            if item.finding.severity is not Severity.NOTE
        ]
        notes = sorted({i.finding.code for i in found if i.finding.severity is Severity.NOTE})
        if notes:
            told.append(f"noted: {', '.join(notes)}")
        rows.append((name, "\n".join(told) or ("nothing" if tube else NONE)))
    yield RuledTable((Column("tube", 1.6), Column("findings", 8.5)), tuple(rows))
