"""Heater-cathode leakage, as a file or a hand test states it."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.evidence import volts, worded
from curvelab.health.limits import HouseLimits
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MICROAMPERE
from curvelab.sweep.records import Conditions

__all__ = ["find", "find_stated"]


def find(case: Case) -> Iterator[Finding]:
    """Judge the leakage that was measured apart from the sweep."""
    yield from find_stated(case.sweep.conditions, case.limits, "The file")


def find_stated(conditions: Conditions, limits: HouseLimits, who: str) -> Iterator[Finding]:
    """Judge the leakage that ``who`` states."""
    leakage, limit = conditions.heater_cathode_leakage, limits.heater_cathode_leakage
    if leakage is None or abs(leakage) <= limit.value:
        return
    voltage = conditions.heater_cathode_voltage
    at = "" if voltage is None else f" at {volts(voltage)}"
    measured = MICROAMPERE.from_si(abs(leakage))
    leaks = worded(measured, MICROAMPERE.symbol)
    beyond = abs(leakage) > limits.heater_cathode_leakage_reject.value * limit.value
    yield Finding(
        code=FindingCode.HEATER_CATHODE,
        severity=Severity.REJECT if beyond else Severity.CAUTION,
        evidence=f"{who} states {leaks} between heater and cathode{at}.",
        value=measured,
        unit="uA",
        limit=limit.printed,
        limit_source=limit.source,
    )
