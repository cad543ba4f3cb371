"""What a shop says of a tube or a set: honest words, and a picture beside them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from datetime import date as Date  # noqa: N812 - ``date`` is the page's own word

from curvelab.catalog.records import HandTest, SetMember, StoredResult
from curvelab.health.records import FindingCode, Severity, Verdict
from curvelab.quantities import MICROAMPERE, MILLIAMPERE
from curvelab.sheets.paged import Block, Column, PagedDocument, RuledTable
from curvelab.sheets.paper_records import Found, PaperSet, PaperTube
from curvelab.sheets.paper_words import (
    NONE,
    bogey_text,
    figure_text,
    finding_text,
    grade_word,
    known_constants,
    point_heading,
    short_point,
    verdict_word,
)
from curvelab.sheets.set_comparison import compare_set, said_of_set
from curvelab.sheets.set_sheet import FindFamily, set_picture_blocks, set_word
from curvelab.sheets.tables import CONSTANT_QUANTITIES, point_text
from curvelab.sheets.text import plain, trimmed
from curvelab.sheets.wording import NOT_SAID, VERDICT_MEANING

__all__ = ["listing_picture", "listing_text", "listing_title"]

_WIDTH = 78
_BEFORE_USE = (
    "The equipment that takes a vacuum tube holds lethal voltage, also for a while after it is "
    "switched off; work inside it belongs in licensed hands. The glass gets hot enough to burn. "
    "Keep within the ratings of the type."
)
_BOGEY = (
    "Bogey is the figure of the type's reference family, which is solved from handbook figures; "
    "it is an average on paper, not a tolerance."
)
_PAST = "Age and past use are not known from these readings."


def listing_title(tubes: Sequence[PaperTube], item: PaperSet | None = None) -> str:
    """Return a line that names what is offered; a reject is called one."""
    types = ", ".join(dict.fromkeys(tube.type_name for tube in tubes))
    serials = ", ".join(tube.serial for tube in tubes)
    if item is not None:
        title = f"Matched {set_word(item)} of {types}: {serials} (set {plain(item.name)})"
    else:
        title = f"{types}, serial {serials}"
    rejected = any(tube.verdict is Verdict.REJECT for tube in tubes)
    return f"REJECT, not fit for use: {title}" if rejected else title


def listing_text(tubes: Sequence[PaperTube], item: PaperSet | None = None) -> str:
    """Return what can honestly be said of one tube, or of a set, as plain text.

    Parameters
    ----------
    tubes : sequence of PaperTube
        The tube, or the members of the set in its order.
    """
    parts = [[listing_title(tubes, item)]]
    if item is not None:
        parts.append(list(_match(tubes, item)))
    for tube in tubes:
        parts.append(list(_tube(tube)))
    if any(result.figures.of_bogey for tube in tubes for result in tube.sweeps):
        parts.append([_filled(_BOGEY)])
    parts.append([_filled(f"Not tested: {NOT_SAID} {_PAST}")])
    parts.append([_filled(f"Before use: {_BEFORE_USE}")])
    return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def _filled(text: str, indent: str = "") -> str:
    return textwrap.fill(
        text, _WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_long_words=False
    )


def _match(tubes: Sequence[PaperTube], item: PaperSet) -> Iterator[str]:
    comparison = compare_set(item, tubes)
    if comparison.spread_percent is not None:
        by = " in plate current and transconductance at the point below"
        if comparison.matched_by:
            by = f" by {plain(comparison.matched_by)}"
        yield _filled(f"They lie within {comparison.spread_percent:.1f} % of each other{by}.")
    told = said_of_set(comparison)
    yield _filled(f"Can our bench tell them apart? {told}")
    spares = [plain(member.serial) for member in item.members if member.spare]
    if spares:
        yield _filled(f"Spare: {', '.join(spares)}.")


def _tube(tube: PaperTube) -> Iterator[str]:
    yield _filled(f"{tube.serial}, {tube.type_name}: {_judgement(tube)}")
    identity = tube.stored.identity
    if identity.maker_mark:
        yield _filled(f'Marked: "{plain(identity.maker_mark)}".')
    for result in tube.sweeps:
        yield from _measured(tube, result)
    if not tube.sweeps:
        yield "No curves were measured."
    yield from _found(tube)
    for test in tube.stored.hand_tests:
        yield from _by_hand(test)


def _judgement(tube: PaperTube) -> str:
    if tube.verdict is None:
        return "not tested."
    said = f"{verdict_word(tube)}, {VERDICT_MEANING[tube.verdict]}"
    if tube.grade is None:
        return f"{said}; not graded."
    return f"{said}; grade {grade_word(tube)} (our own grading, by plate current and gm)."


def _measured(tube: PaperTube, result: StoredResult) -> Iterator[str]:
    """Yield what was measured at which point, each figure with its uncertainty."""
    section = f"Section {plain(result.section)}: m" if result.section else "M"
    basis = tube.bases.get(result.section)
    where = point_text(result.figures.operating_point)
    yield _filled(
        f"{section}easured at {where}; judged on {result.made_at.date().isoformat()}. "
        "The uncertainty (±) is at 95 %"
        + (
            "; no accuracy of the bench is stated, so it holds between tubes of this bench."
            if basis is None or basis.bench_assumed
            else f", for the bench {plain(result.bench)} with its stated accuracy."
        )
    )
    known = list(known_constants(result))
    if not known:
        yield "  No figure could be had from the readings."
    for name, quantity, constant in known:
        share = result.figures.of_bogey.get(name)
        of = "" if share is None else f", {100 * share:.0f} % of {bogey_text(basis)}"
        yield f"  {quantity.name}: {figure_text(constant, quantity, unit=True)}{of}"


def _found(tube: PaperTube) -> Iterator[str]:
    overrule = tube.stored.overrule
    if overrule is not None:
        measured = tube.stored.measured_verdict
        yield _filled(
            f"The readings alone say {measured}; {plain(overrule.person)} set the verdict: "
            f"{plain(overrule.reason)}"
        )
    serious = [f for f in tube.found if f.finding.severity is not Severity.NOTE]
    if not serious and tube.stored.results:
        yield "Found against it: nothing."
    for code, where, said in _once(serious):
        yield _filled(f"Found ({code}{where}): {said}")
    notes = [f for f in tube.found if f.finding.severity is Severity.NOTE]
    for _, where, said in _once(notes):
        yield _filled(f"Note{where}: {said}")


def _once(found: Sequence[Found]) -> Iterator[tuple[FindingCode, str, str]]:
    """Yield code, section and words; what two sections share, as an imbalance, once."""
    sections: dict[tuple[FindingCode, str], list[str]] = {}
    for item in found:
        key = item.finding.code, finding_text(item.finding)
        sections.setdefault(key, []).extend([plain(item.section)] if item.section else ())
    for (code, said), of in sections.items():
        names = " and ".join(dict.fromkeys(of))
        where = f", section{'s' if len(set(of)) > 1 else ''} {names}" if names else ""
        yield code, where, said


def _by_hand(test: HandTest) -> Iterator[str]:
    given = test.conditions
    told = []
    if given.heater_current is not None:
        told.append(f"heater {trimmed(MILLIAMPERE.from_si(given.heater_current))} mA")
    if given.heater_cathode_leakage is not None:
        leakage = MICROAMPERE.from_si(given.heater_cathode_leakage)
        told.append(f"heater-cathode leakage {trimmed(leakage)} µA")
    if given.shorts:
        told.append(f"shorts: {plain(given.shorts)}")
    if given.tap_test:
        told.append(f"tap test: {plain(given.tap_test)}")
    if told:
        where = f", section {plain(test.section)}" if test.section else ""
        yield _filled(
            f"Tested by hand on {test.made_at.date().isoformat()}{where}: {'; '.join(told)}."
        )


def listing_picture(
    tubes: Sequence[PaperTube],
    family_of: FindFamily,
    item: PaperSet | None = None,
    *,
    made_with: str,
    date: Date,
) -> PagedDocument:
    """Return a picture of the curves with the figures under it, to stand beside the text."""
    alone = PaperSet(
        name=tubes[0].serial,
        members=tuple(
            SetMember(tube.stored.identity.serial, tube.stored.identity.lot) for tube in tubes
        ),
    )
    comparison = compare_set(item or alone, tubes)
    where = f" at {point_text(comparison.point)}" if comparison.point else ""
    return PagedDocument(
        kind="Measured on the bench",
        title=listing_title(tubes, item),
        subtitle=f"Figures{where}, with their uncertainty at 95 %",
        blocks=(*set_picture_blocks(comparison, family_of), _figures(tubes)),
        feet=(("not tested", f"{NOT_SAID} {_PAST}"), ("before use", _BEFORE_USE)),
        made_with=made_with,
        date=date.isoformat(),
    )


def _figures(tubes: Sequence[PaperTube]) -> Block:
    """Return a row a section: verdict, figures, and in a word what was found."""
    symbols = [
        f"{quantity.symbol} ({quantity.unit.symbol})" if quantity.unit.symbol else quantity.symbol
        for _, quantity in CONSTANT_QUANTITIES
    ]
    columns = (
        Column("tube", 1.4),
        Column(point_heading(tubes), 1.1),
        *(Column(symbol, 1.5, numbers=True) for symbol in symbols),
        Column("verdict, grade", 1.3),
        Column("found", 1.6),
    )
    return RuledTable(columns, tuple(row for tube in tubes for row in _rows(tube)))


def _rows(tube: PaperTube) -> Iterator[tuple[str, ...]]:
    judged = f"{verdict_word(tube)}, {grade_word(tube)}"
    found = ", ".join(dict.fromkeys(item.finding.code.value for item in tube.found)) or "nothing"
    if not tube.sweeps:
        yield tube.serial, *(NONE,) * (1 + len(CONSTANT_QUANTITIES)), judged, found
    for result in tube.sweeps:
        section = f" ({plain(result.section)})" if result.section else ""
        figures = result.figures
        yield (
            f"{tube.serial}{section}",
            short_point(figures.operating_point),
            *(figure_text(getattr(figures.constants, n), q) for n, q in CONSTANT_QUANTITIES),
            judged,
            found,
        )
