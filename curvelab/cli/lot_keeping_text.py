"""Grades, claims and tubes that came back as people read them on a terminal."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from curvelab.catalog.records import Claim, TubeIdentity
from curvelab.catalog.retest import Change, Retest
from curvelab.quantities import format_number
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain
from curvelab.workbench.lot_grades import GradedLot

__all__ = ["claims_text", "grades_text", "returned_text", "sentences"]

_WIDEST_SENTENCE = 100


def sentences(lines: Iterable[str], width: int) -> str:
    """Return sentences, each from a new line on, wrapped for ``width`` columns."""
    measure = min(width, _WIDEST_SENTENCE)
    return "".join(
        textwrap.fill(plain(line), measure, subsequent_indent="  ") + "\n" for line in lines
    )


def grades_text(graded: GradedLot, width: int) -> str:
    """Return every grade with its reasons, then how many there are of each."""
    return sentences(_grade_lines(graded), width)


def _grade_lines(graded: GradedLot) -> Iterator[str]:
    counted: Counter[str] = Counter()
    for item in graded.tubes:
        grade, serial = item.given.grade, item.tube.identity.serial
        if grade is None:
            counted["without"] += 1
            yield f"{serial}: no grade: {item.given.why_not}"
            continue
        counted[grade.word] += 1
        yield f"{serial}: {grade.word}. {' '.join(grade.reasons)}"
    words = (*graded.rules.order, "without")
    yield ", ".join(f"{word}: {counted[word]}" for word in words if counted[word]) or "no tube"
    yield f"by {graded.rules.title}; new in the lot file: {graded.kept}"


def claims_text(claims: Sequence[Claim], supplier: str | None, width: int) -> str:
    """Return the rejects, of one supplier or of all, with what is to be said to suppliers."""
    if not claims:
        of = "" if supplier is None else f" of supplier {plain(supplier)!r}"
        return f"No tube{of} is rejected.\n"
    return sentences(map(_claim_line, claims), width)


def _claim_line(claim: Claim) -> str:
    tube = claim.tube
    about = [tube.type_label, tube.supplier and f"from {tube.supplier}"]
    about += [f"cost {claim.cost}" if claim.cost is not None else None, _time_left(claim)]
    known = ", ".join(item for item in about if item)
    return f"{tube.serial}{f' ({known})' if known else ''}: {' '.join(claim.reasons)}"


def _time_left(claim: Claim) -> str | None:
    if claim.days_left is None:
        return None
    if claim.days_left < 0:
        return f"its time to return ran out {-claim.days_left} days ago"
    return f"{claim.days_left} days left to return it"


def returned_text(identity: TubeIdentity, retests: Sequence[Retest], width: int) -> str:
    """Return what has become of a tube since the sweep before the last."""
    if not retests:
        return f"{plain(identity.serial)} was swept once only: there is nothing to compare.\n"
    return sentences((line for item in retests for line in _retest_lines(identity, item)), width)


def _retest_lines(identity: TubeIdentity, item: Retest) -> Iterator[str]:
    section = "" if item.section is None else f" section {item.section}"
    days = f"{item.earlier_at.date()} and {item.later_at.date()}"
    yield f"{identity.serial}{section}, filed on {days}:"
    if item.another_tube:
        yield "  Its amplification factor moved so far that it is hardly the same tube."
    if not item.same_bench:
        yield "  Two benches measured it: the uncertainties hold only if both state theirs."
    if not item.same_point:
        yield "  It was measured at two operating points: its constants are not compared."
    for change in item.changes:
        yield f"  {_change_words(change)}"
    if item.curve_distance is not None:
        yield f"  Its curves lie {100 * item.curve_distance:.1f} % apart (RMS)."
    for words, marks in (("new", item.new_findings), ("gone", item.gone_findings)):
        if marks:
            yield f"  {words}: {', '.join(f'{mark.code} ({mark.severity})' for mark in marks)}"


def _change_words(change: Change) -> str:
    name = change.name.replace("_", " ")
    if change.normalised is None:
        told = "nobody knows whether that is more than the uncertainty"
    else:
        told = "more" if abs(change.normalised) > 1 else "not more"
        told = f"{told} than the uncertainty (E_n {change.normalised:+.2f})"
    unit = dict(CONSTANT_QUANTITIES)[change.name].unit
    then, now = (format_number(unit.from_si(value), 4) for value in (change.earlier, change.later))
    figures = f"{then} to {now} {unit.symbol}".rstrip()
    return f"{name}: {figures}, {100 * change.share:+.1f} %, {told}"
