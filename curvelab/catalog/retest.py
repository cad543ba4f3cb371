"""A tube that comes back, against its own earlier results."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np

from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.records import Characterisation, FindingMark, TubeHistory
from curvelab.fitting.records import Constant, Constants
from curvelab.health.limits import HouseLimits
from curvelab.sweep.records import SweepKind

__all__ = ["Change", "Retest", "compare_retests"]

_SAME_POINT = 0.01  # [V]
_FOOT = 0.02  # share of the largest current below which a relative distance says nothing


@dataclass(frozen=True, slots=True)
class Change:
    """One constant then and now. SI units.

    Attributes
    ----------
    share : float
        Now over then, minus one.
    normalised : float or None
        Difference over the root of the sum of the squares of both expanded uncertainties,
        the E_n number of ISO 13528:2015, 9.7; beyond 1 the constant has changed. None
        where an uncertainty is missing.
    """

    name: str
    earlier: float
    later: float
    share: float
    normalised: float | None


@dataclass(frozen=True, slots=True)
class Retest:
    """Two results of one section of one tube.

    Attributes
    ----------
    same_point : bool
        Whether both took their constants at one operating point; else ``changes`` is empty.
    same_bench : bool
        Whether one bench made both; between benches the uncertainties of both must be stated
        for ``normalised`` to mean anything.
    curve_distance : float or None
        RMS of the relative difference of plate current where both families are covered.
    another_tube : bool
        Whether the amplification factor moved so far that it is hardly the same tube.
    """

    section: str | None
    earlier_at: datetime
    later_at: datetime
    same_point: bool
    same_bench: bool
    changes: tuple[Change, ...]
    new_findings: tuple[FindingMark, ...]
    gone_findings: tuple[FindingMark, ...]
    curve_distance: float | None
    another_tube: bool


def compare_retests(history: TubeHistory, limits: HouseLimits) -> tuple[Retest, ...]:
    """Compare the newest sweep of each section with the one before it.

    Sections that were swept once only are left out, as are tests under a changed set-up. Of
    each sweep its newest judging counts.
    """
    sections: dict[str | None, list[Characterisation]] = {}
    for measurement in history.measurements:
        usual = measurement.kind is SweepKind.CURVES and measurement.set_up is None
        if usual and measurement.characterisations:
            newest = measurement.characterisations[-1]
            sections.setdefault(measurement.section, []).append(newest)
    return tuple(
        _compare(section, swept[-2], swept[-1], limits)
        for section, swept in sections.items()
        if len(swept) > 1
    )


def _compare(
    section: str | None, earlier: Characterisation, later: Characterisation, limits: HouseLimits
) -> Retest:
    then, now = earlier.figures, later.figures
    same_point = _same_point(earlier, later)
    changes = _changes(then.constants, now.constants) if same_point else ()
    mu = next((change for change in changes if change.name == "amplification_factor"), None)
    return Retest(
        section=section,
        earlier_at=earlier.made_at,
        later_at=later.made_at,
        same_point=same_point,
        same_bench=earlier.bench == later.bench,
        changes=changes,
        new_findings=tuple(mark for mark in now.findings if mark not in then.findings),
        gone_findings=tuple(mark for mark in then.findings if mark not in now.findings),
        curve_distance=_distance(earlier.curves, later.curves),
        another_tube=mu is not None
        and mu.normalised is not None
        and abs(mu.normalised) > 1
        and abs(mu.share) > limits.same_tube.value,
    )


def _same_point(earlier: Characterisation, later: Characterisation) -> bool:
    then, now = earlier.figures.operating_point, later.figures.operating_point
    if then is None or now is None:
        return False
    return (
        abs(then.plate_voltage - now.plate_voltage) <= _SAME_POINT
        and abs(then.grid_voltage - now.grid_voltage) <= _SAME_POINT
    )


def _changes(then: Constants, now: Constants) -> tuple[Change, ...]:
    changes = []
    for item in fields(Constants):
        before: Constant = getattr(then, item.name)
        after: Constant = getattr(now, item.name)
        if before.value is None or after.value is None or before.value == 0:
            continue
        difference = after.value - before.value
        both = None
        if before.u95 is not None and after.u95 is not None:
            both = math.hypot(before.u95, after.u95)
        changes.append(
            Change(
                name=item.name,
                earlier=before.value,
                later=after.value,
                share=difference / before.value,
                normalised=difference / both if both else None,
            )
        )
    return tuple(changes)


def _distance(then: CurveGrid | None, now: CurveGrid | None) -> float | None:
    if then is None or now is None:
        return None
    plate, grid = np.meshgrid(then.plate_voltage, then.grid_voltage)
    before, after = then.plate_current, now.current_at(plate, grid)
    counted = then.covered & np.isfinite(after) & (before > _FOOT * before.max())
    if not counted.any():
        return None
    return float(np.sqrt(np.mean((after[counted] / before[counted] - 1.0) ** 2)))
