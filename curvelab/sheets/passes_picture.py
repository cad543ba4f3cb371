"""The plots of a sweep taken up and down: both ways, and how far apart they are."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.health.limits import HouseLimits
from curvelab.quantities import MILLIAMPERE, PLATE_CURRENT, PLATE_VOLTAGE
from curvelab.sheets.plot_parts import marks_of
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import trimmed, volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["passes_pictures", "why_no_passes"]

_STRONG = 0.1  # of the largest current: below it a difference in percent says nothing
_LEAST_SPAN = 1.5  # of the limit: passes that agree must look so


def why_no_passes(assessment: Assessment) -> str | None:
    """Return why the passes of a sweep cannot be told apart, or None where they can."""
    direction = assessment.sweep.readings.direction
    if direction is None or not (direction != 0).any():
        return "the file does not say which readings belong to a way up and which to a way down"
    if not ((direction > 0).any() and (direction < 0).any()):
        return "the plate voltage was swept one way only"
    return None


def passes_pictures(assessment: Assessment, limits: HouseLimits) -> tuple[CurvePicture, ...]:
    """Return the plate curves of both passes, and below them their difference in percent.

    The difference is the way down over the way up, minus one, at the plate voltages where
    the way up was read.
    """
    readings = assessment.sweep.readings
    curves = split_curves(readings)
    plate, current = readings.plate_voltage, readings.plate_current / MILLIAMPERE.si
    x = round_axis(PLATE_VOLTAGE.axis_label, 0.0, float(plate.max()))
    ways = tuple(_ways(readings, curves))
    both = CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=round_axis(PLATE_CURRENT.axis_label, 0.0, float(current.max())),
        series=ways,
        marks=marks_of(assessment.findings, plate, current),
        step_count=curves.grid_voltage.size,
    )
    apart = tuple(_differences(readings, curves))
    limit = limits.pass_disagreement
    level = Series(
        Role.LIMIT,
        f"limit {trimmed(limit.printed)} %",
        np.array([x.low, x.high]),
        np.full(2, limit.printed),
    )
    return both, CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=_difference_axis(apart, limit.printed),
        series=(level, *apart),
        marks=(),
        step_count=curves.grid_voltage.size,
    )


def _way(readings: Readings, curves: Curves, step: int, sign: int) -> IntArray:
    """Return the readings of one pass of one grid step, by plate voltage."""
    assert readings.direction is not None
    at = np.flatnonzero((curves.step == step) & (np.sign(readings.direction) == sign))
    return at[np.argsort(readings.plate_voltage[at], kind="stable")]


def _ways(readings: Readings, curves: Curves) -> Iterator[Series]:
    plate, current = readings.plate_voltage, readings.plate_current / MILLIAMPERE.si
    for step, grid in enumerate(curves.grid_voltage.tolist()):
        label = f"{volts(round(grid, 2))} V"
        for role, sign in ((Role.UP_PASS, 1), (Role.DOWN_PASS, -1)):
            at = _way(readings, curves, step, sign)
            if at.size:
                yield Series(role, label, plate[at], current[at], step, role is Role.UP_PASS, at)
                yield Series(Role.MEASURED, label, plate[at], current[at], step, readings=at)


def _differences(readings: Readings, curves: Curves) -> Iterator[Series]:
    """Yield for each grid step by how many percent the way down lies above the way up."""
    plate, current = readings.plate_voltage, readings.plate_current
    least = _STRONG * float(current.max())
    for step, grid in enumerate(curves.grid_voltage.tolist()):
        up, down = (_way(readings, curves, step, sign) for sign in (1, -1))
        if up.size < 2 or down.size < 2:
            continue
        back = np.interp(plate[up], plate[down], current[down], np.nan, np.nan)
        strong = (current[up] > least) & np.isfinite(back)
        up, back = up[strong], back[strong]
        if up.size:
            percent = 100 * (back / current[up] - 1)
            label = f"{volts(round(grid, 2))} V"
            if up.size > 1:
                yield Series(Role.FITTED, label, plate[up], percent, step, end_label=True)
            yield Series(Role.MEASURED, label, plate[up], percent, step, readings=up)


def _difference_axis(series: tuple[Series, ...], limit: float) -> Axis:
    values: FloatArray = np.concatenate([line.y for line in series] or [np.zeros(1)])
    high = max(float(values.max()), _LEAST_SPAN * limit)
    return round_axis("down over up (%)", min(float(values.min()), -limit), high, intervals=4)
