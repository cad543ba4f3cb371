"""Heater-cathode leakage, as the file states it."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health.case import Case
from curvelab.health.evidence import volts, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MICROAMPERE

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Judge the leakage that was measured apart from the sweep."""
    leakage = case.sweep.conditions.heater_cathode_leakage
    limit = case.limits.heater_cathode_leakage
    if leakage is None or abs(leakage) <= limit.value:
        return
    voltage = case.sweep.conditions.heater_cathode_voltage
    at = "" if voltage is None else f" at {volts(voltage)}"
    measured = MICROAMPERE.from_si(abs(leakage))
    beyond = abs(leakage) > case.limits.heater_cathode_leakage_reject.value * limit.value
    yield Finding(
        code=FindingCode.HEATER_CATHODE,
        severity=Severity.REJECT if beyond else Severity.CAUTION,
        evidence=f"The file states {worded(measured, 'uA')} between heater and cathode{at}.",
        value=measured,
        unit="uA",
        limit=limit.printed,
        limit_source=limit.source,
    )
