"""Readings at one screen voltage converted to another.

Where space charge alone limits the current, all electrode volts n times as high make n^(3/2)
times the current (Child 1911, Langmuir 1913; handbooks print it as conversion factors for
pentodes and beam tubes). The control grid's volts count from the contact potential, which does
not change with them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import FloatArray

__all__ = [
    "CARRIED_OPEN",
    "CONTACT_OFFSET",
    "CONTACT_OFFSET_OPEN",
    "DEGREE",
    "DEGREE_OPEN",
    "Converted",
    "convert",
]

DEGREE = 1.5
# How closely tubes keep to that power: a house estimate, from a published pentode whose triode
# connection follows from its curves at one screen voltage within 2 % (see the tests).
DEGREE_OPEN = 0.03
# What carrying a current to another screen voltage leaves open (standard deviation of ln Ip by that
# of the logarithm of the ratio of the voltages), from every type that prints points at two of
# them: six of seven keep within half of it. The seventh is a 6V6GT at 100 V on the screen, printed
# half as high again as its own 250 V curves make by any law of those that were tried: another
# power, an offset of up to 1 V, a foot that is fixed in volts (see the tests).
CARRIED_OPEN = 0.15
# Volts of contact potential and emission velocities of an oxide cathode, and its standard
# deviation (common practice, no source); readings at several screen voltages tell better.
CONTACT_OFFSET, CONTACT_OFFSET_OPEN = 0.4, 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Converted:
    """Volts and current [A] as they would be at the screen voltage wanted."""

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray


def convert(  # noqa: PLR0913 (a reading has four quantities)
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
    screen_voltage: FloatArray,
    wanted: float,
    contact_offset: float = CONTACT_OFFSET,
) -> Converted:
    """Convert readings to one screen voltage.

    Parameters
    ----------
    plate_voltage, grid_voltage, plate_current, screen_voltage : ndarray, shape (n,)
        As read [V], [V], [A], [V]; the screen's positive.
    wanted : float
        Screen voltage to convert to [V].
    """
    times = wanted / screen_voltage
    return Converted(
        np.asarray(plate_voltage * times),
        np.asarray((grid_voltage + contact_offset) * times - contact_offset),
        np.asarray(plate_current * times**DEGREE),
    )
