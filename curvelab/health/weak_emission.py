"""Weak emission: the current falls short at the top of the curves, progressively.

A worn cathode gives what the lower currents promise less and less the more is asked of
it; a tube that is merely low, or of another amplification factor, is low everywhere. So the
lower currents set the scale, and the shortfall at the top is what counts. It is taken as the
mean of two estimates that err differently: a three-halves law, which runs low on an uneven
grid, and the type's family, which is an average drawn from few published figures.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.records import PlateFamily
from curvelab.health.case import Case
from curvelab.health.evidence import positions, where, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MILLIAMPERE
from curvelab.sweep.records import FloatArray, Readings

__all__ = ["find"]

# Shares of the largest current that set the scale, and from which the top begins.
_SCALE_FROM, _SCALE_TO, _TOP_FROM = 0.15, 0.5, 0.8
_LEAST_SCALE, _LEAST_TOP = 6, 2
_COVERAGE = 2.0


def find(case: Case) -> Iterator[Finding]:
    """Find a shortfall at the top of the curves beyond the house limit."""
    readings, limits = case.sweep.readings, case.limits
    if case.sweep.conditions.connection == "pentode":
        return  # its plate current levels off by nature
    usable = case.fit.used & (readings.grid_voltage <= 0) & (readings.plate_voltage > 0)
    if not usable.any():
        return
    share = readings.plate_current / max(float(readings.plate_current[usable].max()), 1e-15)
    scale, top = usable & (share > _SCALE_FROM) & (share < _SCALE_TO), usable & (share > _TOP_FROM)
    if np.count_nonzero(scale) < _LEAST_SCALE or np.count_nonzero(top) < _LEAST_TOP:
        return
    deviation, against = _against_three_halves(readings, scale, top), "a three-halves law"
    if case.family is not None:
        deviation = 0.5 * (deviation + _against_family(readings, scale, top, case.family))
        against = f"the mean of a three-halves law and the family of {case.family.type_name}, both"
    short = float(np.median(deviation))
    if short > -limits.weak_emission.value:
        return
    u95 = _COVERAGE * 1.4826 * float(np.median(np.abs(deviation - short))) / np.sqrt(deviation.size)
    worst = int(np.flatnonzero(top)[np.argmin(deviation)])
    yield Finding(
        code=FindingCode.WEAK_EMISSION,
        severity=Severity.REJECT
        if short < -limits.weak_emission_reject.value
        else Severity.CAUTION,
        evidence=(
            f"At the top of the curves the current falls {-100 * short:.0f} % short of {against} "
            f"scaled to the lower currents, worst at {where(readings, worst)} with "
            f"{worded(MILLIAMPERE.from_si(float(readings.plate_current[worst])), 'mA')}: the "
            "shortfall grows with current, as a worn cathode's does."
        ),
        value=-100 * short,
        u95=100 * float(u95),
        unit="%",
        limit=limits.weak_emission.printed,
        limit_source=limits.weak_emission.source,
        readings=positions(top),
    )


def _against_three_halves(
    readings: Readings, scale: NDArray[np.bool_], top: NDArray[np.bool_]
) -> FloatArray:
    """Return measured over expected, minus one, by a three-halves law set at lower currents.

    The 2/3 power of the current is linear in both voltages (Child 1911, Langmuir 1913).
    """
    design = np.column_stack(
        (readings.grid_voltage, readings.plate_voltage, np.ones(len(readings)))
    )
    drive = np.maximum(readings.plate_current, 0.0) ** (2 / 3)
    coefficients = np.linalg.lstsq(design[scale], drive[scale], rcond=None)[0]
    expected = np.maximum(design[top] @ coefficients, 1e-12) ** 1.5
    return np.asarray(readings.plate_current[top] / expected - 1.0)


def _against_family(
    readings: Readings, scale: NDArray[np.bool_], top: NDArray[np.bool_], family: PlateFamily
) -> FloatArray:
    """Return measured over expected, minus one, by the family fitted at lower currents.

    Three numbers are free, to first order of the logarithm: the scale, the amplification
    factor (Vp/rp over Ip) and the contact offset (gm over Ip).
    """
    chosen = np.flatnonzero(scale | top)
    plate, grid = readings.plate_voltage[chosen], readings.grid_voltage[chosen]
    expected = np.maximum(family.current(plate, grid), 1e-12)
    by_plate, by_grid = family.slopes(plate, grid)
    offset = by_grid / expected
    design = np.column_stack(
        (np.ones(chosen.size), plate * by_plate / expected, offset / max(offset.max(), 1e-12))
    )
    ratio = np.log(readings.plate_current[chosen] / expected)
    low = scale[chosen]
    coefficients = np.linalg.lstsq(design[low], ratio[low], rcond=None)[0]
    return np.asarray(np.expm1((ratio - design @ coefficients)[~low]))
