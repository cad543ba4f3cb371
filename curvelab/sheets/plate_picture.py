"""The plot of plate curves: plate current against plate voltage, a curve a grid step."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import MILLIAMPERE, PLATE_CURRENT, PLATE_VOLTAGE
from curvelab.reference.records import TubeType
from curvelab.sheets.plot_parts import (
    LINE_POINTS,
    family_milliamperes,
    marks_of,
    reference_name,
    thinned,
)
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import trimmed, volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import FloatArray

__all__ = ["current_axis", "plate_picture"]

_RATING_REACH = 1.25  # a rating this far beyond the readings is still shown
_FAMILY_REACH = 1.5  # the axis grows this far to keep the reference family in sight


def plate_picture(assessment: Assessment) -> CurvePicture:
    """Return the plate curves of a tube over the family it was compared with.

    The reference family is drawn at the tube's own grid steps, over the whole axis; the
    fitted curves only as far as their step was measured.
    """
    readings = assessment.sweep.readings
    plate, current = readings.plate_voltage, readings.plate_current / MILLIAMPERE.si
    curves = split_curves(readings)
    fitted = tuple(_fitted(assessment.fit.family, curves, plate))
    x = _plate_axis(plate, assessment.tube_type)
    reference = tuple(_reference(assessment.reference, curves, x.high))
    y = current_axis(current, reference, float(plate.max(initial=0.0)))
    drawn = {series.step for series in fitted}
    series = (
        *reference,
        *_limits(assessment.tube_type, x, y),
        *fitted,
        *_points(assessment, curves, current, drawn),
    )
    return CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=y,
        series=series,
        marks=marks_of(assessment.findings, plate, current),
        step_count=curves.grid_voltage.size,
        reference_label=reference_name(assessment),
    )


def _plate_axis(plate: FloatArray, tube_type: TubeType | None) -> Axis:
    low, high = min(0.0, float(plate.min(initial=0.0))), float(plate.max(initial=0.0))
    limit = tube_type.rating("plate_voltage") if tube_type else None
    if limit is not None and high < limit.value <= _RATING_REACH * high:
        high = limit.value
    return round_axis(PLATE_VOLTAGE.axis_label, low, high)


def current_axis(current: FloatArray, reference: tuple[Series, ...], swept: float) -> Axis:
    """Return the axis of currents: the readings, and the reference family where near."""
    low, high = float(current.min(initial=0.0)), float(current.max(initial=0.0))
    inside = [line.y[line.x <= swept] for line in reference]
    family = max((float(part.max(initial=0.0)) for part in inside), default=0.0)
    if low > -0.02 * high:  # a meter's offset at cut-off is no reason for a negative axis
        low = 0.0
    return round_axis(PLATE_CURRENT.axis_label, low, max(high, min(family, _FAMILY_REACH * high)))


def _step_label(grid_voltage: float) -> str:
    return f"{volts(round(float(grid_voltage), 2))} V"


def _fitted(family: PlateFamily | None, curves: Curves, plate: FloatArray) -> Iterator[Series]:
    if family is None:
        return
    ends = [
        (step, plate[members].min(), plate[members].max())
        for step in range(curves.grid_voltage.size)
        if (members := np.flatnonzero(curves.step == step)).size
    ]
    spans = [(step, low, high) for step, low, high in ends if high > low]
    if not spans:
        return
    steps = np.array([step for step, _, _ in spans])
    along = np.linspace(0.0, 1.0, LINE_POINTS)
    low, high = (np.array([span[end] for span in spans])[:, None] for end in (1, 2))
    x = low + (high - low) * along
    y = family_milliamperes(family, x, curves.grid_voltage[steps][:, None])
    for row, step in enumerate(steps):
        known = np.isfinite(y[row])
        label = _step_label(curves.grid_voltage[step])
        if known.sum() > 1:
            yield Series(Role.FITTED, label, x[row, known], y[row, known], int(step), True)


def _reference(family: PlateFamily | None, curves: Curves, highest: float) -> Iterator[Series]:
    if family is None or not curves.grid_voltage.size:
        return
    x = np.linspace(highest / 200, highest, LINE_POINTS)
    y = family_milliamperes(family, x[None, :], curves.grid_voltage[:, None])
    for step, grid in enumerate(curves.grid_voltage):
        known = np.isfinite(y[step])
        if known.sum() > 1:
            yield Series(Role.REFERENCE, _step_label(grid), x[known], y[step, known], step)


def _points(
    assessment: Assessment, curves: Curves, current: FloatArray, drawn: set[int | None]
) -> Iterator[Series]:
    """Yield measured and left-out points of each step, the latter with the faults' readings."""
    plate, left_out = assessment.sweep.readings.plate_voltage, ~assessment.fit.used.astype(bool)
    keep = np.zeros(len(plate), dtype=bool)
    keep[thinned(len(plate))] = True
    for step, grid in enumerate(curves.grid_voltage):
        inside = (curves.step == step) & (keep | left_out)
        for role, part in ((Role.MEASURED, ~left_out), (Role.LEFT_OUT, left_out)):
            at = np.flatnonzero(inside & part)
            if at.size:
                at = at[np.argsort(plate[at], kind="stable")]
                ends = role is Role.MEASURED and step not in drawn
                yield Series(role, _step_label(grid), plate[at], current[at], step, ends, at)


def _limits(tube_type: TubeType | None, x: Axis, y: Axis) -> Iterator[Series]:
    """Yield the dissipation hyperbola Vp Ip = Pmax and the maximum plate voltage."""
    if tube_type is None:
        return
    dissipation = tube_type.rating("plate_dissipation")
    if dissipation is not None and y.high > 0 and x.high > 0:
        start = dissipation.value / (y.high * MILLIAMPERE.si)  # where it enters the plot
        if start < x.high:
            along: NDArray[np.float64] = np.geomspace(start, x.high, LINE_POINTS)
            level = dissipation.value / along / MILLIAMPERE.si
            label = f"{trimmed(dissipation.value)} W"
            yield Series(Role.DISSIPATION, label, along, level)
    voltage = tube_type.rating("plate_voltage")
    if voltage is not None and voltage.value <= x.high:
        at = np.full(2, voltage.value)
        label = f"{volts(voltage.value)} V"
        yield Series(Role.PLATE_LIMIT, label, at, np.array([y.low, y.high]))
