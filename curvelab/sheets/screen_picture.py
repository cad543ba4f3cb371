"""The plot of a metered screen's current against plate voltage, under that of the plate's."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.quantities import MILLIAMPERE, SCREEN_CURRENT
from curvelab.sheets.plot_parts import (
    LINE_POINTS,
    MOST_POINTS,
    at_shown_screen,
    backed_runs,
    rating_label,
    thinned,
)
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import trimmed, volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import FloatArray

__all__ = ["screen_picture"]

_ROOM = 1.06  # above the highest
_RATING_REACH = 1.25  # a rating this far above the readings is still shown


class _WithScreen(Protocol):
    def screen_current(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray: ...


def screen_picture(assessment: Assessment, x: Axis) -> CurvePicture | None:
    """Return screen current against plate voltage, a curve a grid step; None if not metered.

    Lines are the law's: its division of the cathode's current is the same for every tube of this
    kind, so that points may lie beside them.

    Parameters
    ----------
    x : Axis
        Of the plot above it.
    """
    readings, family = assessment.sweep.readings, assessment.fit.family
    if readings.screen_current is None or not isinstance(family, PentodeFamily):
        return None
    shown = at_shown_screen(assessment) & np.isfinite(readings.screen_current)
    if not shown.any():
        return None
    curves, current = split_curves(readings), readings.screen_current / MILLIAMPERE.si
    limit = tuple(_limit(assessment, family.screen_voltage, float(current[shown].max()), x))
    least = min(0.0, float(current[shown].min()))
    most = max([float(current[shown].max()), *(float(line.y[0]) for line in limit)])
    series = (
        *_reference(assessment, curves, shown, x),
        *limit,
        *_fitted(family, curves, shown, readings.plate_voltage),
        *_points(assessment, curves, shown, current),
    )
    return CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=round_axis(SCREEN_CURRENT.axis_label, least, _ROOM * most),
        series=series,
        marks=(),
        step_count=curves.grid_voltage.size,
    )


def _fitted(
    family: _WithScreen, curves: Curves, shown: np.ndarray, plate: FloatArray
) -> Iterator[Series]:
    for step, grid in enumerate(curves.grid_voltage.tolist()):
        own = plate[shown & (curves.step == step)]
        if own.size > 1 and np.ptp(own) > 0:
            along = np.linspace(own.min(), own.max(), LINE_POINTS)
            yield Series(Role.FITTED, _label(grid), along, _drawn(family, along, grid), step)


def _reference(
    assessment: Assessment, curves: Curves, shown: np.ndarray, x: Axis
) -> Iterator[Series]:
    family = assessment.reference
    if family is None or family.screen_voltage is None:
        return
    along = np.linspace(x.high / 200, x.high, LINE_POINTS)
    for step in np.unique(curves.step[shown]).tolist():
        grid = float(curves.grid_voltage[step])
        level = _drawn(family, along, grid)
        for part, backed in backed_runs(family.covers(along, np.full(along.size, grid))):
            role = Role.REFERENCE if backed else Role.REFERENCE_EXTRAPOLATED
            yield Series(role, _label(grid), along[part], level[part], step)


def _points(
    assessment: Assessment, curves: Curves, shown: np.ndarray, current: FloatArray
) -> Iterator[Series]:
    plate, used = assessment.sweep.readings.plate_voltage, assessment.fit.used.astype(bool)
    for role, part in ((Role.MEASURED, used), (Role.LEFT_OUT, ~used)):
        at = np.flatnonzero(part & shown)
        at = at[thinned(at.size, MOST_POINTS)]
        for step in np.unique(curves.step[at]).tolist():
            own = at[curves.step[at] == step]
            own = own[np.argsort(plate[own], kind="stable")]
            label = _label(float(curves.grid_voltage[step]))
            yield Series(role, label, plate[own], current[own], step, readings=own)


def _limit(assessment: Assessment, screen: float, highest: float, x: Axis) -> Iterator[Series]:
    """Yield the current at which the screen dissipates what is rated, where it is near."""
    known = assessment.tube_type
    rated = known.rating("screen_dissipation") if known is not None else None
    if rated is None or screen <= 0:
        return
    level = rated.value / screen / MILLIAMPERE.si
    if level <= _RATING_REACH * highest:
        label = rating_label(f"screen, maximum {trimmed(rated.value)} W", rated)
        yield Series(Role.LIMIT, label, np.array([x.low, x.high]), np.full(2, level))


def _drawn(family: _WithScreen, plate: FloatArray, grid: float) -> FloatArray:
    return family.screen_current(plate, np.full(plate.size, grid)) / MILLIAMPERE.si


def _label(grid: float) -> str:
    return f"{volts(round(grid, 2))} V"
