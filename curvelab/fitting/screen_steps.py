"""Readings grouped by screen voltage, and the bench faults among them."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.records import LeftOut, LeftOutReason
from curvelab.fitting.screen import screen
from curvelab.sweep.curves import split_curves
from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["faults_by_screen_step", "screen_steps", "usual_screen_voltage"]

# A bench's screen supply wanders within this share of its set-point, or this many volts
# (common practice, no source).
_SAME_SHARE, _SAME_VOLTS = 0.02, 1.0
# Below this share of the screen's volts a tetrode's plate current may fall of itself, to what
# share of its neighbours' we have not seen below.
_MAY_FALL_BELOW, _LEAST_OF_NEIGHBOURS = 0.6, 0.5


def screen_steps(screen_voltage: FloatArray) -> IntArray:
    """Return for each reading which step of the screen voltage it belongs to, from the lowest.

    Parameters
    ----------
    screen_voltage : ndarray, shape (n,)
        [V], finite.
    """
    order = np.argsort(screen_voltage, kind="stable")
    volts = screen_voltage[order]
    apart = np.diff(volts) > np.maximum(_SAME_VOLTS, _SAME_SHARE * volts[1:])
    step = np.empty(volts.size, dtype=np.int64)
    step[order] = np.concatenate(([0], np.cumsum(apart))) if volts.size else 0
    return step


def usual_screen_voltage(screen_voltage: FloatArray) -> float:
    """Return the screen voltage at which most readings were taken; of equals the highest."""
    step = screen_steps(screen_voltage)
    count = np.bincount(step)
    most = int(np.flatnonzero(count == count.max())[-1])
    return float(np.median(screen_voltage[step == most]))


def faults_by_screen_step(readings: Readings) -> tuple[LeftOut, ...]:
    """Find what the bench spoilt, each step of the screen voltage by itself.

    A fall of the plate current below the knee is a tetrode's nature and no loose contact, unless
    it is a deep one.
    """
    assert readings.screen_voltage is not None
    known = np.flatnonzero(np.isfinite(readings.screen_voltage))
    step = screen_steps(readings.screen_voltage[known])
    found: dict[LeftOutReason, list[IntArray]] = {}
    for each in range(int(step.max(initial=-1)) + 1):
        members = known[step == each]
        group = readings.take(members)
        for item in screen(group, split_curves(group)):
            spoilt = item.readings
            if item.reason is LeftOutReason.CONTACT:
                spoilt = np.array([k for k in spoilt if _is_contact(group, int(k))], dtype=int)
            found.setdefault(item.reason, []).append(members[spoilt])
    joined = {reason: np.sort(np.concatenate(parts)) for reason, parts in found.items()}
    return tuple(LeftOut(reason, index) for reason, index in joined.items() if index.size)


def _is_contact(readings: Readings, reading: int) -> bool:
    assert readings.screen_voltage is not None
    plate = readings.plate_voltage
    if plate[reading] >= _MAY_FALL_BELOW * readings.screen_voltage[reading]:
        return True
    curves = split_curves(readings)
    order = curves.order(int(curves.step[reading]), plate)
    others = order[order != reading]
    between = np.interp(plate[reading], plate[others], readings.plate_current[others])
    return bool(readings.plate_current[reading] < _LEAST_OF_NEIGHBOURS * between)
