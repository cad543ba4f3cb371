"""A tube's constants as functions: along a constant plate voltage, and over the plane."""

from __future__ import annotations

import numpy as np

from curvelab.assessment.connection import SCREEN_NOT_STATED, has_screen_grid, screen_known
from curvelab.assessment.records import Assessment
from curvelab.fitting.constant_map import ConstantMap, constants_over
from curvelab.fitting.hull import Hull
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.records import FloatArray, SweepKind

__all__ = [
    "constants_along_current",
    "constants_over_plane",
    "usual_plate_voltage",
    "why_no_course",
]

ALONG = 41
OVER = (25, 21)  # plate by grid volts
_LOOKED_AT = 801  # grid voltages among which those of the wanted currents are found


def why_no_course(assessment: Assessment) -> str | None:
    """Return why a tube has no constants as functions, or None where it has."""
    if assessment.sweep.kind is SweepKind.DRIFT_LOG:
        return "a drift log stays at one point"
    if has_screen_grid(assessment.sweep) and not screen_known(assessment.sweep):
        return SCREEN_NOT_STATED
    if assessment.fit.hull is None:
        return assessment.fit.reason or "no usable reading"
    return None


def usual_plate_voltage(assessment: Assessment) -> float | None:
    """Return the plate voltage of the operating point [V]."""
    point = assessment.operating_point
    return None if point is None else point.plate_voltage


def constants_along_current(
    assessment: Assessment,
    plate_voltage: float,
    bench: Bench = UNSTATED_BENCH,
    count: int = ALONG,
) -> ConstantMap:
    """Return the constants at one plate voltage [V], in the order of rising plate current.

    From the least to the most current that the readings cover there, in even steps of the
    root of the current, so that the small ones are not passed over; nothing is extrapolated.
    Empty where the readings do not reach that plate voltage.

    Raises
    ------
    ValueError
        If the tube has none; `why_no_course` tells so beforehand.
    """
    hull = _hull(assessment)
    grid = np.linspace(hull.origin[1], hull.origin[1] + hull.span[1], _LOOKED_AT)
    grid = grid[hull.contains(np.full(grid.size, plate_voltage), grid)]
    if grid.size:
        grid = _evenly(assessment, plate_voltage, grid, count)
    plate = np.full(grid.size, plate_voltage)
    return constants_over(assessment.fit, assessment.sweep.readings, plate, grid, bench)


def constants_over_plane(
    assessment: Assessment, bench: Bench = UNSTATED_BENCH, counts: tuple[int, int] = OVER
) -> ConstantMap:
    """Return the constants over the swept rectangle, grid step by grid step.

    Points of it that the readings do not surround are there without a value.

    Raises
    ------
    ValueError
        If the tube has none; `why_no_course` tells so beforehand.
    """
    hull = _hull(assessment)
    plate, grid = (
        np.linspace(low, low + span, count)
        for low, span, count in zip(hull.origin, hull.span, counts, strict=True)
    )
    grids, plates = np.meshgrid(grid, plate, indexing="ij")
    return constants_over(
        assessment.fit, assessment.sweep.readings, plates.ravel(), grids.ravel(), bench
    )


def _hull(assessment: Assessment) -> Hull:
    reason, hull = why_no_course(assessment), assessment.fit.hull
    if reason is not None or hull is None:
        raise ValueError(reason)
    return hull


def _evenly(assessment: Assessment, plate: float, grid: FloatArray, count: int) -> FloatArray:
    """Return the grid voltages at which the current rises in even steps of its root."""
    family = assessment.fit.family
    if family is None:
        return np.linspace(grid[0], grid[-1], count)
    root = np.sqrt(np.maximum(family.current(np.full(grid.size, plate), grid), 0.0))
    rising = np.maximum.accumulate(root)
    return np.interp(np.linspace(rising[0], rising[-1], count), rising, grid)
