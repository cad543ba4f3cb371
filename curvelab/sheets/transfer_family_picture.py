"""The plot of transfer curves: plate current against grid voltage, a curve a plate voltage."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import GRID_VOLTAGE, MILLIAMPERE
from curvelab.sheets.between_readings import StepReadings, grid_steps
from curvelab.sheets.plate_picture import current_axis
from curvelab.sheets.plot_parts import (
    LINE_POINTS,
    family_milliamperes,
    marks_of,
    reference_name,
)
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import volts
from curvelab.sheets.ticks import round_axis
from curvelab.sweep.records import FloatArray

__all__ = ["transfer_family_picture"]

_MOST = 8  # curves: more are not told apart


def transfer_family_picture(
    assessment: Assessment, plate_voltages: Sequence[float] = ()
) -> CurvePicture:
    """Return the transfer curves of a tube whose plate voltage was swept.

    Points are readings, or lie between two neighbouring ones of a grid step. The fitted
    curves go as far as the readings cover them.

    Parameters
    ----------
    plate_voltages : sequence of float
        [V]; chosen among those swept where empty.
    """
    readings = assessment.sweep.readings
    steps = grid_steps(readings, assessment.fit)
    levels = tuple(plate_voltages) or _plate_voltages(steps)
    grid, current = readings.grid_voltage, readings.plate_current / MILLIAMPERE.si
    x = round_axis(GRID_VOLTAGE.axis_label, float(grid.min()), float(grid.max()))
    along: FloatArray = np.linspace(float(grid.min()), float(grid.max()), LINE_POINTS)
    fitted = tuple(_lines(Role.FITTED, assessment.fit.family, levels, along))
    whole: FloatArray = np.linspace(x.low, x.high, LINE_POINTS)
    reference = tuple(_lines(Role.REFERENCE, assessment.reference, levels, whole))
    points = tuple(_points(steps, levels, {line.step for line in fitted}))
    drawn = [line.y for line in (*fitted, *points)] or [current]
    return CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=current_axis(np.concatenate(drawn), reference, x.high),
        series=(*reference, *fitted, *points),
        marks=marks_of(assessment.findings, grid, current),
        step_count=len(levels),
        reference_label=reference_name(assessment),
        levels=levels,
    )


def _plate_voltages(steps: Sequence[StepReadings]) -> tuple[float, ...]:
    """Return those swept where they are few, as in a sweep of the grid, else round ones."""
    if not steps:
        return ()
    every = np.concatenate([np.round(step.plate_voltage, 1) for step in steps])
    values, counts = np.unique(every, return_counts=True)
    high = float(values[-1])
    shared = values[(counts >= max(2, len(steps) // 2)) & (values > 0)]
    if 0 < shared.size <= _MOST:
        return tuple(shared.tolist())
    ticks = np.array(round_axis("", 0.0, high, intervals=9).ticks)
    return tuple(ticks[(ticks > 0) & (ticks <= high)].tolist())


def _label(plate_voltage: float) -> str:
    return f"{volts(round(plate_voltage, 1))} V"


def _lines(
    role: Role, family: PlateFamily | None, levels: Sequence[float], along: FloatArray
) -> Iterator[Series]:
    if family is None or not levels:
        return
    plate, grid = np.meshgrid(np.array(levels), along, indexing="ij")
    current = family_milliamperes(family, plate, grid)
    known = np.isfinite(current)
    if role is Role.FITTED:
        known &= family.covers(plate, grid)
    for step, level in enumerate(levels):
        part = known[step]
        if part.sum() > 1:
            ends = role is Role.FITTED
            yield Series(role, _label(level), along[part], current[step, part], step, ends)


def _points(
    steps: Sequence[StepReadings], levels: Sequence[float], labelled: set[int | None]
) -> Iterator[Series]:
    if not steps or not levels:
        return
    grid = np.array([step.grid_voltage for step in steps])
    table = np.array([step.currents_at(np.array(levels)) for step in steps]) / MILLIAMPERE.si
    for number, level in enumerate(levels):
        known = np.isfinite(table[:, number])
        if known.any():
            yield Series(
                Role.MEASURED,
                _label(level),
                grid[known],
                table[known, number],
                number,
                number not in labelled,
            )
