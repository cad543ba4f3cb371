"""The plot of plate curves: plate current against plate voltage, a curve a grid step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import MILLIAMPERE, PLATE_CURRENT, PLATE_VOLTAGE
from curvelab.reference.band import tolerance_band
from curvelab.reference.records import TubeType
from curvelab.sheets.plot_parts import (
    LINE_POINTS,
    MOST_POINTS,
    at_shown_screen,
    backed_runs,
    family_milliamperes,
    marks_of,
    rating_label,
    reference_name,
    screen_words,
    thinned,
)
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import trimmed, volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["current_axis", "plate_picture", "rating_lines"]

_RATING_REACH = 1.25  # a rating this far beyond the readings is still shown
_FAMILY_REACH = 1.25  # the axis grows this far to keep the reference family in sight
_BAR = 0.008  # half the width of a tolerance's ends, of the axis
_MOST_STEPS = 40  # more curves than this are not told apart


def plate_picture(assessment: Assessment) -> CurvePicture:
    """Return the plate curves of a tube over the family it was compared with.

    The reference family is drawn at the tube's own grid steps, over the whole axis; the
    fitted curves only as far as their step was measured.
    """
    readings = assessment.sweep.readings
    plate, current = readings.plate_voltage, readings.plate_current / MILLIAMPERE.si
    shown = np.where(at_shown_screen(assessment), plate, np.nan)
    curves = split_curves(readings)
    steps = thinned(curves.grid_voltage.size, _MOST_STEPS)
    fitted = tuple(_fitted(assessment.fit.family, curves, steps, shown))
    words = filter(None, (PLATE_VOLTAGE.axis_label, screen_words(assessment)))
    x = _plate_axis(plate, assessment.tube_type, " at ".join(words))
    reference = tuple(_reference(assessment.reference, curves, steps, x.high))
    y = current_axis(current, reference, float(plate.max(initial=0.0)))
    unlabelled = set(steps.tolist()) - {series.step for series in fitted}
    series = (
        *reference,
        *_tolerance(assessment, x, y),
        *rating_lines(assessment.tube_type, x, y),
        *fitted,
        *_points(assessment, shown, curves, current, unlabelled),
    )
    return CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=y,
        series=series,
        marks=marks_of(assessment.findings, shown, current),
        step_count=curves.grid_voltage.size,
        reference_label=reference_name(assessment),
    )


def _plate_axis(plate: FloatArray, tube_type: TubeType | None, words: str) -> Axis:
    low, high = min(0.0, float(plate.min(initial=0.0))), float(plate.max(initial=0.0))
    limit = tube_type.rating("plate_voltage") if tube_type else None
    if limit is not None and high < limit.value <= _RATING_REACH * high:
        high = limit.value
    return round_axis(words, low, high)


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


def _fitted(
    family: PlateFamily | None, curves: Curves, steps: IntArray, plate: FloatArray
) -> Iterator[Series]:
    """Yield the fitted curve of each of ``steps``, as far as the step was measured."""
    low, high = np.full((2, curves.grid_voltage.size), np.nan)
    np.fmin.at(low, curves.step, plate)
    np.fmax.at(high, curves.step, plate)
    steps = steps[high[steps] > low[steps]]
    if family is None or not steps.size:
        return
    x = np.linspace(low[steps], high[steps], LINE_POINTS, axis=1)
    yield from _lines(Role.FITTED, family, curves, steps, x)


def _reference(
    family: PlateFamily | None, curves: Curves, steps: IntArray, highest: float
) -> Iterator[Series]:
    """Yield the reference family's curve at each of ``steps``, over the whole axis."""
    if family is None or not steps.size:
        return
    x = np.linspace(highest / 200, highest, LINE_POINTS)
    for line in _lines(Role.REFERENCE, family, curves, steps, np.tile(x, (steps.size, 1))):
        grid = np.full(line.x.size, curves.grid_voltage[line.step or 0])
        for part, backed in backed_runs(family.covers(line.x, grid)):
            role = Role.REFERENCE if backed else Role.REFERENCE_EXTRAPOLATED
            yield replace(line, role=role, x=line.x[part], y=line.y[part])


def _tolerance(assessment: Assessment, x: Axis, y: Axis) -> Iterator[Series]:
    """Yield the tolerance of the type's plate current as a bar, where it lies on the axes."""
    tube_type, family = assessment.tube_type, assessment.reference
    if tube_type is None or family is None or family.type_name != tube_type.name:
        return
    band = tolerance_band(tube_type, family)
    if band is None or not x.low < band.plate_voltage < x.high:
        return
    ends = [band.family_current if end is None else end for end in (band.least, band.most)]
    low, high = (end / MILLIAMPERE.si for end in ends)
    if high > y.high:
        return
    across = _BAR * (x.high - x.low)
    at = band.plate_voltage + across * np.array([-1, 1, 0, 0, -1, 1])
    label = f"tolerance at {volts(band.plate_voltage)} V, {volts(round(band.grid_voltage, 2))} V"
    yield Series(Role.TOLERANCE, label, at, np.array([low, low, low, high, high, high]))


def _lines(
    role: Role, family: PlateFamily, curves: Curves, steps: IntArray, x: FloatArray
) -> Iterator[Series]:
    grid = curves.grid_voltage[steps]
    for step, label, across, level in zip(
        steps.tolist(),
        map(_step_label, grid),
        x,
        family_milliamperes(family, x, grid[:, None]),
        strict=True,
    ):
        known = np.isfinite(level)
        if known.sum() > 1:
            end_label = role is Role.FITTED
            yield Series(role, label, across[known], level[known], step, end_label)


def _points(
    assessment: Assessment,
    plate: FloatArray,
    curves: Curves,
    current: FloatArray,
    labelled: set[int],
) -> Iterator[Series]:
    """Yield the readings of each step, those in the fit and those left out of it."""
    used = assessment.fit.used.astype(np.bool_)
    for role, part in ((Role.MEASURED, used), (Role.LEFT_OUT, ~used)):
        at = np.flatnonzero(part & np.isfinite(plate))
        at = at[thinned(at.size, MOST_POINTS)]
        at = at[np.lexsort((plate[at], curves.step[at]))]
        for group in np.split(at, np.flatnonzero(np.diff(curves.step[at])) + 1):
            if not group.size:
                continue
            step = int(curves.step[group[0]])
            label = _step_label(curves.grid_voltage[step])
            ends = role is Role.MEASURED and step in labelled
            yield Series(role, label, plate[group], current[group], step, ends, group)


def rating_lines(tube_type: TubeType | None, x: Axis, y: Axis) -> Iterator[Series]:
    """Yield the dissipation hyperbola Vp Ip = Pmax and the maximum plate voltage."""
    if tube_type is None:
        return
    dissipation = tube_type.rating("plate_dissipation")
    if dissipation is not None and y.high > 0 and x.high > 0:
        start = dissipation.value / (y.high * MILLIAMPERE.si)  # where it enters the plot
        if start < x.high:
            along: NDArray[np.float64] = np.geomspace(start, x.high, LINE_POINTS)
            level = dissipation.value / along / MILLIAMPERE.si
            label = rating_label(f"{trimmed(dissipation.value)} W", dissipation)
            yield Series(Role.DISSIPATION, label, along, level)
    voltage = tube_type.rating("plate_voltage")
    if voltage is not None and voltage.value <= x.high:
        at = np.full(2, voltage.value)
        label = rating_label(f"{volts(voltage.value)} V", voltage)
        yield Series(Role.PLATE_LIMIT, label, at, np.array([y.low, y.high]))
