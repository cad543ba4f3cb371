"""Where the set-points of a log were changed: a trend is judged between changes only."""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["split_at_set_points"]

# What a change must exceed: (share of the voltage, volts). A bench's supplies wander by
# less and are turned by more (common practice, no source).
_LEAST_CHANGE = {
    "plate_voltage": (0.02, 1.0),
    "grid_voltage": (0.02, 0.05),
    "screen_voltage": (0.02, 1.0),
    "heater_voltage": (0.02, 0.05),
    "grid_resistor": (0.02, 1.0),  # [ohm]
}
_CHANGE_SIGMAS = 8.0
_MAD_TO_SIGMA = 1.4826  # of a normal distribution
_WINDOW = 5  # readings of a running median: one or two wrong voltages are no change


def split_at_set_points(readings: Readings) -> tuple[IntArray, ...]:
    """Return the positions of each stretch at fixed set-points, in order of time.

    Readings without a time belong to no stretch.
    """
    if readings.time is None:
        return ()
    order = np.argsort(readings.time, kind="stable")
    order = order[np.isfinite(readings.time[order])]
    changed = np.zeros(max(order.size - 1, 0), dtype=bool)
    for name, least in _LEAST_CHANGE.items():
        voltage = getattr(readings, name)
        if voltage is not None and order.size > _WINDOW:
            changed |= _changes(voltage[order], *least)
    return tuple(part for part in np.split(order, np.flatnonzero(changed) + 1) if part.size)


def _changes(voltage: FloatArray, share: float, volts: float) -> np.ndarray:
    """Mark the gaps between readings across which a voltage was turned to another level."""
    known = np.flatnonzero(np.isfinite(voltage))
    changed = np.zeros(voltage.size - 1, dtype=bool)
    if known.size <= _WINDOW:
        return changed
    value = voltage[known]
    windows = np.median(sliding_window_view(value, _WINDOW), axis=1)
    level = windows[np.clip(np.arange(value.size) - _WINDOW // 2, 0, windows.size - 1)]
    noise = _MAD_TO_SIGMA * float(np.median(np.abs(np.diff(value)))) / np.sqrt(2.0)
    largest = float(np.abs(level).max())
    least = max(share * largest, volts, _CHANGE_SIGMAS * noise)
    changed[known[1:][np.abs(np.diff(level)) > least] - 1] = True
    return changed
