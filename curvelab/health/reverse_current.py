"""What any reverse grid current is judged by, however it was found."""

from __future__ import annotations

import numpy as np

from curvelab.health.case import Case
from curvelab.health.evidence import worded
from curvelab.health.records import Severity
from curvelab.quantities import MICROAMPERE

__all__ = [
    "UNIT",
    "critical_resistance",
    "microamperes",
    "point_of_judgement",
    "reverse_limit",
    "severity_of",
]

UNIT = "uA"
_MEGOHM = 1e6
_GRID_RESISTANCES = {
    "grid_circuit_resistance_fixed_bias": "with fixed bias",
    "grid_circuit_resistance_cathode_bias": "with cathode bias",
}


def point_of_judgement(case: Case) -> tuple[float, float, float]:
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


def reverse_limit(case: Case, plate_current: float) -> tuple[float, str]:
    """Return the limit of any reverse grid current [A] and where it comes from."""
    for limit in () if case.tube_type is None else case.tube_type.printed_limits:
        wanted = limit.quantity == "reverse_grid_current" and limit.stage == "end of life"
        if wanted and limit.high is not None:
            return limit.high, f"{limit.source}, end of life, {limit.condition}"
    house = case.limits.reverse_grid_current
    return house.value * plate_current, house.source


def severity_of(case: Case, current: float, limit: float) -> Severity:
    """Return how much a reverse current above its limit weighs."""
    beyond = current > case.limits.reverse_grid_current_reject.value * limit
    return Severity.REJECT if beyond else Severity.CAUTION


def microamperes(current: float) -> str:
    """Return a grid current [A] as a sentence carries it."""
    return worded(MICROAMPERE.from_si(current), MICROAMPERE.symbol, 2)


def critical_resistance(case: Case, gas_ratio: float) -> str:
    """Return the words on the grid resistance at which bias is lost.

    With ion current k Ip through a grid circuit of resistance Rg the loop gain is
    gm k Rg; at 1 the bias is lost, so Rg* = 1/(gm k), taken at the hottest reading without
    a load, where it is lowest (first principles; Terman 1943 describes the effect).
    """
    if case.fit.family is None or gas_ratio <= 0:
        return ""
    readings = case.sweep.readings
    hottest = [_hottest(case)]
    slopes = case.fit.family.slopes(readings.plate_voltage[hottest], readings.grid_voltage[hottest])
    gm = float(slopes[1][0])
    if gm <= 0:
        return ""
    critical = worded(1.0 / (gm * gas_ratio) / _MEGOHM, "Mohm", 2)
    text = f"; bias would be lost with {critical} in the grid circuit at the hot end"
    rated = _rated_resistances(case)
    if not rated:
        return f"{text} (no maximum of the handbook is on record to compare it with)"
    return f"{text} ({rated}; stay below every one of these)"


def _rated_resistances(case: Case) -> str:
    if case.tube_type is None:
        return ""
    named = ((case.tube_type.rating(name), words) for name, words in _GRID_RESISTANCES.items())
    printed = [
        f"{worded(figure.value / _MEGOHM, 'Mohm', 2)} {words}"
        + ("" if figure.verified else " (from memory: check the sheet)")
        for figure, words in named
        if figure is not None
    ]
    return f"the handbook allows at most {' and '.join(printed)}" if printed else ""
