"""Weak emission by the classical test: how far the current drops at a reduced heater voltage.

A cathode with emission to spare gives nearly the same space-charge-limited current at a heater
voltage a tenth lower; a worn one has no reserve (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.health.case import Case, Probe, SetUp
from curvelab.health.evidence import positions, worded
from curvelab.health.records import Finding, FindingCode, Severity

__all__ = ["find"]

_A_TENTH = 0.1
_TOP = 0.7  # of the largest current that the full heater gives where both were read
_LEAST = 2
_COVERAGE = 2.0
_MAD_TO_SIGMA = 1.4826


def find(case: Case) -> Iterator[Finding]:
    """Find a current that drops more than it should at the reduced heater voltage."""
    for probe in case.probes:
        if probe.set_up is SetUp.LOW_HEATER and probe.usual > 0:
            yield from _judge(case if probe.base is None else probe.base, probe)


def _judge(base: Case, probe: Probe) -> Iterator[Finding]:
    readings, family = probe.readings, base.fit.family
    if family is None or base.with_screen_grid:
        return
    reduced = 1.0 - probe.setting / probe.usual
    known = np.isfinite(reduced) & family.covers(readings.plate_voltage, readings.grid_voltage)
    full = np.asarray(family.current(readings.plate_voltage, readings.grid_voltage))
    if np.count_nonzero(known) < _LEAST or full[known].max() <= 0:
        return
    top = np.flatnonzero(known & (full > _TOP * full[known].max()))
    if top.size < _LEAST:
        return
    # In proportion to the usual reduction by a tenth.
    drops = (1.0 - readings.plate_current[top] / full[top]) * _A_TENTH / reduced[top]
    drop = float(np.median(drops))
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(drops - drop)))
    u95 = _COVERAGE * 1.2533 * spread / float(np.sqrt(top.size))
    limit = base.limits.reduced_heater
    if drop <= limit.value or drop <= u95:
        return
    beyond = drop > base.limits.reduced_heater_reject.value
    volts = float(np.median(probe.setting[top]))
    yield Finding(
        code=FindingCode.WEAK_EMISSION,
        severity=Severity.REJECT if beyond else Severity.CAUTION,
        evidence=(
            f"At {worded(volts, 'V')} on the heater instead of {worded(probe.usual, 'V')} the "
            f"larger currents drop by "
            f"{100 * float(np.median(1.0 - readings.plate_current[top] / full[top])):.0f} %, "
            f"{100 * drop:.0f} % for each tenth of the heater voltage: the cathode has no "
            "emission to spare."
        ),
        value=100 * drop,
        u95=100 * u95,
        unit="%",
        limit=limit.printed,
        limit_source=limit.source,
        readings=positions(probe.positions[top]) if probe.positions.size else (),
    )
