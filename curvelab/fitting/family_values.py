"""Ip, gm, rp and mu of a fitted family at any number of points, in one pass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.coverage import coverage_factor
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import FitResult, Outcome
from curvelab.sweep.records import FloatArray

__all__ = ["USELESS_SHARE", "FamilyValues", "family_values"]

# A value whose 95 % uncertainty exceeds this share of it says nothing.
USELESS_SHARE = 0.6
# How smooth the correction is was itself chosen from the readings, which its covariance does
# not know; slopes feel it, the current does not. Found on simulated tubes (two laws that are
# none of ours, several seeds): without it the slopes' 95 % hold the truth in 93 to 97 % of all
# cases, but for single types in as few as 80 to 90 %.
_OF_THE_CHOICE = np.array([[1.0], [1.15], [1.15], [1.15]])
# A current must stand this far above the readings' own floor to have slopes worth the name.
_RESOLVED = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class FamilyValues:
    """The constants at n points.

    Attributes
    ----------
    value, u95 : ndarray, shape (4, n)
        Ip [A], gm [S], rp [ohm], mu [1]; NaN where the outcome is not good.
    outcome : ndarray of str, shape (n,)
        In the words of `Outcome`.
    """

    value: FloatArray
    u95: FloatArray
    outcome: NDArray[np.str_]


def family_values(
    fit: FitResult,
    family: FittedFamily | PentodeFamily,
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
) -> FamilyValues:
    """Return the constants of the family of ``fit`` at points (Vp, Vg) [V], shape (n,).

    gm = dIp/dVg at constant Vp, rp = dVp/dIp at constant Vg, mu = gm rp (IEEE Std 158,
    methods of testing electron tubes). With a screen grid mu is that of the control grid
    against the screen, and rp is NaN where the plate current falls as the plate's volts rise.
    """
    current, by_plate, by_grid = family.evaluate(plate_voltage, grid_voltage)
    floor = float(np.nanmin(fit.noise))
    may_fall = isinstance(family, PentodeFamily)
    outcome = np.select(
        [
            ~family.covers(plate_voltage, grid_voltage),
            ~(((by_plate > 0) | may_fall) & (by_grid > 0) & (current > 0)),
            current < _RESOLVED * floor,
        ],
        [Outcome.NOT_COVERED.value, Outcome.UNPHYSICAL.value, Outcome.NO_CURRENT.value],
        Outcome.GOOD.value,
    )
    value, u95 = np.full((2, 4, outcome.size), np.nan)
    good = np.flatnonzero(outcome == Outcome.GOOD)
    if good.size:
        plate, grid, by_plate = plate_voltage[good], grid_voltage[good], by_plate[good]
        rp = np.where(by_plate > 0, 1.0 / np.where(by_plate > 0, by_plate, 1.0), np.nan)
        mu = family.amplification_factor(plate, grid) if may_fall else by_grid[good] * rp
        value[:, good] = current[good], by_grid[good], rp, mu
        relative = np.hypot(family.log_deviations(plate, grid), floor / current[good] / 2)
        u95[:, good] = coverage_factor(family.freedom) * relative * _OF_THE_CHOICE * value[:, good]
    return FamilyValues(value, u95, outcome)
