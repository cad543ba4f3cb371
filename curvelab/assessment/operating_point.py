"""At which point a tube's constants are taken."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curvelab.assessment.records import OperatingPoint
from curvelab.fitting.hull import Hull
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.screen_steps import usual_screen_voltage
from curvelab.reference.records import HandbookPoint, PentodePoint, TubeType
from curvelab.sweep.records import Readings

__all__ = ["choose_operating_point", "handbook_points", "usual_screen"]

_SAME_SCREEN = 0.02  # share by which a bench's screen supply may miss the handbook's volts


def choose_operating_point(
    readings: Readings,
    hull: Hull | None,
    handbook: Sequence[OperatingPoint],
    at: tuple[float, ...] | None,
    family: PentodeFamily | None = None,
) -> OperatingPoint | None:
    """Return the point given, else the bogey point, else the best covered one.

    The type's bogey point where the sweep covers it; else the covered handbook point of
    highest plate voltage with a negative grid; else, or for an unknown type, the middle
    of the sweep. None where there is no usable reading. The ``family`` of a tube with a screen
    grid tells at which screen voltages a point is covered.
    """
    screen = usual_screen(readings)
    if at is not None:
        return OperatingPoint(at[0], at[1], at[2] if len(at) > 2 else screen, "given")
    if hull is None:
        return None
    for point in handbook:
        if _covered(point, hull, screen, family):
            return point
    # A convex set that touches all sides of its box holds the middle of the box.
    middle = hull.origin + hull.span / 2
    return OperatingPoint(float(middle[0]), float(middle[1]), screen, "sweep")


def _covered(
    point: OperatingPoint, hull: Hull, screen: float | None, family: PentodeFamily | None
) -> bool:
    plate, grid = np.array(point.plate_voltage), np.array(point.grid_voltage)
    if point.screen_voltage is None or screen is None:
        return bool(hull.contains(plate, grid))
    if family is not None:
        return bool(family.at_screen(point.screen_voltage).covers(plate, grid))
    near = abs(point.screen_voltage - screen) < _SAME_SCREEN * screen
    return near and bool(hull.contains(plate, grid))


def handbook_points(
    tube_type: TubeType | None, screen_voltage: float | None, grid_shift: float
) -> list[OperatingPoint]:
    """Return the handbook's points in order of preference, in the grid volts of the file.

    The bogey point comes first; with a screen, only points that print its voltage count.

    Parameters
    ----------
    grid_shift : float
        What the file's grid volts lack to be the sheet's [V].
    """
    if tube_type is None:
        return []
    points: Sequence[HandbookPoint | PentodePoint] = (
        tube_type.points if screen_voltage is None else tube_type.pentode_points
    )
    bogey = [p for p in points if p.bogey]
    others = sorted(
        (p for p in points if not p.bogey and p.grid_voltage < 0),
        key=lambda point: -point.plate_voltage,
    )
    return [
        OperatingPoint(
            point.plate_voltage,
            point.grid_voltage - grid_shift,
            point.screen_voltage if isinstance(point, PentodePoint) else None,
            "handbook",
        )
        for point in bogey + others
    ]


def usual_screen(readings: Readings) -> float | None:
    """Return the screen voltage of most readings [V]; None where none was read."""
    values = readings.screen_voltage
    if values is None or not np.isfinite(values).any():
        return None
    return usual_screen_voltage(values[np.isfinite(values)])
