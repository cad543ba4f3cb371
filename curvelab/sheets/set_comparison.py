"""The tubes of a set side by side: spreads, and whether the bench can tell them apart.

Two values are told apart when they differ by more than the root of the sum of the squares of
their expanded uncertainties (the E_n number of ISO 13528:2015, 9.7, beyond 1). What tubes of
one bench have in common of that is not taken out here, as it is in a match: where the bench's
accuracy is stated, a difference has to be larger to be told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from curvelab.assessment.records import OperatingPoint
from curvelab.fitting.records import Constant
from curvelab.health.records import Verdict
from curvelab.quantities import Quantity
from curvelab.sheets.paper_records import PaperSet, PaperTube
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import plain

__all__ = [
    "MATCHED_BY",
    "SetComparison",
    "Side",
    "SideBySide",
    "against_set",
    "compare_set",
    "said_of_set",
]

MATCHED_BY = ("plate_current", "transconductance")
"""What a match is judged by, where the matching itself does not say."""

_SAME_POINT = 0.01  # [V]


@dataclass(frozen=True, slots=True)
class Side:
    """One member in one row: the constant, and its share of the bogey figure."""

    constant: Constant | None
    of_bogey: float | None = None


@dataclass(frozen=True, slots=True)
class SideBySide:
    """One constant of one section over the members.

    Attributes
    ----------
    spread : float or None
        Largest less smallest, over their mean; None unless every member has a value.
    told_apart : bool or None
        Whether any two differ by more than their uncertainties leave open; None where a
        value or an uncertainty is missing.
    """

    section: str | None
    name: str
    quantity: Quantity
    sides: tuple[Side, ...]
    spread: float | None
    told_apart: bool | None


@dataclass(frozen=True, slots=True, eq=False)
class SetComparison:
    """A set, its tubes and their figures.

    Attributes
    ----------
    tubes : tuple of PaperTube or None
        In the order of the members; None for one that is not at hand.
    point : OperatingPoint or None
        Where all of them were measured; None where that differs or is not known.
    spread_percent : float or None
        As the matching gave it, else the largest spread of plate current and
        transconductance.
    told_apart : bool or None
        As the matching said, else by the figures.
    matched_by : str or None
        What the matching compared, where the spread is as it gave it.
    since : tuple of str
        Serials of the tubes that were measured or judged again since they were matched. What
        the matching said of the set no longer holds then, and the figures speak alone.
    """

    of: PaperSet
    tubes: tuple[PaperTube | None, ...]
    point: OperatingPoint | None
    rows: tuple[SideBySide, ...]
    spread_percent: float | None
    told_apart: bool | None
    matched_by: str | None = None
    since: tuple[str, ...] = ()


def compare_set(item: PaperSet, tubes: Sequence[PaperTube]) -> SetComparison:
    """Return the members of a set side by side; ``tubes`` are those of the lot."""
    by_name = {(t.stored.identity.serial, t.stored.identity.lot): t for t in tubes}
    members = tuple(by_name.get((member.serial, member.lot)) for member in item.members)
    point = _shared_point(members)
    rows = _rows(members) if point is not None else ()
    matched = [row for row in rows if row.name in MATCHED_BY]
    since = tuple(_judged_since(item, members))
    spread, told_apart = (None, None) if since else (item.spread_percent, item.distinguishable)
    matched_by = None if spread is None else item.matched_by
    if spread is None:
        known = [row.spread for row in matched]
        if known and None not in known:
            spread = 100 * max(value for value in known if value is not None)
    if told_apart is None:
        told = [row.told_apart for row in matched]
        told_apart = True if True in told else None if None in told or not told else False
    return SetComparison(item, members, point, rows, spread, told_apart, matched_by, since)


def _judged_since(item: PaperSet, members: Sequence[PaperTube | None]) -> Iterator[str]:
    for tube in members:
        if tube is None or item.made_at is None:
            continue
        if any(result.made_at > item.made_at for result in tube.sweeps):
            yield tube.serial


def said_of_set(comparison: SetComparison) -> str:
    """Return in a sentence whether the bench can tell the tubes of a set apart."""
    if comparison.told_apart is None:
        return f"Not known: {_why_unknown(comparison)}."
    if comparison.told_apart:
        apart = [row for row in comparison.rows if row.told_apart and row.name in MATCHED_BY]
        where = ", ".join(_row_name(row) for row in apart)
        return f"Yes{f', by {where}' if where else ''}: the difference is beyond the uncertainty."
    return "No: their differences are within what the uncertainty leaves open."


def against_set(comparison: SetComparison) -> Iterator[str]:
    """Yield what has happened to the tubes of a set since it was made, a sentence each."""
    rejects = [t.serial for t in comparison.tubes if t and t.verdict is Verdict.REJECT]
    if rejects:
        yield f"Rejected: {', '.join(rejects)}."
    if comparison.since:
        yield f"Measured or judged again since: {', '.join(comparison.since)}."


def _why_unknown(comparison: SetComparison) -> str:
    missing = [
        plain(member.serial)
        for member, tube in zip(comparison.of.members, comparison.tubes, strict=True)
        if tube is None or not tube.sweeps
    ]
    if missing:
        return f"no sweep of {', '.join(missing)} is at hand"
    if comparison.point is None:
        return "they were not measured at one and the same point"
    return "a value or its uncertainty is missing"


def _row_name(row: SideBySide) -> str:
    section = f" of section {plain(row.section)}" if row.section else ""
    return f"{row.quantity.name}{section}"


def _shared_point(tubes: Sequence[PaperTube | None]) -> OperatingPoint | None:
    points = [
        result.figures.operating_point
        for tube in tubes
        for result in (tube.sweeps if tube is not None else ())
    ]
    measured = [point for point in points if point is not None]
    if not measured or len(measured) < len(points) or None in tubes:
        return None
    if any(tube is not None and not tube.sweeps for tube in tubes):
        return None
    first = measured[0]
    same = all(
        math.isclose(point.plate_voltage, first.plate_voltage, abs_tol=_SAME_POINT)
        and math.isclose(point.grid_voltage, first.grid_voltage, abs_tol=_SAME_POINT)
        and point.screen_voltage == first.screen_voltage
        for point in measured
    )
    return first if same else None


def _rows(tubes: Sequence[PaperTube | None]) -> tuple[SideBySide, ...]:
    sections = sorted(
        {result.section for tube in tubes if tube is not None for result in tube.sweeps},
        key=lambda name: name or "",
    )
    return tuple(
        _row(section, name, quantity, tubes)
        for section in sections
        for name, quantity in CONSTANT_QUANTITIES
    )


def _row(
    section: str | None, name: str, quantity: Quantity, tubes: Sequence[PaperTube | None]
) -> SideBySide:
    sides = tuple(_side(tube, section, name) for tube in tubes)
    known = [side.constant for side in sides if side.constant is not None]
    values = [constant.value for constant in known if constant.value is not None]
    complete = len(values) == len(sides) and len(values) > 1 and sum(values) != 0
    spread = (max(values) - min(values)) / abs(sum(values) / len(values)) if complete else None
    return SideBySide(
        section, name, quantity, sides, spread, _told_apart(known) if complete else None
    )


def _side(tube: PaperTube | None, section: str | None, name: str) -> Side:
    found = next((r for r in tube.sweeps if r.section == section), None) if tube else None
    if found is None:
        return Side(None)
    constant: Constant = getattr(found.figures.constants, name)
    return Side(constant, found.figures.of_bogey.get(name))


def _told_apart(constants: Sequence[Constant]) -> bool | None:
    unknown = False
    for one, other in combinations(constants, 2):
        if one.value is None or other.value is None or one.u95 is None or other.u95 is None:
            unknown = True
        elif abs(one.value - other.value) > math.hypot(one.u95, other.u95):
            return True
    return None if unknown else False
