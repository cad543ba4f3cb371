"""The plot of constant-current curves: plate voltage against grid voltage at one current."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import GRID_VOLTAGE, MILLIAMPERE, PLATE_VOLTAGE
from curvelab.sheets.between_readings import StepReadings, grid_steps, straightened
from curvelab.sheets.plot_parts import marks_of, reference_name
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import trimmed
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.records import FloatArray

__all__ = ["constant_current_picture"]

_ACROSS, _UP = 41, 61  # grid by plate volts on which a family is looked up


def constant_current_picture(
    assessment: Assessment, plate_currents: Sequence[float] = ()
) -> CurvePicture:
    """Return the constant-current curves of a tube.

    Their slope is the amplification factor, with its sign turned round. Points lie between
    two neighbouring readings of a grid step; fitted curves go as far as the readings cover.

    Parameters
    ----------
    plate_currents : sequence of float
        [A]; round ones up to the largest reading where empty.
    """
    readings = assessment.sweep.readings
    steps = grid_steps(readings, assessment.fit)
    levels = tuple(plate_currents) or _plate_currents(readings.plate_current)
    grid, plate = readings.grid_voltage, readings.plate_voltage
    x = round_axis(GRID_VOLTAGE.axis_label, float(grid.min()), float(grid.max()))
    y = round_axis(PLATE_VOLTAGE.axis_label, min(0.0, float(plate.min())), float(plate.max()))
    swept = (float(grid.min()), float(grid.max()))
    fitted = tuple(_lines(Role.FITTED, assessment.fit.family, levels, swept, y))
    reference = tuple(_lines(Role.REFERENCE, assessment.reference, levels, (x.low, x.high), y))
    return CurvePicture(
        title=assessment.sweep.title,
        x=x,
        y=y,
        series=(*reference, *fitted, *_points(steps, levels, {line.step for line in fitted})),
        marks=marks_of(assessment.findings, grid, plate),
        step_count=len(levels),
        reference_label=reference_name(assessment),
        levels=levels,
    )


def _plate_currents(current: FloatArray) -> tuple[float, ...]:
    """Return round currents [A] below the largest reading."""
    high = float(current.max()) / MILLIAMPERE.si
    if high <= 0:
        return ()
    ticks = np.array(round_axis("", 0.0, high, intervals=10).ticks)
    ticks = ticks[(ticks > 0) & (ticks < high)]
    return tuple((ticks * MILLIAMPERE.si).tolist())


def _label(plate_current: float) -> str:
    return f"{trimmed(MILLIAMPERE.from_si(plate_current))} mA"


def _lines(
    role: Role,
    family: PlateFamily | None,
    levels: Sequence[float],
    grid_range: tuple[float, float],
    y: Axis,
) -> Iterator[Series]:
    """Yield where a family carries each current, by looking it up between close voltages."""
    if family is None or not levels:
        return
    grid: FloatArray = np.linspace(*grid_range, _ACROSS)
    plate: FloatArray = np.linspace(max(y.low, y.high / 500), y.high, _UP)
    current = family.current(plate[None, :], grid[:, None])
    found = _plate_voltages(plate, straightened(current), straightened(np.array(levels)))
    known = np.isfinite(found)
    if role is Role.FITTED:
        safe = np.where(known, found, 0.0)
        known &= family.covers(safe, np.broadcast_to(grid[:, None], safe.shape))
    for step, level in enumerate(levels):
        part = known[:, step]
        if part.sum() > 1:
            ends = role is Role.FITTED
            yield Series(role, _label(level), grid[part], found[part, step], step, ends)


def _plate_voltages(plate: FloatArray, rows: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return for each row of rising values the plate voltage of each one wanted."""
    found = np.full((len(rows), wanted.size), np.nan)
    for number, row in enumerate(np.maximum.accumulate(rows, axis=1)):
        if np.isfinite(row).all():
            found[number] = np.interp(wanted, row, plate, np.nan, np.nan)
    return found


def _points(
    steps: Sequence[StepReadings], levels: Sequence[float], labelled: set[int | None]
) -> Iterator[Series]:
    if not steps or not levels:
        return
    grid = np.array([step.grid_voltage for step in steps])
    table = np.array([step.plate_voltages_at(np.array(levels)) for step in steps])
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
