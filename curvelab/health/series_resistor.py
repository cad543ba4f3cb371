"""Reverse grid current without a grid-current meter: plate current with a resistor in the grid.

A reverse grid current Ig lifts the grid by Rg Ig, and the plate current with it. How far, is read
off the transfer curve measured without the resistor; so Ig = shift / Rg at the shifted point,
which is why no correction for the loop gain gm k Rg is needed when the ion current over the
plate current, k, is formed there (first principles; the method is common practice, no source).
The cause is not told: it is named gas, the usual one, and the words say so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.records import PlateFamily
from curvelab.health.case import Case, Probe, SetUp
from curvelab.health.evidence import positions, volts, worded
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
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["find"]

_KILOHM = 1e3
_STRONG = 0.15  # of the largest plate current: below, the transfer curve is too flat
# Electrons that reach the grid hide the reverse current: readings below the first grid voltage
# are used where there are any, else those below the second [V] (common practice, no source).
_NO_ELECTRONS, _FEW_ELECTRONS = -1.5, -0.5
_SEARCH, _FARTHEST = 12, 8.0
# Two set-ups of a bench repeat a reading no better than this (common practice, no source).
_REPEATS = 0.004
_COVERAGE = 2.0
_SMALL_SHIFT = 0.5
_SAME_PLATE, _SAME_GRID = 0.01, 0.02  # of the plate voltage; [V] or of the grid voltage


@dataclass(frozen=True, slots=True, eq=False)
class _Shifts:
    """Grid shifts read off the transfer curve: places among the probe's readings, [V], [S]."""

    places: IntArray
    shift: FloatArray
    transconductance: FloatArray
    curve: str


def find(case: Case) -> Iterator[Finding]:
    """Find a total reverse grid current beyond its limit from readings with a grid resistor."""
    for probe in case.probes:
        base = case if probe.base is None else probe.base
        if probe.set_up is SetUp.GRID_RESISTOR and not _metered(base):
            yield from _judge(base, probe)


def _metered(case: Case) -> bool:
    logged = case.sweep.readings.grid_current
    return logged is not None and bool(np.isfinite(logged[case.fit.used]).any())


def _judge(base: Case, probe: Probe) -> Iterator[Finding]:
    found = _shifts(base, probe)
    if found is None:
        return
    readings, places = probe.readings, found.places
    current, resistor = readings.plate_current[places], probe.setting[places]
    ratio = found.shift / resistor / current
    own = 1.0 / (found.transconductance * resistor)  # of the ratio, for each unit of Ip error
    noise = _relative_noise(base)
    weight = 1.0 / (own * noise) ** 2
    mean = float(np.sum(weight * ratio) / weight.sum())
    spread = float(np.sqrt(np.sum(weight * (ratio - mean) ** 2) / weight.sum() / ratio.size))
    common = _REPEATS * float(np.sum(weight * own) / weight.sum())
    u95 = _COVERAGE * float(np.hypot(max(spread, weight.sum() ** -0.5), common))
    point = point_of_judgement(base)
    total, total_u95 = mean * point[2], u95 * point[2]
    limit, source = reverse_limit(base, point[2])
    if total <= limit or total <= total_u95:
        return
    yield Finding(
        code=FindingCode.GAS,
        severity=severity_of(base, total, limit),
        evidence=_sentence(base, probe, found, (mean, total, point)),
        value=MICROAMPERE.from_si(total),
        u95=MICROAMPERE.from_si(total_u95),
        unit=UNIT,
        limit=MICROAMPERE.from_si(limit),
        limit_source=source,
        readings=positions(probe.positions[places]) if probe.positions.size else (),
    )


def _sentence(
    base: Case,
    probe: Probe,
    found: _Shifts,
    result: tuple[float, float, tuple[float, float, float]],
) -> str:
    ratio, total, point = result
    resistor = float(np.median(probe.setting[found.places]))
    largest = float(np.max(found.shift))
    text = (
        f"With {worded(resistor / _KILOHM, 'kohm')} in the grid lead the plate current rises as if "
        f"the grid stood {worded(float(np.median(found.shift)), 'V', 2)} higher (read off "
        f"{found.curve}): a total reverse grid current of {microamperes(total)} at "
        f"{volts(point[0])}, {volts(point[1])}, {ratio:.1e} of the plate current, gas unless "
        f"leakage or grid emission makes it{critical_resistance(base, ratio)}."
    )
    if largest > _SMALL_SHIFT:
        smaller = resistor * _SMALL_SHIFT / largest / _KILOHM
        text += f" A resistor of {worded(smaller, 'kohm', 1)} would keep the shift below 0.5 V."
    return text


def _relative_noise(base: Case) -> float:
    """Return the relative standard deviation of a strong reading."""
    current, noise = base.sweep.readings.plate_current, base.fit.noise
    strong = base.fit.used & np.isfinite(noise)
    if not strong.any():
        return _REPEATS
    strong &= current > _STRONG * current[strong].max()
    return max(float(np.median(noise[strong] / current[strong])), _REPEATS / 2)


def _shifts(base: Case, probe: Probe) -> _Shifts | None:
    readings = probe.readings
    if not len(readings):
        return None
    strong = readings.plate_current > _STRONG * readings.plate_current.max()
    for highest in (_NO_ELECTRONS, _FEW_ELECTRONS):
        usable = strong & (readings.grid_voltage <= highest) & (probe.setting > 0)
        places = np.flatnonzero(usable)
        found = None if base.fit.family is None else _along(base.fit.family, probe, places)
        found = _beside(base, probe, places) if found is None else found
        if found is not None:
            return found
    return None


def _along(family: PlateFamily, probe: Probe, places: IntArray) -> _Shifts | None:
    """Return the shifts along the measured curves, by Newton's method."""
    readings = probe.readings
    plate, grid = readings.plate_voltage[places], readings.grid_voltage[places]
    shift = np.zeros(places.size)
    for _ in range(_SEARCH):
        slope = np.maximum(family.slopes(plate, grid + shift)[1], 1e-12)
        miss = readings.plate_current[places] - family.current(plate, grid + shift)
        shift = np.clip(shift + miss / slope, -_FARTHEST, _FARTHEST)
    good = family.covers(plate, grid) & family.covers(plate, grid + shift)
    if not good.any():
        return None
    slope = np.asarray(family.slopes(plate[good], (grid + shift)[good])[1])
    return _Shifts(places[good], shift[good], slope, "the curves without it")


def _beside(base: Case, probe: Probe, places: IntArray) -> _Shifts | None:
    """Return the shifts from readings at the same set-points, by the handbook's family.

    Where the bench took too few readings for curves of its own, gm / Ip is the type's.
    """
    if base.family is None:
        return None
    usual, readings = base.sweep.readings, probe.readings
    rows = np.flatnonzero(base.fit.used)
    kept, shifts, slopes = [], [], []
    for place in places.tolist():
        plate, grid = float(readings.plate_voltage[place]), float(readings.grid_voltage[place])
        same = rows[
            (np.abs(usual.plate_voltage[rows] - plate) <= _SAME_PLATE * plate)
            & (np.abs(usual.grid_voltage[rows] - grid) <= max(_SAME_GRID, _SAME_GRID * -grid))
        ]
        at = np.array([plate]), np.array([grid])
        expected = float(base.family.current(*at)[0])
        before = float(usual.plate_current[same].mean()) if same.size else 0.0
        if before <= 0 or expected <= 0:
            continue
        gm = float(base.family.slopes(*at)[1][0]) * before / expected
        kept.append(place)
        shifts.append((float(readings.plate_current[place]) - before) / gm)
        slopes.append(gm)
    if not kept:
        return None
    curve = f"the family of {base.family.type_name}, the sweep being too small to tell"
    return _Shifts(np.array(kept), np.array(shifts), np.array(slopes), curve)
