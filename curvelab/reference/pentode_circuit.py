"""A tube with a screen grid at rest in a circuit, the screen at a supply of its own.

The cathode resistor carries the currents of plate and screen, and lowers both electrodes'
voltages to the cathode by its drop.
"""

from __future__ import annotations

import numpy as np

from curvelab.reference.family import ReferenceFamily
from curvelab.reference.same_circuit import Circuit, Settled, settle

__all__ = ["pentode_stage_around", "settle_pentode"]

_LEAST_SCREEN = 0.05  # of its supply: a cathode never lifts itself further
_CLOSE = 1e-9  # [A]


def pentode_stage_around(
    family: ReferenceFamily,
    at: tuple[float, float],
    screen_voltage: float,
    *,
    fixed_bias: bool = False,
    plate_resistance: float = 0.0,
) -> Circuit:
    """Return the circuit in which a tube of this family stands at a point.

    By Ohm's law: Rk = -Vg / (Ip + Is), or none where the bias is fixed,
    Vbb = Vp + (Ip + Is) Rk + Ip Rp, and the screen's supply is Vs + (Ip + Is) Rk.

    Parameters
    ----------
    at : tuple of float
        (Vp, Vg) [V].
    screen_voltage : float
        Screen to cathode [V].
    plate_resistance : float
        Direct-current resistance of the plate circuit [ohm].
    """
    plate, grid = at
    current, of_screen = _currents(family.at_screen(screen_voltage), plate, grid)
    total = current + of_screen
    cathode = 0.0 if fixed_bias or total <= 0 else max(-grid, 0.0) / total
    lift = cathode * total
    return Circuit(
        supply_voltage=plate + lift + current * plate_resistance,
        grid_supply_voltage=grid + lift,
        cathode_resistance=cathode,
        plate_resistance=plate_resistance,
        screen_supply_voltage=screen_voltage + lift,
    )


def settle_pentode(family: ReferenceFamily, circuit: Circuit) -> Settled:
    """Return where a tube of this family settles.

    The cathode's lift is found at which the tube passes the current that makes it; for each
    lift, the plate settles with its own resistor alone.
    """
    assert circuit.screen_supply_voltage is not None
    if circuit.cathode_resistance == 0.0:
        return _at_lift(family, circuit, 0.0)
    # scipy is not needed to start.
    from scipy.optimize import brentq  # noqa: PLC0415

    def surplus(current: float) -> float:
        lift = current * circuit.cathode_resistance
        return _at_lift(family, circuit, lift).cathode_current - current

    highest = _at_lift(family, circuit, 0.0).cathode_current
    ceiling = (1.0 - _LEAST_SCREEN) * circuit.screen_supply_voltage / circuit.cathode_resistance
    top = min(highest, ceiling)
    if surplus(top) >= 0.0:  # already at rest: without lift it passes no more
        current = top
    else:
        current = float(brentq(surplus, 0.0, top, xtol=_CLOSE))
    return _at_lift(family, circuit, current * circuit.cathode_resistance)


def _at_lift(family: ReferenceFamily, circuit: Circuit, lift: float) -> Settled:
    """Return where it stands while the cathode is ``lift`` [V] above the common point."""
    assert circuit.screen_supply_voltage is not None
    screen = circuit.screen_supply_voltage - lift
    seen = family.at_screen(screen)
    above_cathode = Circuit(
        supply_voltage=circuit.supply_voltage - lift,
        grid_supply_voltage=circuit.grid_supply_voltage - lift,
        cathode_resistance=0.0,
        plate_resistance=circuit.plate_resistance,
    )
    found = settle(seen, above_cathode)
    plate, grid = found.plate_voltage, found.grid_voltage
    factor = seen.amplification_factor(np.array([plate]), np.array([grid]))
    return Settled(
        plate_voltage=plate,
        grid_voltage=grid,
        plate_current=found.plate_current,
        transconductance=found.transconductance,
        plate_resistance=found.plate_resistance,
        amplification_factor=float(factor[0]),
        extrapolated=found.extrapolated,
        screen_voltage=screen,
        screen_current=_currents(seen, plate, grid)[1],
    )


def _currents(family: ReferenceFamily, plate: float, grid: float) -> tuple[float, float]:
    volts, bias = np.array([plate]), np.array([grid])
    return float(family.current(volts, bias)[0]), float(family.screen_current(volts, bias)[0])
