"""An empty socket: what the meters show at nothing, and what the leads pass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.linear import fit_linear
from curvelab.bench_check.records import Estimate
from curvelab.health.limits import Limit
from curvelab.quantities import MICROAMPERE, VOLT, format_number, format_uncertain
from curvelab.sweep.records import FloatArray, Readings

__all__ = ["EMPTY_SOCKET_CAUTION", "EmptySocketCheck", "check_empty_socket"]

EMPTY_SOCKET_CAUTION = (
    "An empty socket still carries the plate supply's lethal voltage on open contacts. Cover it, "
    "switch off, let the capacitors discharge and measure before putting a tube in."
)

_FEWEST = 3


@dataclass(frozen=True, slots=True)
class EmptySocketCheck:
    """Zeros and leakages with no tube in the socket.

    Attributes
    ----------
    plate_zero : Estimate or None
        Plate current shown at no voltage [A].
    plate_leads : Estimate or None
        Conductance of the plate lead [S]; None where the plate voltage was not varied.
    grid_zero : Estimate or None
        Grid current shown at no voltage [A]; None where none was logged.
    grid_leads : Estimate or None
        Conductance between plate and grid lead [S]: grid current is reverse.
    highest_voltage : float
        Of the plate [V]; leakages are judged there.
    clean : bool or None
        Whether every one of them is within its limit; None where nothing can be said.
    """

    plate_zero: Estimate | None
    plate_leads: Estimate | None
    grid_zero: Estimate | None
    grid_leads: Estimate | None
    highest_voltage: float
    clean: bool | None
    sentences: tuple[str, ...]


def check_empty_socket(
    readings: Readings,
    limits: CheckLimits,
    *,
    plate_resolution: float = 0.0,
    grid_resolution: float = 0.0,
) -> EmptySocketCheck:
    """Judge the readings of an empty socket.

    Plate lead: Ip = zero + G Vp. Grid lead: Ig = zero + G (Vg - Vp) + G' Vg, whose last term
    is only told where the grid voltage was varied.

    Parameters
    ----------
    plate_resolution, grid_resolution : float
        Last digits of the meters [A].
    """
    top = float(np.abs(readings.plate_voltage).max(initial=0.0))
    plate = _fit_plate(readings, plate_resolution)
    grid = _fit_grid(readings, grid_resolution)
    if plate is None:
        few = f"{len(readings)} readings: an empty socket needs {_FEWEST} or more."
        return EmptySocketCheck(None, None, None, None, top, None, (few,))
    judged = [
        _judged("The plate ammeter shows", plate[0], "with no voltage", limits.plate_zero),
        _judged_leads("plate", plate[1], top, limits.plate_leakage),
    ]
    if grid is None:
        judged.append((None, "No grid current was logged: the grid lead is not judged."))
    else:
        judged += [
            _judged("The grid ammeter shows", grid[0], "with no voltage", limits.grid_zero),
            _judged_leads("grid", grid[1], top, limits.grid_leakage),
        ]
    known = [good for good, _ in judged if good is not None]
    return EmptySocketCheck(
        plate_zero=plate[0],
        plate_leads=plate[1],
        grid_zero=grid[0] if grid else None,
        grid_leads=grid[1] if grid else None,
        highest_voltage=top,
        clean=all(known),
        sentences=tuple(sentence for _, sentence in judged),
    )


def _varied(voltage: FloatArray) -> bool:
    return bool(np.ptp(voltage) > 0.05 * np.abs(voltage).max() and np.ptp(voltage) > 1.0)


def _fit_plate(readings: Readings, resolution: float) -> tuple[Estimate, Estimate | None] | None:
    voltage, current = readings.plate_voltage, readings.plate_current
    if voltage.size < _FEWEST:
        return None
    varied = _varied(voltage)
    columns = [np.ones_like(voltage), *([voltage] if varied else [])]
    fit = fit_linear(columns, current, resolution)
    return None if fit is None else (fit.estimate(0), fit.estimate(1) if varied else None)


def _fit_grid(readings: Readings, resolution: float) -> tuple[Estimate, Estimate | None] | None:
    if readings.grid_current is None:
        return None
    logged = np.isfinite(readings.grid_current)
    plate, grid = readings.plate_voltage[logged], readings.grid_voltage[logged]
    if plate.size < _FEWEST:
        return None
    varied = _varied(plate)
    columns = [np.ones_like(plate), *([grid - plate] if varied else [])]
    columns += [grid] if _varied(grid) else []
    fit = fit_linear(columns, readings.grid_current[logged], resolution)
    return None if fit is None else (fit.estimate(0), fit.estimate(1) if varied else None)


def _judged(start: str, found: Estimate, end: str, limit: Limit) -> tuple[bool, str]:
    shown = format_uncertain(found.value, found.u95, MICROAMPERE)
    allowed = f"the house allows {limit.printed:g} µA ({limit.source})"
    if abs(found.value) - found.u95 > limit.value:
        return False, f"{start} {shown} {end}: {allowed}."
    if abs(found.value) + found.u95 > limit.value:
        return True, f"{start} {shown} {end}; too uncertain to hold it against a limit: {allowed}."
    return True, f"{start} {shown} {end}; {allowed}."


def _judged_leads(
    lead: str, found: Estimate | None, top: float, limit: Limit
) -> tuple[bool | None, str]:
    if found is None:
        return None, f"The plate voltage was not varied: leakage of the {lead} lead is not told."
    current = Estimate(found.value * top, found.u95 * top)
    end = f"at {VOLT.from_si(top):.0f} V"
    if found.value > found.u95:
        end += f", as {format_number(1e-6 / found.value)} megohm would"
    return _judged(f"The {lead} lead passes", current, end, limit)
