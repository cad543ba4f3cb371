"""Another tube in the same circuit: where its bias and its current settle.

The plate stands at a supply through the direct-current resistance of the plate circuit; the
bias is made by a cathode resistor, or is fixed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.fitting.records import PlateFamily

__all__ = ["Circuit", "Settled", "bias_for_current", "settle", "stage_around"]

_HALVINGS = 60
_DEEPEST_BIAS = 2.0  # times the plate voltage: beyond this no triode passes current


@dataclass(frozen=True, slots=True)
class Circuit:
    """A stage at rest: what its supplies and resistors are. [V], [ohm].

    ``grid_supply_voltage`` is 0 where the cathode resistor alone makes the bias;
    ``screen_supply_voltage`` is None for a triode.
    """

    supply_voltage: float
    grid_supply_voltage: float
    cathode_resistance: float
    plate_resistance: float
    screen_supply_voltage: float | None = None


@dataclass(frozen=True, slots=True)
class Settled:
    """A tube at rest in a circuit. [V], [V], [A], [S], [ohm], [1].

    ``extrapolated`` tells that no published figure backs the family there. Of a tube with its
    screen at a voltage of its own, the screen's voltage [V] and current [A] stand too, and the
    amplification factor is that of the control grid against the screen.
    """

    plate_voltage: float
    grid_voltage: float
    plate_current: float
    transconductance: float
    plate_resistance: float
    amplification_factor: float
    extrapolated: bool
    screen_voltage: float | None = None
    screen_current: float | None = None

    @property
    def cathode_current(self) -> float:
        """Ip + Is [A]."""
        return self.plate_current + (self.screen_current or 0.0)

    @property
    def screen_dissipation(self) -> float | None:
        """Vs Is [W]; None where the screen has no voltage of its own."""
        if self.screen_voltage is None or self.screen_current is None:
            return None
        return self.screen_voltage * self.screen_current

    @property
    def plate_dissipation(self) -> float:
        """Vp Ip [W]."""
        return self.plate_voltage * self.plate_current


def stage_around(
    family: PlateFamily,
    at: tuple[float, float],
    *,
    fixed_bias: bool = False,
    plate_resistance: float = 0.0,
) -> Circuit:
    """Return the circuit in which a tube of this family stands at a point.

    By Ohm's law: Rk = -Vg / Ip, or none where the bias is fixed, and
    Vbb = Vp + Ip (Rk + Rp).

    Parameters
    ----------
    at : tuple of float
        (Vp, Vg) [V].
    plate_resistance : float
        Direct-current resistance of the plate circuit [ohm].
    """
    plate, grid = at
    current = _current(family, plate, grid)
    cathode = 0.0 if fixed_bias or current <= 0 else max(-grid, 0.0) / current
    supply = plate + current * (cathode + plate_resistance)
    return Circuit(supply, grid + current * cathode, cathode, plate_resistance)


def settle(family: PlateFamily, circuit: Circuit) -> Settled:
    """Return where a tube of this family settles.

    Solves Ip = f(Vbb - Ip (Rk + Rp), Vgg - Ip Rk), whose right side falls as Ip rises, by
    halving.
    """
    grid_supply = circuit.grid_supply_voltage
    total = circuit.cathode_resistance + circuit.plate_resistance
    low, high = 0.0, max(_current(family, circuit.supply_voltage, grid_supply), 1e-9)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        plate = circuit.supply_voltage - middle * total
        grid = grid_supply - middle * circuit.cathode_resistance
        passed = _current(family, plate, grid) if plate > 0 else 0.0
        low, high = (middle, high) if passed > middle else (low, middle)
    plate = circuit.supply_voltage - high * total
    return _settled(family, plate, grid_supply - high * circuit.cathode_resistance)


def bias_for_current(
    family: PlateFamily, plate_voltage: float, plate_current: float
) -> float | None:
    """Return the grid voltage at which the family passes a current [V]; None if above 0 V."""
    low, high = -_DEEPEST_BIAS * plate_voltage, 0.0
    if _current(family, plate_voltage, high) < plate_current:
        return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        passes = _current(family, plate_voltage, middle) > plate_current
        low, high = (low, middle) if passes else (middle, high)
    return high


def _current(family: PlateFamily, plate_voltage: float, grid_voltage: float) -> float:
    return float(family.current(np.array([plate_voltage]), np.array([grid_voltage]))[0])


def _settled(family: PlateFamily, plate_voltage: float, grid_voltage: float) -> Settled:
    plate, grid = np.array([plate_voltage]), np.array([grid_voltage])
    by_plate, by_grid = (max(float(item[0]), 1e-15) for item in family.slopes(plate, grid))
    return Settled(
        plate_voltage=plate_voltage,
        grid_voltage=grid_voltage,
        plate_current=_current(family, plate_voltage, grid_voltage),
        transconductance=by_grid,
        plate_resistance=1.0 / by_plate,
        amplification_factor=by_grid / by_plate,
        extrapolated=not bool(family.covers(plate, grid)[0]),
    )
