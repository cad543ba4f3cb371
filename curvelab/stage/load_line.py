"""Where a family of plate curves meets a load line."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.records import PlateFamily
from curvelab.stage.records import QuiescentPoint
from curvelab.sweep.records import FloatArray

__all__ = ["along_load_line", "cathode_bias_point", "fixed_bias_point"]

_HALVINGS = 60  # of a range of volts: far below any meter


def fixed_bias_point(
    family: PlateFamily, plate_voltage: float, grid_voltage: float
) -> QuiescentPoint:
    """Return where a tube rests at electrode voltages [V]."""
    current = family.current(np.array([plate_voltage]), np.array([grid_voltage]))
    return QuiescentPoint(plate_voltage, grid_voltage, float(current[0]))


def cathode_bias_point(
    family: PlateFamily,
    supply_voltage: float,
    cathode_resistance: float,
    plate_resistance: float = 0.0,
) -> QuiescentPoint:
    """Return where a tube with a cathode resistor rests.

    Parameters
    ----------
    supply_voltage : float
        [V], to the end of the cathode resistor.
    cathode_resistance, plate_resistance : float
        To direct current [ohm].

    Raises
    ------
    ValueError
        If the supply or the cathode resistor is not positive.
    """
    if not (supply_voltage > 0 and cathode_resistance > 0 and plate_resistance >= 0):
        raise ValueError("a supply and a cathode resistor above zero are needed")
    low, high = 0.0, supply_voltage / (cathode_resistance + plate_resistance)
    for _ in range(_HALVINGS):  # what the tube draws falls as the current that biases it rises
        middle = (low + high) / 2
        plate = supply_voltage - middle * (cathode_resistance + plate_resistance)
        drawn = family.current(np.array([plate]), np.array([-middle * cathode_resistance]))
        low, high = (middle, high) if float(drawn[0]) > middle else (low, middle)
    plate = supply_voltage - high * (cathode_resistance + plate_resistance)
    return QuiescentPoint(plate, -high * cathode_resistance, high)


def along_load_line(
    family: PlateFamily, rest: QuiescentPoint, load_resistance: float, grid_voltage: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return plate voltage [V] and current [A] at grid voltages [V] on a load line.

    The line passes the point of rest with the slope of the load, as a transformer or choke
    of no resistance and no leakage has it: Ip = I0 - (Vp - V0) / R.

    Raises
    ------
    ValueError
        If the load is not positive.
    """
    if not load_resistance > 0:
        raise ValueError("a load above zero is needed")
    grid = np.asarray(grid_voltage, dtype=float)
    low = np.zeros(grid.size)
    high = np.full(grid.size, rest.plate_voltage + rest.plate_current * load_resistance)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        on_line = rest.plate_current - (middle - rest.plate_voltage) / load_resistance
        above = family.current(middle, grid) > on_line
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    current = rest.plate_current - (high - rest.plate_voltage) / load_resistance
    return high, np.asarray(current)
