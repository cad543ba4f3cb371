"""Ip, gm, rp and mu at an operating point, each with its 95 % uncertainty."""

from __future__ import annotations

import math

import numpy as np

from curvelab.fitting.family import FittedFamily
from curvelab.fitting.family_values import USELESS_SHARE, family_values
from curvelab.fitting.local import local_constants
from curvelab.fitting.local_pentode import local_pentode_constants
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import Constant, Constants, FitResult, Outcome
from curvelab.sweep.bench import Bench
from curvelab.sweep.records import Readings

__all__ = ["constants_at", "local_constants_at", "with_bench", "with_local"]

# Fewer readings than this cannot choose between laws, so the choice itself is uncertain.
_FEW_READINGS = 40
# A family this far from the usual reading is not its family: read off paper a curve is good
# to 5 %, and half of all readings are nearer than two thirds of that.
_ASTRAY = 0.05
_CLEAR_SHARE = 0.1  # of the largest current
_FALLS = "the plate current does not rise with the plate voltage there"
_WITHOUT = {
    Outcome.UNPHYSICAL: "the fitted current does not rise with plate and grid voltage",
    Outcome.NO_CURRENT: "the plate current there is below what the bench resolves",
}


def constants_at(
    fit: FitResult,
    readings: Readings,
    at: tuple[float, float],
    screen_voltage: float | None = None,
) -> Constants:
    """Return the constants of the fitted family at (Vp, Vg) [V].

    gm = dIp/dVg at constant Vp, rp = dVp/dIp at constant Vg, mu = gm rp (IEEE Std 158,
    methods of testing electron tubes). Where the readings make only a line (a single
    grid step, a single plate voltage) the local quadratic gives what that line can.

    Parameters
    ----------
    screen_voltage : float or None
        Of a tube with a screen grid [V]; a fitted family knows its own. Its mu is that of the
        control grid against the screen, -dVs/dVg at constant Ip: against the plate it is gm rp,
        which is large, uncertain and printed by no handbook.
    """
    if fit.outcome is Outcome.NO_CURRENT:
        return Constants.missing(fit.outcome, fit.reason or "no plate current")
    if not isinstance(fit.family, FittedFamily | PentodeFamily):
        return _from_line(fit, readings, at, screen_voltage)
    found = family_values(fit, fit.family, np.array([at[0]]), np.array([at[1]]))
    outcome = Outcome(str(found.outcome[0]))
    if outcome is not Outcome.GOOD:
        return Constants.missing(outcome, _WITHOUT.get(outcome) or _outside(at))
    constants = [
        _judged(float(value), float(u95))
        for value, u95 in zip(found.value[:, 0], found.u95[:, 0], strict=True)
    ]
    if np.isnan(found.value[2, 0]):  # below the knee of a tetrode
        constants[2] = Constant.missing(Outcome.UNPHYSICAL, _FALLS)
    return Constants(*constants)


def local_constants_at(
    fit: FitResult,
    readings: Readings,
    at: tuple[float, float],
    screen_voltage: float | None = None,
) -> Constants:
    """Return the constants by the local quadratic over the readings the fit accepted.

    With a ``screen_voltage``, that of the family where there is one, mu is that of the control
    grid against the screen; see `constants_at`.
    """
    if fit.outcome is Outcome.NO_CURRENT:
        return Constants.missing(fit.outcome, fit.reason or "no plate current")
    used = readings.take(fit.used)
    if isinstance(fit.family, PentodeFamily):
        screen_voltage = fit.family.screen_voltage
    if screen_voltage is None:
        found = local_constants(used.plate_voltage, used.grid_voltage, used.plate_current, at)
    else:
        found = local_pentode_constants(used, at, screen_voltage)
    return Constants(
        *(
            item if item.value is None or item.u95 is None else _judged(item.value, item.u95)
            for item in _each(found)
        )
    )


def with_bench(constants: Constants, at: tuple[float, float], bench: Bench) -> Constants:
    """Add the accuracy of the bench's meters to the uncertainty (JCGM 100, clause 5.1).

    A gain error of the current meter moves Ip and gm and, inversely, rp; one of a voltage
    meter moves the slope taken against it; an offset of a voltage moves Ip by the slope.
    A bench without stated accuracy adds nothing but the uncertainty of its corrections.
    """
    current, gm, rp, mu = _each(constants)
    by_grid = gm.value or 0.0
    by_plate = 1.0 / rp.value if rp.value else 0.0
    gain_i, rest_i = bench.plate_current.standard_uncertainty(current.value or 0.0)
    gain_p, rest_p = bench.plate_voltage.standard_uncertainty(at[0])
    gain_g, rest_g = bench.grid_voltage.standard_uncertainty(at[1])
    plate_v = math.hypot(gain_p * at[0], rest_p)
    grid_v = math.hypot(gain_g * at[1], rest_g)
    ip_abs = math.hypot(
        gain_i * (current.value or 0.0), rest_i, by_plate * plate_v, by_grid * grid_v
    )
    return Constants(
        _widen(current, ip_abs),
        _widen(gm, math.hypot(gain_i, gain_g) * by_grid),
        _widen(rp, math.hypot(gain_i, gain_p) * (rp.value or 0.0)),
        _widen(mu, math.hypot(gain_p, gain_g) * (mu.value or 0.0)),
    )


def with_local(
    fit: FitResult, readings: Readings, constants: Constants, local: Constants
) -> Constants:
    """Let the local quadratic speak where the family rests on few readings.

    With few readings the choice of the law is part of what is not known; so far as the estimate
    that needs no law is further away than its own uncertainty explains, the distance counts, in
    quadrature. Where the family does not follow the readings, or leaves open what the local
    estimate settles, the local value is the one to give, and all of the distance counts.
    """
    if fit.family is None or int(fit.used.sum()) >= _FEW_READINGS:
        return constants
    astray = _misfit(fit, readings) > _ASTRAY or _open(constants) > _open(local)
    pairs = zip(_each(constants), _each(local), strict=True)
    return Constants(
        *(
            _widened(other, mine, 0.0) if astray else _widened(mine, other, other.u95 or 0.0)
            for mine, other in pairs
        )
    )


def _open(constants: Constants) -> int:
    return sum(item.outcome is Outcome.ILL_CONDITIONED for item in _each(constants))


def _misfit(fit: FitResult, readings: Readings) -> float:
    """Return the usual distance of a reading from the family, as a share of it."""
    current = np.where(fit.used, readings.plate_current, 0.0)
    clear = current > _CLEAR_SHARE * current.max()
    return float(np.median(np.abs(fit.residual[clear]) / current[clear]))


def _widened(constant: Constant, other: Constant, explained: float) -> Constant:
    if constant.value is None or constant.u95 is None or other.value is None:
        return constant
    left = max(abs(constant.value - other.value) - explained, 0.0)
    return _judged(constant.value, math.hypot(constant.u95, left))


def _widen(constant: Constant, standard: float) -> Constant:
    if constant.value is None or constant.u95 is None:
        return constant
    return Constant(constant.value, math.hypot(constant.u95, 2.0 * standard))


def _each(constants: Constants) -> tuple[Constant, Constant, Constant, Constant]:
    return (
        constants.plate_current,
        constants.transconductance,
        constants.plate_resistance,
        constants.amplification_factor,
    )


def _judged(value: float, u95: float) -> Constant:
    if not (math.isfinite(value) and math.isfinite(u95)):
        return Constant.missing(Outcome.ILL_CONDITIONED, "the readings do not determine it")
    if u95 > USELESS_SHARE * abs(value):
        return Constant.missing(
            Outcome.ILL_CONDITIONED,
            f"the readings leave it open by {100 * u95 / abs(value):.0f} %",
        )
    return Constant(value, u95)


def _outside(at: tuple[float, float]) -> str:
    return f"the readings do not surround {at[0]:g} V, {at[1]:g} V"


def _from_line(
    fit: FitResult, readings: Readings, at: tuple[float, float], screen_voltage: float | None
) -> Constants:
    if fit.hull is None:
        return Constants.missing(fit.outcome, fit.reason or "too few readings")
    if not bool(fit.hull.contains(np.array(at[0]), np.array(at[1]))):
        return Constants.missing(Outcome.NOT_COVERED, _outside(at))
    return local_constants_at(fit, readings, at, screen_voltage)
