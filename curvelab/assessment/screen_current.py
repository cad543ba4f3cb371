"""What a metered screen draws at the operating point, beside what the type's screen does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from curvelab.assessment.records import OperatingPoint, ScreenAtPoint
from curvelab.fitting.local_pentode import local_pentode_constants
from curvelab.fitting.records import FitResult
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.points import printed_with_screen
from curvelab.reference.records import TubeType
from curvelab.sweep.records import Readings

__all__ = ["screen_at_point"]


def screen_at_point(
    readings: Readings,
    fit: FitResult,
    point: OperatingPoint | None,
    tube_type: TubeType | None,
    family: ReferenceFamily | None,
) -> ScreenAtPoint | None:
    """Return the screen's current at a point, by the local quadratic; None if none was metered.

    The law divides the cathode's current for all tubes alike; what this one's screen takes is said
    by its own readings alone.

    Parameters
    ----------
    family : ReferenceFamily or None
        As seen at the screen voltage of the point.
    """
    drawn, screen = readings.screen_current, readings.screen_voltage
    if point is None or point.screen_voltage is None or drawn is None or screen is None:
        return None
    if fit.hull is None:
        return None
    at = (point.plate_voltage, point.grid_voltage)
    if not bool(fit.hull.contains(np.array(at[0]), np.array(at[1]))):
        return None
    metered = readings.take(fit.used & np.isfinite(drawn) & np.isfinite(screen))
    if not len(metered):
        return None
    assert metered.screen_current is not None
    as_plate = replace(metered, plate_current=metered.screen_current)
    current = local_pentode_constants(as_plate, at, point.screen_voltage).plate_current
    if current.value is None:
        return None
    printed = tube_type and printed_with_screen(tube_type, *at, point.screen_voltage)
    own = None
    if family is not None and family.screen_voltage is not None:
        own = float(family.screen_current(np.array([at[0]]), np.array([at[1]]))[0])
    return ScreenAtPoint(
        current=current,
        dissipation=current.value * point.screen_voltage,
        printed=printed.screen_current if printed else None,
        of_family=own,
    )
