"""The constants of a tube with a screen grid from its nearest readings, no law assumed."""

from __future__ import annotations

import math

import numpy as np

from curvelab.fitting.conversion import (
    CONTACT_OFFSET,
    CONTACT_OFFSET_OPEN,
    DEGREE,
    DEGREE_OPEN,
    convert,
)
from curvelab.fitting.local import local_constants
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.sweep.records import Readings

__all__ = ["local_pentode_constants"]

_SAME_SCREEN = 0.02
_ONE_PLATE = 0.02
_ENOUGH = 16  # readings: as many as the local quadratic takes


def local_pentode_constants(
    readings: Readings, at: tuple[float, float], screen_voltage: float
) -> Constants:
    """Estimate Ip, gm, rp, and mu of the control grid against the screen.

    mu needs no second screen voltage: the current is homogeneous of degree 3/2 in all electrode
    volts, so that by Euler's theorem ``Vs dIp/dVs = 3/2 Ip - Vp/rp - (Vg + Vc) gm``, and
    mu = gm / (dIp/dVs).

    Parameters
    ----------
    readings : Readings
        Accepted readings with their screen voltage.
    at : tuple of float
        (Vp, Vg) [V].
    screen_voltage : float
        Of the point [V]. The readings taken at it are enough where there are some; else all
        are converted to it.
    """
    assert readings.screen_voltage is not None
    same = np.abs(readings.screen_voltage - screen_voltage) <= _SAME_SCREEN * screen_voltage
    own = readings.take(same) if np.count_nonzero(same) >= _ENOUGH else readings
    there = convert(
        own.plate_voltage,
        own.grid_voltage,
        own.plate_current,
        own.screen_voltage,  # type: ignore[arg-type]
        screen_voltage,
    )
    found = local_constants(there.plate_voltage, there.grid_voltage, there.plate_current, at)
    rp = found.plate_resistance
    if np.ptp(own.plate_voltage) < _ONE_PLATE * at[0]:  # converted or not, the plate stood still
        rp = Constant.missing(Outcome.NOT_COVERED, "only one plate voltage was swept")
    return Constants(
        found.plate_current,
        found.transconductance,
        rp,
        _against_screen(found, at, screen_voltage),
    )


def _against_screen(found: Constants, at: tuple[float, float], screen_voltage: float) -> Constant:
    for constant in (found.plate_current, found.transconductance, found.plate_resistance):
        if constant.value is None:
            return constant
    current, gm, rp = (
        float(item.value or np.nan)
        for item in (found.plate_current, found.transconductance, found.plate_resistance)
    )
    u_current, u_gm, u_rp = (
        float(item.u95 or 0.0)
        for item in (found.plate_current, found.transconductance, found.plate_resistance)
    )
    bias = at[1] + CONTACT_OFFSET
    rest = DEGREE * current - at[0] / rp - bias * gm
    if rest <= 0:
        return Constant.missing(
            Outcome.UNPHYSICAL, "the plate current would not rise with the screen voltage"
        )
    mu = gm * screen_voltage / rest
    # Relative sensitivities; the constants' own correlation is small beside the offset's part.
    u95 = mu * math.hypot(
        DEGREE * u_current / rest,
        (1.0 / gm + bias / rest) * u_gm,
        at[0] / rp**2 * u_rp / rest,
        2.0 * CONTACT_OFFSET_OPEN * gm / rest,
        2.0 * DEGREE_OPEN * current / rest,
    )
    return Constant(mu, u95)
