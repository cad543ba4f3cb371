"""Which type of the library measured curves look like.

Used tubes of one type differ much in how much current they pass (their scale) and little in
the shape of their curves, which the electrodes' spacing fixes. A family is therefore scored by
both: the mean log ratio of measured to family current, and what remains after that scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.laws import law_named
from curvelab.reference.family import ReferenceFamily
from curvelab.sweep.records import FloatArray

__all__ = ["Candidate", "Identity", "deviation_from", "rank_types"]

# Spread among tubes of one type, as standard deviations of logarithms (common practice, no
# source): scale after years of use; shape, with what a solved family itself misses.
_SCALE_SPREAD, _SHAPE_SPREAD = 0.30, 0.10
# Readings of one tube share its shape: they count as this many independent ones.
_INDEPENDENT = 6.0
_FLOWING = 0.05  # of the largest current
_MOST_READINGS = 48
_LEAST_READINGS = 6
# A reading where a family has no current at all; enough to rule it out, not to drown the rest.
_WORST_LOG_RATIO = 3.0


@dataclass(frozen=True, slots=True)
class Candidate:
    """A type, or a class of types the bench could not tell apart.

    Attributes
    ----------
    odds : float
        Posterior probability among the library's classes, with equal priors.
    deviation : float
        RMS of measured over family current, minus one, scale included.
    """

    type_names: tuple[str, ...]
    odds: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Identity:
    """Candidates, likeliest first."""

    candidates: tuple[Candidate, ...]

    def rank_of(self, type_name: str) -> Candidate | None:
        """Return the candidate that holds a type."""
        return next((c for c in self.candidates if type_name in c.type_names), None)


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
    flowing = np.flatnonzero(plate_current > _FLOWING * max(float(plate_current.max()), 1e-12))
    if flowing.size < _LEAST_READINGS:
        return None
    chosen = flowing[:: max(1, flowing.size // _MOST_READINGS)]
    names = list(families)
    scale, shape = deviation_from(
        [families[name] for name in names],
        plate_voltage[chosen],
        grid_voltage[chosen],
        plate_current[chosen],
    )
    score = -0.5 * ((scale / _SCALE_SPREAD) ** 2 + _INDEPENDENT * (shape / _SHAPE_SPREAD) ** 2)
    deviation = np.sqrt(np.expm1(np.clip(scale, -3, 3)) ** 2 + shape**2)
    place = {name: order for order, name in enumerate(names)}
    best = [max((place[name] for name in group), key=lambda k: score[k]) for group in classes]
    likelihood = np.exp(score[best] - score[best].max())
    odds = likelihood / likelihood.sum()
    candidates = [
        Candidate(group, float(share), float(deviation[k]))
        for group, share, k in zip(classes, odds, best, strict=True)
    ]
    order = sorted(range(len(candidates)), key=lambda k: -score[best[k]])
    return Identity(tuple(candidates[k] for k in order))


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
    log_family = np.empty((len(families), plate_voltage.size))
    for name in {family.law for family in families}:
        law = law_named(name)
        rows = [row for row, family in enumerate(families) if family.law == name]
        internal = np.stack([law.internal(families[row].parameters) for row in rows])
        with np.errstate(under="ignore", over="ignore"):
            current, _, _ = law.slopes(plate_voltage[None], grid_voltage[None], internal)
        log_family[rows] = np.log(np.maximum(current, 1e-15))
    ratio = np.clip(np.log(plate_current) - log_family, -_WORST_LOG_RATIO, _WORST_LOG_RATIO)
    # Large currents decide: near the foot a family solved from points is at its weakest.
    weight = np.sqrt(plate_current / plate_current.max())
    weight /= weight.sum()
    scale = ratio @ weight
    return scale, np.sqrt(((ratio - scale[:, None]) ** 2) @ weight)
