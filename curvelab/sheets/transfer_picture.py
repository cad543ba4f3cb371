"""The plot of a transfer curve: plate current against grid voltage at one plate voltage."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import GRID_VOLTAGE, MILLIAMPERE
from curvelab.sheets.plate_picture import current_axis
from curvelab.sheets.plot_parts import (
    LINE_POINTS,
    at_shown_screen,
    family_milliamperes,
    marks_of,
    points_of,
    reference_name,
    screen_words,
)
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import volts
from curvelab.sheets.ticks import round_axis
from curvelab.sweep.records import FloatArray, Readings

__all__ = ["is_transfer_curve", "transfer_picture"]

_SAME_PLATE = 0.01  # of the plate voltage: a supply sags a little as the current rises
_LEAST_GRID = 0.1  # [V]


def is_transfer_curve(readings: Readings) -> bool:
    """Tell whether only the grid voltage was swept."""
    if len(readings) < 2:
        return False
    plate, grid = readings.plate_voltage, readings.grid_voltage
    same = bool(np.ptp(plate) <= _SAME_PLATE * np.abs(plate).max())
    return same and bool(np.ptp(grid) > _LEAST_GRID)


def transfer_picture(assessment: Assessment) -> CurvePicture:
    """Return plate current against grid voltage, over the reference family's curve."""
    readings = assessment.sweep.readings
    grid, current = readings.grid_voltage, readings.plate_current / MILLIAMPERE.si
    plate = float(np.median(readings.plate_voltage))
    shown = at_shown_screen(assessment)
    volts_held = filter(None, (f"Vp {volts(round(plate, 1))} V", screen_words(assessment)))
    label = f"{GRID_VOLTAGE.axis_label} at {', '.join(volts_held)}"
    x = round_axis(label, float(grid.min()), float(grid.max()))
    reference = tuple(_line(Role.REFERENCE, assessment.reference, plate, (x.low, x.high)))
    fitted = _line(Role.FITTED, assessment.fit.family, plate, (grid.min(), grid.max()))
    placed = np.where(shown, grid, np.nan)
    left_out = ~assessment.fit.used.astype(np.bool_)
    return CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=current_axis(current, reference, x.high),
        series=(*reference, *fitted, *points_of(placed, current, left_out, "")),
        marks=marks_of(assessment.findings, placed, current),
        step_count=1,
        reference_label=reference_name(assessment),
    )


def _line(
    role: Role, family: PlateFamily | None, plate: float, ends: tuple[float, float]
) -> Iterator[Series]:
    if family is None:
        return
    x: FloatArray = np.linspace(*ends, LINE_POINTS)
    y = family_milliamperes(family, np.full(x.size, plate), x)
    known = np.isfinite(y)
    if known.sum() > 1:
        yield Series(role, "", x[known], y[known])
