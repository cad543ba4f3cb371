"""A tube's figures at the condition under which a sheet prints a limit."""

from __future__ import annotations

import numpy as np

from curvelab.assessment.connection import has_screen_grid
from curvelab.assessment.records import Assessment
from curvelab.fitting.constants import constants_at, local_constants_at, with_bench, with_local
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_fit import at_screen
from curvelab.fitting.records import Constant, Constants, FitResult, Outcome, PlateFamily
from curvelab.reference.records import PrintedLimit
from curvelab.sweep.bench import Bench

__all__ = ["figures_at"]

_HALVINGS = 60  # of the range of currents: to the last bit


def figures_at(assessment: Assessment, limit: PrintedLimit, bench: Bench) -> Constants:
    """Return the constants at the condition of a printed limit, or the reason there are none.

    At stated electrode volts they are those of the fitted family there. In a stated circuit
    the tube finds its own point, Vg = Vgg - Ip Rk and Vp = Vbb - Ip Rk (Kirchhoff's voltage
    law); the cathode resistor then lessens the uncertainty of the current by
    1 + Rk (gm + 1 / rp), as it lessens the spread of tubes.
    """
    if (limit.screen_voltage is not None) is not has_screen_grid(assessment.sweep):
        return _nothing(f"the limit is printed for another connection: {limit.condition}")
    fit = at_screen(assessment.fit, limit.screen_voltage)
    if limit.plate_voltage is not None and limit.grid_voltage is not None:
        return _constants(assessment, fit, (limit.plate_voltage, limit.grid_voltage), bench)
    family = fit.family
    if limit.supply_voltage is None or limit.cathode_resistance is None:
        return _nothing(f"no such point can be found in a sweep: {limit.condition}")
    if family is None:
        return _nothing("the readings make no family in which the circuit could be solved")
    current = _in_circuit(family, limit.supply_voltage, limit)
    drop = current * limit.cathode_resistance
    at = (limit.supply_voltage - drop, (limit.grid_supply_voltage or 0.0) - drop)
    found = _constants(assessment, fit, at, bench)
    return _with_feedback(found, limit.cathode_resistance)


def _nothing(reason: str) -> Constants:
    return Constants.missing(Outcome.NOT_COVERED, reason)


def _constants(
    assessment: Assessment, fit: FitResult, at: tuple[float, float], bench: Bench
) -> Constants:
    point, readings = assessment.operating_point, assessment.sweep.readings
    if (
        _screen(fit) == _screen(assessment.fit)
        and point is not None
        and (point.plate_voltage, point.grid_voltage) == at
    ):
        return assessment.constants
    local = local_constants_at(fit, readings, at)
    return with_bench(with_local(fit, readings, constants_at(fit, readings, at), local), at, bench)


def _screen(fit: FitResult) -> float | None:
    return fit.family.screen_voltage if isinstance(fit.family, PentodeFamily) else None


def _in_circuit(family: PlateFamily, supply: float, limit: PrintedLimit) -> float:
    resistance, grid_supply = limit.cathode_resistance or 0.0, limit.grid_supply_voltage or 0.0
    low, high = 0.0, supply / max(resistance, 1.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        drop = middle * resistance
        flows = family.current(np.array([supply - drop]), np.array([grid_supply - drop]))[0]
        low, high = (middle, high) if flows > middle else (low, middle)
    return 0.5 * (low + high)


def _with_feedback(constants: Constants, resistance: float) -> Constants:
    current, gm, rp, mu = (
        constants.plate_current,
        constants.transconductance,
        constants.plate_resistance,
        constants.amplification_factor,
    )
    if current.u95 is None or gm.value is None or rp.value is None:
        return constants
    lessened = current.u95 / (1.0 + resistance * (gm.value + 1.0 / rp.value))
    return Constants(Constant(current.value, lessened), gm, rp, mu)
