"""Gas, grid leakage and grid emission, told apart from the grid current of a sweep."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from curvelab.health.case import Case, SetUp
from curvelab.health.evidence import positions, volts, worded
from curvelab.health.grid_shares import GridShares, split_grid_current
from curvelab.health.records import Finding, FindingCode
from curvelab.health.reverse_current import (
    UNIT,
    critical_resistance,
    microamperes,
    point_of_judgement,
    reverse_limit,
    severity_of,
)
from curvelab.quantities import MICROAMPERE

__all__ = ["find", "grid_current_note"]

_MEGOHM = 1e6


@dataclass(frozen=True, slots=True)
class _Cause:
    """One cause at the point of judgement."""

    code: FindingCode
    current: float
    u95: float
    sentence: str


def grid_current_note(case: Case) -> str | None:
    """Return what cannot be told for want of a grid-current column, and what to measure."""
    logged = case.sweep.readings.grid_current
    if logged is not None and np.isfinite(logged).any():
        return None
    if any(probe.set_up is SetUp.GRID_RESISTOR for probe in case.probes):
        return (
            "The readings with a resistor in the grid lead give the whole reverse grid current, "
            "not its cause: to tell gas from grid leakage and grid emission, log the grid current."
        )
    return (
        "No grid current was logged: gas, grid leakage and grid emission cannot be told. Log the "
        "grid current over the sweep, cut-off included, or repeat readings with a resistor in the "
        "grid lead and state it in the file."
    )


def find(case: Case) -> Iterator[Finding]:
    """Find the reverse currents that pass their limit at the operating point."""
    readings, limits = case.sweep.readings, case.limits
    if readings.grid_current is None:
        return
    point = point_of_judgement(case)
    limit, source = reverse_limit(case, point[2])
    reverse = np.where(case.fit.used, -readings.grid_current, np.nan)
    if point[2] <= 0 or not (reverse > limit).any():
        return  # no single cause can pass the limit where all of them together do not
    shares = split_grid_current(
        readings,
        case.fit.used,
        ionisation_voltage=limits.ionisation_voltage.value,
        electron_grid_voltage=limits.electron_grid_voltage.value,
    )
    if shares is None:
        return
    for cause in _beyond(_causes(case, shares, point), shares.reverse(point), limit):
        yield Finding(
            code=cause.code,
            severity=severity_of(case, cause.current, limit),
            evidence=cause.sentence,
            value=MICROAMPERE.from_si(cause.current),
            u95=MICROAMPERE.from_si(cause.u95),
            unit=UNIT,
            limit=MICROAMPERE.from_si(limit),
            limit_source=source,
            readings=_shown(case, shares, cause.code),
        )


def _beyond(causes: tuple[_Cause, ...], total: tuple[float, float], limit: float) -> list[_Cause]:
    """Return the causes beyond the limit, or the likeliest where only their sum is certain."""
    above = [cause for cause in causes if cause.current > limit]
    certain = [cause for cause in above if cause.current > cause.u95]
    if certain or not above or total[0] <= 2 * total[1]:
        return certain
    largest = max(above, key=lambda cause: cause.current)
    doubt = (
        f" The readings leave open how the reverse current of {microamperes(total[0])} is shared "
        "between gas, leakage and grid emission; this is the likeliest."
    )
    return [replace(largest, sentence=largest.sentence + doubt)]


def _causes(
    case: Case, shares: GridShares, point: tuple[float, float, float]
) -> tuple[_Cause, ...]:
    gas, leakage, emission = shares.gas(point), shares.leakage(point), shares.emission(point)
    total = max(shares.reverse(point)[0], 1e-15)
    at = [
        f"at {volts(point[0])}, {volts(point[1])} ({100 * current / total:.0f} % of the reverse "
        "grid current there)"
        for current, _ in (gas, leakage, emission)
    ]
    return (
        _Cause(FindingCode.GAS, *gas, _gas_sentence(case, shares, gas[0], at[0])),
        _Cause(FindingCode.GRID_LEAKAGE, *leakage, _leakage_sentence(shares, leakage[0], at[1])),
        _Cause(FindingCode.GRID_EMISSION, *emission, _emission_sentence(emission[0], at[2])),
    )


def _gas_sentence(case: Case, shares: GridShares, current: float, at: str) -> str:
    return (
        f"An ion current of {microamperes(current)} flows {at}: it goes with the plate current at "
        f"a ratio of {shares.gas_ratio:.1e} and vanishes at cut-off"
        f"{critical_resistance(case, shares.gas_ratio)}."
    )


def _leakage_sentence(shares: GridShares, current: float, at: str) -> str:
    named = zip(("the cathode", "the plate"), shares.leakage_resistance(), strict=True)
    paths = " and ".join(
        f"{worded(resistance / _MEGOHM, 'Mohm', 2)} to {name}"
        for name, resistance in named
        if np.isfinite(resistance)
    )
    return (
        f"A leakage current of {microamperes(current)} flows {at}: it goes with the voltage across "
        f"its path, not with the plate current ({paths})."
    )


def _emission_sentence(current: float, at: str) -> str:
    return (
        f"The grid emits {microamperes(current)} {at}: the current is there at cut-off too and "
        "does not vanish with the plate current."
    )


def _shown(case: Case, shares: GridShares, code: FindingCode) -> tuple[int, ...]:
    """Return the readings that show a cause best: where it is more than half its largest."""
    readings = case.sweep.readings
    plate = readings.plate_voltage[shares.index]
    grid, current = readings.grid_voltage[shares.index], readings.plate_current[shares.index]
    measure = {
        FindingCode.GAS: current,
        FindingCode.GRID_LEAKAGE: plate - grid,
        FindingCode.GRID_EMISSION: plate * current,
    }[code]
    return positions(shares.index[measure > 0.5 * measure.max()])
