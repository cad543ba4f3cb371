"""No emission: nothing flows where plate current should."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.health.case import Case
from curvelab.health.evidence import where, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MICROAMPERE, MILLIAMPERE

__all__ = ["find"]

# Without a family a current is only missed where any tube would have one.
_PLATE_VOLTAGE = 50.0
_GRID_VOLTAGE = -1.0


def find(case: Case) -> Iterator[Finding]:
    """Find a tube that gives next to nothing of what is expected of it."""
    readings, limits = case.sweep.readings, case.limits
    if not len(readings):
        return
    backed = None
    if case.family is not None:  # far beyond its points a family promises currents without end
        backed = case.family.covers(readings.plate_voltage, readings.grid_voltage)
    if case.family is not None and backed is not None and backed.any():
        expected = case.family.current(readings.plate_voltage, readings.grid_voltage)
        expected = np.where(backed, expected, 0.0)
        best = int(np.argmax(expected))
        should, limit = float(expected[best]), limits.no_emission.value * float(expected[best])
        source = limits.no_emission.source
        missed = f"where the family of {case.family.type_name} has {_said(should)}"
        known = limit > limits.no_emission_current.value / 2
    else:
        open_grid = readings.grid_voltage >= _GRID_VOLTAGE
        known = bool((open_grid & (readings.plate_voltage >= _PLATE_VOLTAGE)).any())
        best = int(np.argmax(np.where(open_grid, readings.plate_voltage, -np.inf)))
        limit, source = limits.no_emission_current.value, limits.no_emission_current.source
        missed = "with the grid open"
    largest = float(readings.plate_current.max())
    if not known or largest >= limit:
        return
    yield Finding(
        code=FindingCode.NO_EMISSION,
        severity=Severity.REJECT,
        evidence=(
            f"No reading exceeds {_said(max(largest, 0.0))}; at {where(readings, best)} {missed}, "
            f"{_said(max(float(readings.plate_current[best]), 0.0))} was read: no emission, or no "
            "heater or plate connection."
        ),
        value=MICROAMPERE.from_si(max(largest, 0.0)),
        unit="uA",
        limit=MICROAMPERE.from_si(limit),
        limit_source=source,
        readings=(best,),
    )


def _said(current: float) -> str:
    unit = MILLIAMPERE if current >= MILLIAMPERE.si else MICROAMPERE
    return worded(unit.from_si(current), unit.symbol)
