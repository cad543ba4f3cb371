"""What a family says at a point of the plot: the grid voltage there, and the constants."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import MILLIAMPERE
from curvelab.sheets.plot_records import CurvePicture, Role
from curvelab.sheets.transfer_picture import is_transfer_curve
from curvelab.sweep.records import FloatArray, SweepKind

__all__ = [
    "Readout",
    "nearest_line",
    "read_at_current",
    "read_at_cursor",
    "read_at_grid",
    "read_at_voltages",
    "read_family",
    "read_on_transfer",
]

_CANDIDATES = 41
_ROUNDS = 3  # each divides the bracket by 40: a range of 100 V is known to 1.6 mV
_BEYOND = 0.5  # a voltage is looked for this share of the swept range beyond it
_LINES = (Role.FITTED, Role.PROJECTED, Role.SHARE, Role.UP_PASS, Role.DOWN_PASS)


@dataclass(frozen=True, slots=True)
class Readout:
    """A family at one point. SI units.

    Attributes
    ----------
    plate_voltage, plate_current : float
        [V], [A].
    grid_voltage : float or None
        [V]; None where no grid voltage near those swept gives this current, and then the
        slopes are None too.
    transconductance, plate_resistance, amplification_factor : float or None
        [S], [ohm], [1]; None where a slope is not positive.
    covered : bool
        Whether readings (or a handbook's points) stand behind it.
    of_reference : bool
        Whether the reference family was read, for want of a fitted one.
    """

    plate_voltage: float
    plate_current: float
    grid_voltage: float | None = None
    transconductance: float | None = None
    plate_resistance: float | None = None
    amplification_factor: float | None = None
    covered: bool = False
    of_reference: bool = False


def read_family(
    family: PlateFamily,
    plate_voltage: float,
    plate_current: float,
    grid_range: tuple[float, float],
) -> Readout:
    """Return the constants where a family passes through a point of the plane.

    The grid voltage solves ``family.current(plate_voltage, Vg) = plate_current``, bracketed
    ever closer among grid voltages evaluated together.

    Parameters
    ----------
    plate_voltage, plate_current : float
        [V], [A].
    grid_range : tuple of float
        Lowest and highest grid voltage swept [V].
    """
    plate = np.full(_CANDIDATES, plate_voltage)
    grid = _voltage_at(lambda volts: family.current(plate, volts), plate_current, grid_range)
    if grid is None:
        return Readout(plate_voltage, plate_current)
    return read_at_grid(family, plate_voltage, grid, plate_current)


def _voltage_at(
    current: Callable[[FloatArray], FloatArray], wanted: float, swept: tuple[float, float]
) -> float | None:
    """Return the voltage near those swept at which a rising current is as wanted."""
    low, high = swept
    margin = _BEYOND * max(high - low, 1.0)
    low, high = low - margin, high + margin
    for _ in range(_ROUNDS):
        volts: FloatArray = np.linspace(low, high, _CANDIDATES)
        above = current(volts) >= wanted
        first = int(np.argmax(above))
        if not above[first] or first == 0:
            return None
        low, high = float(volts[first - 1]), float(volts[first])
    return (low + high) / 2


def read_at_grid(
    family: PlateFamily,
    plate_voltage: float,
    grid_voltage: float,
    plate_current: float | None = None,
) -> Readout:
    """Return the constants of a family at electrode voltages [V]."""
    plate, grid = np.array([plate_voltage]), np.array([grid_voltage])
    if plate_current is None:
        plate_current = float(family.current(plate, grid)[0])
    by_plate, by_grid = (float(slope[0]) for slope in family.slopes(plate, grid))
    usable = by_plate > 0 and by_grid > 0
    return Readout(
        plate_voltage=plate_voltage,
        plate_current=plate_current,
        grid_voltage=grid_voltage,
        transconductance=by_grid if usable else None,
        plate_resistance=1 / by_plate if usable else None,
        amplification_factor=(
            float(family.amplification_factor(plate, grid)[0]) if usable else None
        ),
        covered=bool(family.covers(plate, grid)[0]),
    )


def read_at_cursor(assessment: Assessment, x: float, y: float) -> Readout | None:
    """Return what the tube's family says at a point of its plot; None for a drift log.

    Where no family could be fitted, the reference family is read instead.

    Parameters
    ----------
    x, y : float
        In the units of the plot's axes: plate (or, on a transfer curve, grid) voltage [V]
        and plate current [mA].
    """
    family, readings = _family_of(assessment), assessment.sweep.readings
    if family is None:
        return None
    if not is_transfer_curve(readings):
        return read_at_current(assessment, x, y)
    found = read_at_grid(family, float(np.median(readings.plate_voltage)), x)
    return replace(found, of_reference=assessment.fit.family is None)


def read_at_current(
    assessment: Assessment, plate_voltage: float, milliamperes: float
) -> Readout | None:
    """Return what the tube's family says at a plate voltage [V] and current [mA]."""
    family, grid = _family_of(assessment), assessment.sweep.readings.grid_voltage
    if family is None:
        return None
    swept = (float(grid.min()), float(grid.max()))
    found = read_family(family, plate_voltage, milliamperes * MILLIAMPERE.si, swept)
    return replace(found, of_reference=assessment.fit.family is None)


def read_at_voltages(
    assessment: Assessment, plate_voltage: float, grid_voltage: float
) -> Readout | None:
    """Return what the tube's family says at plate and grid volts [V]."""
    family = _family_of(assessment)
    if family is None:
        return None
    found = read_at_grid(family, plate_voltage, grid_voltage)
    return replace(found, of_reference=assessment.fit.family is None)


def read_on_transfer(
    assessment: Assessment, grid_voltage: float, milliamperes: float
) -> Readout | None:
    """Return what the tube's family says at a grid voltage [V] and plate current [mA].

    None too where no plate voltage near those swept gives that current.
    """
    family, plate = _family_of(assessment), assessment.sweep.readings.plate_voltage
    if family is None:
        return None
    grid = np.full(_CANDIDATES, grid_voltage)
    swept = (max(float(plate.min()), 0.0), float(plate.max()))
    found = _voltage_at(
        lambda volts: family.current(np.maximum(volts, 0.0), grid),
        milliamperes * MILLIAMPERE.si,
        swept,
    )
    return None if found is None else read_at_voltages(assessment, found, grid_voltage)


def nearest_line(picture: CurvePicture, x: float, y: float) -> tuple[str, float] | None:
    """Return the name of the line nearest above or below a point of a plot, and its height there.

    None where no line of the tube passes over ``x``.
    """
    heights = [
        (line.label, float(np.interp(x, line.x, line.y)))
        for line in picture.series
        if line.role in _LINES and line.x[0] <= x <= line.x[-1]
    ]
    return min(heights, key=lambda found: abs(found[1] - y), default=None)


def _family_of(assessment: Assessment) -> PlateFamily | None:
    """Return the fitted family, else the reference; None for a log and without readings."""
    if assessment.sweep.kind is SweepKind.DRIFT_LOG or not len(assessment.sweep.readings):
        return None
    return assessment.fit.family or assessment.reference
