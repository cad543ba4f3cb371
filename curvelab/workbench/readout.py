"""What a family says at a point of the plot: the grid voltage there, and the constants."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import MILLIAMPERE
from curvelab.sheets.transfer_picture import is_transfer_curve
from curvelab.sweep.records import SweepKind

__all__ = ["Readout", "read_at_current", "read_at_cursor", "read_at_grid", "read_family"]

_CANDIDATES = 41
_ROUNDS = 3  # each divides the bracket by 40: a range of 100 V is known to 1.6 mV
_BEYOND = 0.5  # the grid is looked for this share of the swept range beyond it


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
    low, high = grid_range
    margin = _BEYOND * max(high - low, 1.0)
    low, high = low - margin, high + margin
    for _ in range(_ROUNDS):
        grid = np.linspace(low, high, _CANDIDATES)
        above = family.current(np.full(grid.size, plate_voltage), grid) >= plate_current
        first = int(np.argmax(above))
        if not above[first] or first == 0:
            return Readout(plate_voltage, plate_current)
        low, high = float(grid[first - 1]), float(grid[first])
    return read_at_grid(family, plate_voltage, (low + high) / 2, plate_current)


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


def _family_of(assessment: Assessment) -> PlateFamily | None:
    """Return the fitted family, else the reference; None for a log and without readings."""
    if assessment.sweep.kind is SweepKind.DRIFT_LOG or not len(assessment.sweep.readings):
        return None
    return assessment.fit.family or assessment.reference
