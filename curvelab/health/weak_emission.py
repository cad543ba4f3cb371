"""Weak emission: the current falls short at the top of the curves, progressively.

A worn cathode gives what the lower currents promise less and less the more is asked of
it; a tube that is merely low, or of another amplification factor, is low everywhere. So the
lower currents set the scale, and the shortfall at the top is what counts. It is taken as the
mean of two estimates that err differently: a three-halves law, which runs low on an uneven
grid, and the type's family, which is an average drawn from few published figures.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import PlateFamily
from curvelab.health.case import Case
from curvelab.health.evidence import positions, where, worded
from curvelab.health.off_type import is_another_type
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.quantities import MILLIAMPERE
from curvelab.sweep.records import BoolArray, FloatArray, Readings

__all__ = ["find"]

# Shares of the largest current that set the scale, and from which readings are candidates for
# the top; with too few readings for that, the wider ones.
_BANDS = ((0.15, 0.5), (0.08, 0.6))
_LEAST_SCALE, _LEAST_TOP = 6, 2
# So many readings, those from which most current is expected, are the top of the curves: where
# a limit of emission is met the most, whatever current it leaves.
_HIGHEST = 3
_OWN_SCATTER = _HIGHEST**-0.5  # of their mean, beside that of what is expected of them
_FOLLOWS = 0.15  # a family that the lower currents miss by more says nothing of the top
_LEAST_SCATTER = 0.01  # of the lower currents about an estimate: no law fits closer
_COVERAGE = 2.0
_LEAST_STRENGTH = 1e-6  # singular value, of the largest
_ABOVE_KNEE, _SAME_SCREEN = 0.6, 0.02  # of the screen voltage
_LEAST_STEPS, _LEAST_SHARE = 2, 0.1


@dataclass(frozen=True, slots=True, eq=False)
class _Shortfall:
    """Measured over expected current, minus one, and its standard uncertainty, per reading."""

    deviation: FloatArray
    uncertainty: FloatArray


def find(case: Case) -> Iterator[Finding]:
    """Find a shortfall at the top of the curves beyond the house limit."""
    readings, limits = case.sweep.readings, case.limits
    if is_another_type(case):
        return  # what it falls short of is not its own
    bands = _bands(case)
    if bands is None:
        return
    scale, above = bands
    current = _cathode_current(case)
    shortfall, against = _shortfall(case, current, scale, above)
    expected = current[above] / (1.0 + shortfall.deviation)
    highest = np.argsort(-expected)[:_HIGHEST]
    deviation = shortfall.deviation[highest]
    short = float(np.median(deviation))
    u95 = _COVERAGE * float(np.median(shortfall.uncertainty[highest]))
    if short > -limits.weak_emission.value or -short <= u95:
        return
    top = np.flatnonzero(above)[highest]
    worst = int(top[np.argmin(deviation)])
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
        u95=100 * u95,
        unit="%",
        limit=limits.weak_emission.printed,
        limit_source=limits.weak_emission.source,
        readings=positions(np.sort(top)),
    )


def _bands(case: Case) -> tuple[BoolArray, BoolArray] | None:
    """Return the readings that set the scale and those above them; None for too few."""
    readings = case.sweep.readings
    usable = case.fit.used & (readings.grid_voltage <= 0) & (readings.plate_voltage > 0)
    usable &= _undivided(case)
    if not usable.any():
        return None
    share = readings.plate_current / max(float(readings.plate_current[usable].max()), 1e-15)
    for low, high in _BANDS:
        scale, above = usable & (share > low) & (share < high), usable & (share >= high)
        if np.count_nonzero(scale) < _LEAST_SCALE or np.count_nonzero(above) < _LEAST_TOP:
            continue
        # Above the knee of a tube with a screen the grid alone moves the current.
        if not case.with_screen_grid or np.unique(case.curves.step[scale]).size >= _LEAST_STEPS:
            return scale, above
    return None


def _undivided(case: Case) -> BoolArray:
    """Tell which readings show the cathode's limit and not a screen's share.

    With a screen grid those well above the knee, at the screen voltage of the comparison. At a
    screen voltage that nobody states nothing can be told.
    """
    readings, family = case.sweep.readings, case.fit.family
    if not case.with_screen_grid:
        return np.ones(len(readings), dtype=bool)
    if readings.screen_voltage is None or not isinstance(family, PentodeFamily):
        return np.zeros(len(readings), dtype=bool)
    screen = family.screen_voltage
    there = np.abs(readings.screen_voltage - screen) <= _SAME_SCREEN * screen
    return np.asarray(there & (readings.plate_voltage > _ABOVE_KNEE * screen))


def _cathode_current(case: Case) -> FloatArray:
    """Return what the cathode gives, but for a constant factor [A]."""
    readings, family = case.sweep.readings, case.fit.family
    if not isinstance(family, PentodeFamily):
        return readings.plate_current
    share = family.plate_share(readings.plate_voltage, readings.grid_voltage)
    return np.asarray(readings.plate_current / np.maximum(share, _LEAST_SHARE))


def _shortfall(
    case: Case, current: FloatArray, scale: BoolArray, above: BoolArray
) -> tuple[_Shortfall, str]:
    """Return the shortfall by both estimates, or by the law alone, and what it is against.

    A pentode's transfer curve, whose foot scales with the screen, keeps to the three-halves law
    better than to a family that one or two points at the same bias have shaped.
    """
    readings = case.sweep.readings
    by_law = _against_three_halves(readings, current, scale, above)
    family = None if case.with_screen_grid else case.family
    by_family = None if family is None else _against_family(readings, scale, above, family)
    if family is None or by_family is None:
        return by_law, "a three-halves law"
    both = _Shortfall(
        0.5 * (by_law.deviation + by_family.deviation),
        0.5 * (by_law.uncertainty + by_family.uncertainty),
    )
    return both, f"the mean of a three-halves law and the family of {family.type_name}, both"


def _extrapolate(
    design: FloatArray, target: FloatArray, beyond: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Return the least-squares line at other points, its leverage there, and the scatter."""
    left_vectors, strength, directions = np.linalg.svd(design, full_matrices=False)
    kept = strength > _LEAST_STRENGTH * strength[0]  # what no reading tells apart stays out
    inverse = directions[kept].T / strength[kept]
    coefficients = inverse @ (left_vectors[:, kept].T @ target)
    left = max(target.size - design.shape[1], 1)
    scatter = float(np.sqrt(np.sum((target - design @ coefficients) ** 2) / left))
    leverage = np.sqrt(((beyond @ inverse) ** 2).sum(axis=1))
    return beyond @ coefficients, leverage, scatter


def _against_three_halves(
    readings: Readings, current: FloatArray, scale: BoolArray, above: BoolArray
) -> _Shortfall:
    """Compare with a three-halves law set at lower currents.

    The 2/3 power of the current is linear in both voltages (Child 1911, Langmuir 1913).
    """
    design = np.column_stack(
        (readings.grid_voltage, readings.plate_voltage, np.ones(len(readings)))
    )
    drive = np.maximum(current, 0.0) ** (2 / 3)
    found, leverage, scatter = _extrapolate(design[scale], drive[scale], design[above])
    found = np.maximum(found, 1e-9)
    scatter = max(scatter, _LEAST_SCATTER * float(np.mean(drive[scale])) / 1.5)
    return _Shortfall(
        current[above] / found**1.5 - 1.0,
        1.5 * np.hypot(leverage, _OWN_SCATTER) * scatter / found,
    )


def _against_family(
    readings: Readings, scale: BoolArray, above: BoolArray, family: PlateFamily
) -> _Shortfall | None:
    """Compare with the family fitted at lower currents; None where they do not follow it.

    Three numbers are free, to first order of the logarithm: the scale, the amplification
    factor (Vp/rp over Ip) and the contact offset (gm over Ip).
    """
    plate, grid = readings.plate_voltage, readings.grid_voltage
    current, by_plate, by_grid = family.evaluate(plate, grid)
    expected = np.maximum(current, 1e-12)
    offset = by_grid / expected
    design = np.column_stack(
        (
            np.ones(len(readings)),
            plate * by_plate / expected,
            offset / max(float(offset[scale | above].max()), 1e-12),
        )
    )
    ratio = np.log(np.maximum(readings.plate_current, 1e-15) / expected)
    found, leverage, scatter = _extrapolate(design[scale], ratio[scale], design[above])
    if scatter > _FOLLOWS:
        return None
    return _Shortfall(
        np.expm1(ratio[above] - found),
        np.hypot(leverage, _OWN_SCATTER) * max(scatter, _LEAST_SCATTER),
    )
