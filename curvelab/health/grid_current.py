"""Gas, grid leakage and grid emission, told apart from the grid current of a sweep."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.health.case import Case
from curvelab.health.evidence import positions, volts, worded
from curvelab.health.grid_shares import GridShares, split_grid_current
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MICROAMPERE

__all__ = ["find", "grid_current_note"]

_UNIT = "uA"
_MEGOHM = 1e6
_GRID_RESISTANCES = {
    "grid_circuit_resistance_fixed_bias": "with fixed bias",
    "grid_circuit_resistance_cathode_bias": "with cathode bias",
}


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
    return (
        "No grid current was logged: gas, grid leakage and grid emission cannot be told. Log "
        "the grid current, or repeat a reading with a resistor in the grid lead."
    )


def find(case: Case) -> Iterator[Finding]:
    """Find the reverse currents that pass their limit at the operating point."""
    readings, limits = case.sweep.readings, case.limits
    if readings.grid_current is None:
        return
    point = _point(case)
    limit, source = _limit(case, point[2])
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
    for cause in _causes(case, shares, point):
        if cause.current <= limit or cause.current <= cause.u95:
            continue
        beyond = cause.current > limits.reverse_grid_current_reject.value * limit
        yield Finding(
            code=cause.code,
            severity=Severity.REJECT if beyond else Severity.CAUTION,
            evidence=cause.sentence,
            value=MICROAMPERE.from_si(cause.current),
            u95=MICROAMPERE.from_si(cause.u95),
            unit=_UNIT,
            limit=MICROAMPERE.from_si(limit),
            limit_source=source,
            readings=_shown(case, shares, cause.code),
        )


def _point(case: Case) -> tuple[float, float, float]:
    """Return (Vp, Vg, Ip) of the operating point, or of the hottest reading without one."""
    current = case.constants.plate_current.value
    if case.operating_point is not None and current is not None:
        return (*case.operating_point, current)
    readings, hottest = case.sweep.readings, _hottest(case)
    return (
        float(readings.plate_voltage[hottest]),
        float(readings.grid_voltage[hottest]),
        float(readings.plate_current[hottest]),
    )


def _hottest(case: Case) -> int:
    readings = case.sweep.readings
    power = readings.plate_voltage * readings.plate_current
    return int(np.argmax(np.where(case.fit.used, power, -np.inf)))


def _limit(case: Case, plate_current: float) -> tuple[float, str]:
    """Return the limit of any reverse grid current [A] and where it comes from."""
    for limit in () if case.tube_type is None else case.tube_type.printed_limits:
        wanted = limit.quantity == "reverse_grid_current" and limit.stage == "end of life"
        if wanted and limit.high is not None:
            return limit.high, f"{limit.source}, end of life, {limit.condition}"
    house = case.limits.reverse_grid_current
    return house.value * plate_current, house.source


def _causes(
    case: Case, shares: GridShares, point: tuple[float, float, float]
) -> tuple[_Cause, ...]:
    gas, leakage, emission = shares.gas(point), shares.leakage(point), shares.emission(point)
    at = f"at {volts(point[0])}, {volts(point[1])}"
    return (
        _Cause(FindingCode.GAS, *gas, _gas_sentence(case, shares, gas[0], at)),
        _Cause(FindingCode.GRID_LEAKAGE, *leakage, _leakage_sentence(shares, leakage[0], at)),
        _Cause(FindingCode.GRID_EMISSION, *emission, _emission_sentence(emission[0], at)),
    )


def _said(current: float) -> str:
    return worded(MICROAMPERE.from_si(current), _UNIT, 2)


def _gas_sentence(case: Case, shares: GridShares, current: float, at: str) -> str:
    return (
        f"An ion current of {_said(current)} flows {at}: it goes with the plate current at a "
        f"ratio of {shares.gas_ratio:.1e} and vanishes at cut-off"
        f"{_critical_resistance(case, shares)}."
    )


def _critical_resistance(case: Case, shares: GridShares) -> str:
    """Return the words on the grid resistance at which bias is lost.

    With ion current k Ip through a grid circuit of resistance Rg the loop gain is
    gm k Rg; at 1 the bias is lost, so Rg* = 1/(gm k), taken at the hottest reading without
    a load, where it is lowest (first principles; Terman 1943 describes the effect).
    """
    if case.fit.family is None or shares.gas_ratio <= 0:
        return ""
    readings = case.sweep.readings
    hottest = [_hottest(case)]
    slopes = case.fit.family.slopes(readings.plate_voltage[hottest], readings.grid_voltage[hottest])
    gm = float(slopes[1][0])
    if gm <= 0:
        return ""
    critical = worded(1.0 / (gm * shares.gas_ratio) / _MEGOHM, "Mohm", 2)
    text = f"; bias would be lost with {critical} in the grid circuit at the hot end"
    rated = _rated_resistances(case)
    return f"{text} ({rated}; never go above the lower of them)" if rated else text


def _rated_resistances(case: Case) -> str:
    if case.tube_type is None:
        return ""
    named = ((case.tube_type.rating(name), words) for name, words in _GRID_RESISTANCES.items())
    return ", ".join(
        f"the handbook's maximum is {worded(figure.value / _MEGOHM, 'Mohm', 2)} {words}"
        + ("" if figure.verified else " (from memory)")
        for figure, words in named
        if figure is not None
    )


def _leakage_sentence(shares: GridShares, current: float, at: str) -> str:
    named = zip(("the cathode", "the plate"), shares.leakage_resistance(), strict=True)
    paths = " and ".join(
        f"{worded(resistance / _MEGOHM, 'Mohm', 2)} to {name}"
        for name, resistance in named
        if np.isfinite(resistance)
    )
    return (
        f"A leakage current of {_said(current)} flows {at}: it goes with the voltage across its "
        f"path, not with the plate current ({paths})."
    )


def _emission_sentence(current: float, at: str) -> str:
    return (
        f"The grid emits {_said(current)} {at}: the current is there at cut-off too and does not "
        "vanish with the plate current."
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
