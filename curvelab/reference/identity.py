"""Which type of the library measured curves look like.

Used tubes of one type differ much in how much current they pass (their scale), a little in
amplification factor and contact offset, and hardly in the shape of their curves, which the
electrodes' spacing fixes. A family is therefore scored by what it takes to meet the readings: the
log ratio of measured to family current is laid out into those three, each at the price of its
spread, and what remains.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.laws import law_named
from curvelab.reference.family import ReferenceFamily
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["Candidate", "Identity", "deviation_from", "flowing", "rank_types"]

# Spread among tubes of one type, as standard deviations of logarithms (common practice, no
# source): scale downward, after years of use, and upward, as new tubes come; amplification
# factor; contact offset, of the drive; shape, with what a solved family itself misses.
_WORN_SPREAD, _STRONG_SPREAD = 0.30, 0.16
_MU_SPREAD, _OFFSET_SPREAD, _SHAPE_SPREAD = 0.025, 0.04, 0.10
# Readings of one tube share its shape: they count as this many independent ones.
_INDEPENDENT = 6.0
_FLOWING = 0.05  # of the largest current
_MOST_READINGS = 24
_LEAST_READINGS = 6
# A reading where a family has no current at all; enough to rule it out, not to drown the rest.
_WORST_LOG_RATIO = 3.0
_NEAR = 1.0  # mean log ratio of a family worth a closer look


@dataclass(frozen=True, slots=True)
class Candidate:
    """A type, or a class of types the bench could not tell apart.

    Attributes
    ----------
    odds : float
        Posterior probability among the library's classes, with equal priors.
    deviation : float
        RMS of measured over family current, minus one, scale included.
    misfit : float
        Squares of what it takes to meet the readings, each in units of its spread among tubes
        of a type: up to about ten for a tube of the type.
    """

    type_names: tuple[str, ...]
    odds: float
    deviation: float
    misfit: float = 0.0


@dataclass(frozen=True, slots=True)
class Identity:
    """Candidates, likeliest first."""

    candidates: tuple[Candidate, ...]

    def rank_of(self, type_name: str) -> Candidate | None:
        """Return the candidate that holds a type."""
        return next((c for c in self.candidates if type_name in c.type_names), None)


def flowing(plate_current: FloatArray) -> BoolArray:
    """Tell which readings, shape (n,), show enough current to tell types apart by.

    Nearer to cut-off families solved from points, and tubes of one type, differ without bound.
    """
    largest = float(plate_current.max(initial=1e-12))
    return np.asarray(plate_current > _FLOWING * largest)


def rank_types(
    families: Mapping[str, ReferenceFamily],
    classes: Sequence[tuple[str, ...]],
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
) -> Identity | None:
    """Rank the library's classes of types by how well measured curves fit their families.

    Parameters
    ----------
    plate_voltage, grid_voltage, plate_current : ndarray, shape (n,)
        Accepted readings [V], [V], [A].

    Returns
    -------
    Identity or None
        None where fewer than six readings show enough current.
    """
    enough = np.flatnonzero(flowing(plate_current))
    if enough.size < _LEAST_READINGS:
        return None
    chosen = enough[:: max(1, enough.size // _MOST_READINGS)]
    names = list(families)
    chosen_families = [families[name] for name in names]
    measured = plate_voltage[chosen], grid_voltage[chosen], plate_current[chosen]
    logs = _logs(chosen_families, *measured)
    misfit = _misfit(logs, measured[2])
    scale, shape = _scale_and_shape(logs[0], measured[2])
    score = -0.5 * misfit
    deviation = np.sqrt(np.expm1(np.clip(scale, -3, 3)) ** 2 + shape**2)
    place, scores = {name: order for order, name in enumerate(names)}, score.tolist()
    best = np.array(
        [max((place[name] for name in group), key=scores.__getitem__) for group in classes]
    )
    likelihood = np.exp(score[best] - score[best].max())
    figures = zip(
        (likelihood / likelihood.sum()).tolist(),
        deviation[best].tolist(),
        misfit[best].tolist(),
        strict=True,
    )
    candidates = [Candidate(group, *each) for group, each in zip(classes, figures, strict=True)]
    order = np.argsort(-score[best], kind="stable")
    return Identity(tuple(candidates[k] for k in order.tolist()))


def _misfit(
    logs: tuple[FloatArray, FloatArray, FloatArray], plate_current: FloatArray
) -> FloatArray:
    """Return what it takes each family to meet the readings, in squares of the spreads.

    To first order a larger amplification factor changes ln Ip by -(Vp / rp) / Ip, an offset by
    gm / Ip; the offset is counted in units of the drive, which is about 1.5 Ip / gm.
    """
    log_family, by_mu, by_offset = logs
    ratio = np.clip(np.log(plate_current) - log_family, -_WORST_LOG_RATIO, _WORST_LOG_RATIO)
    weight = _weight(plate_current) * _INDEPENDENT / _SHAPE_SPREAD**2
    drive = 1.5 / np.sum(by_offset * _weight(plate_current), axis=1, keepdims=True)
    design = np.stack((np.ones_like(ratio), by_mu, by_offset * drive), axis=-1)
    normal = np.einsum("fni,n,fnj->fij", design, weight, design)
    moment = np.einsum("fni,n,fn->fi", design, weight, ratio)
    total = ratio**2 @ weight
    best = np.full(log_family.shape[0], np.inf)
    for spread, downward in ((_WORN_SPREAD, True), (_STRONG_SPREAD, False)):
        price = np.diag([spread**-2, _MU_SPREAD**-2, _OFFSET_SPREAD**-2])
        found = np.linalg.solve(normal + price, moment[..., None])[..., 0]
        cost = total - np.sum(found * moment, axis=1)
        allowed = (found[:, 0] <= 0) == downward
        best = np.where(allowed, np.minimum(best, cost), best)
    return np.where(np.isfinite(best), best, total)


def _weight(plate_current: FloatArray) -> FloatArray:
    """Return weights that add up to 1.

    Large currents decide: near the foot a family solved from points is at its weakest.
    """
    weight = np.sqrt(plate_current / plate_current.max())
    return np.asarray(weight / weight.sum())


def _logs(
    families: Sequence[ReferenceFamily],
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return ln Ip of each family, and its change with ln mu and with an offset [1/V].

    Families with a screen grid are seen at the screen voltage of the readings; their mu is that
    against the screen.
    """
    shape = (3, len(families), plate_voltage.size)
    found = np.empty(shape)  # Ip, dIp/dVp, dIp/dVg
    pentodes = [row for row, family in enumerate(families) if family.screen_voltage is not None]
    for name in {family.law for family in families if family.screen_voltage is None}:
        law = law_named(name)  # a law's families in one go
        rows = [row for row, family in enumerate(families) if family.law == name]
        internal = np.stack([families[row].internal for row in rows])
        shift = np.array([[families[row].grid_shift] for row in rows])
        with np.errstate(under="ignore", over="ignore"):
            found[:, rows] = law.slopes(plate_voltage[None], grid_voltage[None] + shift, internal)
    for row in pentodes:
        found[:, row] = families[row].evaluate(plate_voltage, grid_voltage)
    # What follows published curves departs from its law by little: only near families need it.
    away = np.abs(np.log(np.maximum(found[0], 1e-15) / plate_current)).mean(axis=1)
    for row, family in enumerate(families):
        if family.followed is not None and away[row] < _NEAR and row not in pentodes:
            found[:, row] = family.evaluate(plate_voltage, grid_voltage)
    current = np.maximum(found[0], 1e-15)
    flowing = found[0] > 1e-12  # where a family has no current its slopes say nothing
    swing = plate_voltage[None] * found[1]
    for row in pentodes:
        mu = families[row].amplification_factor(plate_voltage, grid_voltage)
        swing[row] = found[2, row] * (families[row].screen_voltage or 0.0) / mu
    by_mu = np.where(flowing, -swing / current, 0.0)
    by_offset = np.where(flowing, found[2] / current, 0.0)
    return np.log(current), by_mu, np.maximum(by_offset, 1e-6)


def deviation_from(
    families: Sequence[ReferenceFamily],
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return (mean, standard deviation) of the log ratio of measured to family current.

    Parameters
    ----------
    families : sequence of ReferenceFamily, length f
    plate_voltage, grid_voltage, plate_current : ndarray, shape (n,)
        Readings with current [V], [V], [A].

    Returns
    -------
    scale, shape : ndarray, shape (f,)
    """
    logs = _logs(families, plate_voltage, grid_voltage, plate_current)
    return _scale_and_shape(logs[0], plate_current)


def _scale_and_shape(
    log_family: FloatArray, plate_current: FloatArray
) -> tuple[FloatArray, FloatArray]:
    ratio = np.clip(np.log(plate_current) - log_family, -_WORST_LOG_RATIO, _WORST_LOG_RATIO)
    weight = _weight(plate_current)
    scale = ratio @ weight
    return scale, np.sqrt(((ratio - scale[:, None]) ** 2) @ weight)
