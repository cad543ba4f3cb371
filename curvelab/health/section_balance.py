"""Section imbalance: the two sections of a dual tube differ too much."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.fitting.constants import constants_at
from curvelab.fitting.records import Constant
from curvelab.health.case import Case
from curvelab.health.evidence import volts, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MILLIAMPERE

__all__ = ["find"]

# Where neither operating point lies in both sweeps, so many points a side are looked through
# for one that does, and at which both carry current to speak of.
_ACROSS, _STRONG = 25, 0.3
_SAME_PLATE, _SAME_GRID = 0.5, 0.05  # what is rounding only [V]


def find(case: Case) -> Iterator[Finding]:
    """Compare plate currents in percent of their mean, at a point that both sweeps cover."""
    other = case.sibling
    at = None if other is None else _common_point(case, other)
    if other is None or at is None or _differ_by_nature(case, other):
        return
    mine, theirs = _current(case, at), _current(other, at)
    if mine.value is None or theirs.value is None or mine.value + theirs.value <= 0:
        return
    mean = 0.5 * (mine.value + theirs.value)
    difference = abs(mine.value - theirs.value) / mean
    limit, source = _limit(case, at)
    if difference <= limit:
        return
    yield Finding(
        code=FindingCode.SECTION_IMBALANCE,
        severity=Severity.CAUTION,
        evidence=(
            f"{_drawn((case, mine.value), (other, theirs.value))} at {volts(at[0])}, "
            f"{volts(at[1])}: they differ by {100 * difference:.0f} % of their mean."
        ),
        value=100 * difference,
        u95=100 * _joint(mine, theirs) / mean,
        unit="%",
        limit=100 * limit,
        limit_source=source,
    )


def _differ_by_nature(case: Case, other: Case) -> bool:
    """Tell whether the sections are of two types: a dissimilar dual triode's are."""
    types = [item.tube_type for item in (case, other)]
    return None not in types and len({item.name for item in types if item is not None}) > 1


def _common_point(case: Case, other: Case) -> tuple[float, float] | None:
    """Return the operating point of either that both cover, else the best point they share."""
    if case.operating_point is not None and case.operating_point == other.operating_point:
        return case.operating_point
    hulls = case.fit.hull, other.fit.hull
    families = case.fit.family, other.fit.family
    if hulls[0] is None or hulls[1] is None or families[0] is None or families[1] is None:
        return None
    # The same point must come first for both sections, so that both say the same.
    own = sorted(item.operating_point for item in (case, other) if item.operating_point)
    low = np.maximum(hulls[0].origin, hulls[1].origin)
    high = np.minimum(hulls[0].origin + hulls[0].span, hulls[1].origin + hulls[1].span)
    plate, grid = (axis.ravel() for axis in np.meshgrid(*np.linspace(low, high, _ACROSS).T))
    plate = np.concatenate(([point[0] for point in own], plate))
    grid = np.concatenate(([point[1] for point in own], grid))
    both = np.flatnonzero(hulls[0].contains(plate, grid) & hulls[1].contains(plate, grid))
    if not both.size:
        return None
    weaker = np.minimum(*(family.current(plate[both], grid[both]) for family in families if family))
    both = both[weaker >= _STRONG * weaker.max()]
    if both[0] < len(own):
        chosen = int(both[0])
    else:  # in the middle of what they share
        middle, span = 0.5 * (low + high), np.maximum(high - low, 1e-9)
        away = np.hypot((plate - middle[0]) / span[0], (grid - middle[1]) / span[1])
        chosen = int(both[np.argmin(away[both])])
    return float(plate[chosen]), float(grid[chosen])


def _current(case: Case, at: tuple[float, float]) -> Constant:
    """Return the plate current at a point, from the constants where they were taken there."""
    if at == case.operating_point:
        return case.constants.plate_current
    return constants_at(case.fit, case.sweep.readings, at).plate_current


def _drawn(*sides: tuple[Case, float]) -> str:
    """Say what each section draws, in the same words for both of them."""
    ordered = sorted(
        (case.sweep.section or "", worded(MILLIAMPERE.from_si(current), "mA"))
        for case, current in sides
    )
    (first, one), (second, other) = ordered
    if not first or first == second:
        return f"The sections draw {one} and {other}"
    return f"Section {first} draws {one} and section {second} {other}"


def _joint(first: Constant, second: Constant) -> float:
    return float(((first.u95 or 0.0) ** 2 + (second.u95 or 0.0) ** 2) ** 0.5)


def _limit(case: Case, at: tuple[float, float]) -> tuple[float, str]:
    """Return the limit printed for this point, or the house's, as a share of the mean."""
    for limit in () if case.tube_type is None else case.tube_type.printed_limits:
        wanted = limit.quantity == "section_balance" and limit.high is not None
        elsewhere = (
            limit.plate_voltage is not None and abs(limit.plate_voltage - at[0]) > _SAME_PLATE
        ) or (limit.grid_voltage is not None and abs(limit.grid_voltage - at[1]) > _SAME_GRID)
        if wanted and not elsewhere and limit.high is not None:
            return limit.high, f"{limit.source}, {limit.condition}"
    house = case.limits.section_balance
    return house.value, house.source
