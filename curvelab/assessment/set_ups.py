"""Which readings show a tube under a changed set-up, and whose usual readings they go with.

A resistor switched into the grid lead, or a heater turned down, is a test of the tube: such
readings stand beside the usual ones, in the same file or in another, and do not belong in the
fit of the usual ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from curvelab.health.case import Case, Probe, SetUp
from curvelab.sweep.records import BoolArray, FloatArray, Readings, Sweep, SweepKind

__all__ = ["changed_rows", "own_probes", "partners", "probe_of"]

# Heater volts below this share of the usual were turned down, not merely sagging; a bench that
# turns them down further than that measures another thing (common practice, no source).
_TURNED_DOWN, _LEAST_HEATER = 0.96, 0.75
_SAME_LEVEL = 0.97

_NOWHERE = np.empty(0, dtype=np.int64)


def changed_rows(sweep: Sweep) -> BoolArray:
    """Mark the readings under a changed set-up where the sweep holds usual ones as well."""
    changed = np.zeros(len(sweep.readings), dtype=bool)
    if sweep.kind is SweepKind.CURVES:
        for marked in (_with_resistor(sweep.readings), _turned_down(sweep.readings)):
            if (~(changed | marked)).any():
                changed |= marked
    return changed


def _with_resistor(readings: Readings) -> BoolArray:
    if readings.grid_resistor is None:
        return np.zeros(len(readings), dtype=bool)
    return np.asarray(readings.grid_resistor > 0)


def _turned_down(readings: Readings) -> BoolArray:
    usual = _usual_heater(readings)
    if usual is None or readings.heater_voltage is None:
        return np.zeros(len(readings), dtype=bool)
    return np.asarray(readings.heater_voltage < _TURNED_DOWN * usual)


def _usual_heater(readings: Readings) -> float | None:
    """Return the full heater voltage of a sweep: the level of its highest readings."""
    volts = readings.heater_voltage
    if volts is None or not np.isfinite(volts).any() or np.nanmax(volts) <= 0:
        return None
    return float(np.nanmedian(volts[volts >= _SAME_LEVEL * np.nanmax(volts)]))


def own_probes(sweep: Sweep, changed: BoolArray) -> Iterator[Probe]:
    """Yield the probes among the readings of one sweep."""
    readings = sweep.readings
    usual = _usual_heater(readings)
    settings: tuple[tuple[SetUp, FloatArray | None, BoolArray, float | None], ...] = (
        (SetUp.GRID_RESISTOR, readings.grid_resistor, _with_resistor(readings), 0.0),
        (SetUp.LOW_HEATER, readings.heater_voltage, _turned_down(readings), usual),
    )
    for order, (set_up, setting, rows, normal) in enumerate(settings):
        # With both changed at once neither test would be clean.
        places = np.flatnonzero(rows & changed & ~settings[1 - order][2])
        if places.size and setting is not None and normal is not None:
            yield Probe(set_up, readings.take(places), setting[places], normal, None, places)


def partners(sweeps: Sequence[Sweep]) -> list[tuple[int, int, SetUp]]:
    """Return (usual, changed, what changed) for files of one tube under two set-ups."""
    places: dict[tuple[str, str | None], list[int]] = {}
    for place, sweep in enumerate(sweeps):
        if sweep.kind is SweepKind.CURVES:
            places.setdefault((sweep.tube, sweep.section), []).append(place)
    found = []
    for members in places.values():
        settings = {(sweeps[k].conditions.grid_resistor, _heater_volts(sweeps[k])) for k in members}
        for usual in members if len(settings) > 1 else ():
            for other in members:
                set_up = _difference(sweeps[usual], sweeps[other])
                if set_up is not None:
                    found.append((usual, other, set_up))
    return found


def _difference(usual: Sweep, other: Sweep) -> SetUp | None:
    """Return the one thing that was changed between two files of a tube."""
    if usual.type_label != other.type_label:
        return None
    resistor = (usual.conditions.grid_resistor or 0.0, other.conditions.grid_resistor or 0.0)
    heater = (_heater_volts(usual), _heater_volts(other))
    ratio = 1.0 if None in heater or not heater[0] else (heater[1] or 0.0) / heater[0]
    same_heater = _TURNED_DOWN <= ratio <= 1.0 / _TURNED_DOWN
    if resistor[0] == 0.0 < resistor[1] and same_heater:
        return SetUp.GRID_RESISTOR
    if resistor[0] == resistor[1] and _LEAST_HEATER <= ratio < _TURNED_DOWN:
        return SetUp.LOW_HEATER
    return None


def _heater_volts(sweep: Sweep) -> float | None:
    """Return the heater voltage of a sweep's usual readings [V]; None where not known."""
    return _usual_heater(sweep.readings) or sweep.conditions.heater_voltage


def probe_of(usual: Case, changed: Sweep, set_up: SetUp, *, judged: bool) -> Probe:
    """Return a file under a changed set-up as a probe of the tube's usual file.

    Parameters
    ----------
    judged : bool
        Whether the changed file is the one that is judged, rather than the usual one.
    """
    readings, size = changed.readings, len(changed.readings)
    resistor = set_up is SetUp.GRID_RESISTOR
    setting = changed.conditions.grid_resistor if resistor else _heater_volts(changed)
    return Probe(
        set_up=set_up,
        readings=readings,
        setting=np.full(size, setting or 0.0),
        usual=0.0 if resistor else _heater_volts(usual.sweep) or 0.0,
        base=usual if judged else None,
        positions=np.arange(size) if judged else _NOWHERE,
    )
