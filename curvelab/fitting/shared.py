"""What every fit shares: readings made ready, the criterion, covariance, the record of a law."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.fitting.engine import Solution
from curvelab.fitting.hull import Hull
from curvelab.fitting.laws import NamedParameters
from curvelab.fitting.records import FitResult, LawFit, LeftOut, Outcome
from curvelab.sweep.records import BoolArray, FloatArray, Readings

__all__ = [
    "LAST_RESORT",
    "Prepared",
    "aicc_of",
    "judge_coverage",
    "law_record",
    "noise_covariance",
    "without_family",
]

# Below this nothing a plate meter shows is a tube's current (common practice, no source).
_NO_CURRENT = 5e-6
_FEWEST_READINGS = 6
_ILL_CONDITIONED = 1e9
LAST_RESORT = 1e300
_EXTREME = 60.0  # of a logarithm, or volts of contact offset


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """One tube's readings after the bench faults are out, and whether they carry a family."""

    readings: Readings
    used: BoolArray
    left_out: tuple[LeftOut, ...]
    hull: Hull | None
    outcome: Outcome
    reason: str | None


def judge_coverage(hull: Hull, largest_current: float, count: int) -> tuple[Outcome, str | None]:
    """Tell whether readings can carry a family, and the reason if they cannot."""
    if largest_current < _NO_CURRENT:
        return Outcome.NO_CURRENT, "no plate current flows anywhere in the sweep"
    if not hull.is_plane:
        return Outcome.NOT_COVERED, "the readings lie on one line of the plane"
    if count < _FEWEST_READINGS:
        return Outcome.TOO_FEW, f"{count} readings are too few for a family of curves"
    return Outcome.GOOD, None


def without_family(item: Prepared) -> FitResult:
    """Return the result of readings that make no family."""
    nothing = np.full(len(item.readings), np.nan)
    nothing.setflags(write=False)
    return FitResult(
        used=item.used,
        left_out=item.left_out,
        law=None,
        laws=(),
        corrected=False,
        family=None,
        residual=nothing,
        noise=nothing,
        hull=item.hull,
        rms=None,
        outcome=item.outcome,
        reason=item.reason,
    )


def aicc_of(solution: Solution, count: FloatArray) -> FloatArray:
    """Return the corrected Akaike criterion for Gaussian residuals of unknown variance."""
    free = solution.parameters.shape[1] + 1
    room = count - free - 1
    with np.errstate(divide="ignore", invalid="ignore"):
        criterion = (
            count * np.log(np.maximum(solution.cost, 1e-300) / count)
            + 2 * free
            + 2 * free * (free + 1) / np.maximum(room, 1e-9)
        )
    # A law that ran off to senseless parameters is no candidate, however small its cost.
    sensible = np.isfinite(solution.parameters).all(axis=1) & (
        np.abs(solution.parameters) < _EXTREME
    ).all(axis=1)
    return np.where((room > 0) & np.isfinite(criterion) & sensible, criterion, np.inf)


def noise_covariance(
    jacobian: FloatArray, noise: FloatArray, counted: FloatArray, prior: FloatArray
) -> FloatArray:
    """Return what the noise leaves open in the laws' parameters; shape (t, p, p).

    A parameter that the readings do not touch (how steep a foot is that nobody swept) stays
    within its prior, where its true freedom would only be lost in rounding.

    Parameters
    ----------
    prior : ndarray, shape (p,)
        Precision (1/variance) with which each parameter is held.
    """
    scaled = np.nan_to_num(jacobian * (counted / noise)[..., None], posinf=0.0, neginf=0.0)
    information = scaled.transpose(0, 2, 1) @ scaled + np.diag(prior)
    unit = 1.0 / np.sqrt(np.einsum("tii->ti", information))
    balance = unit[:, :, None] * unit[:, None, :]
    return np.asarray(np.linalg.pinv(information * balance, hermitian=True) * balance)


def law_record(
    law: NamedParameters, solution: Solution, row: int, aicc: float, residual: FloatArray
) -> LawFit:
    """Return the record of one law; ``residual`` is that of the readings used [A]."""
    ill = not np.isfinite(solution.covariance[row]).all() or (
        solution.condition[row] > _ILL_CONDITIONED
    )
    return LawFit(
        name=law.name,
        parameters=law.physical(solution.parameters[row]),
        covariance=solution.covariance[row],
        aicc=aicc,
        rms=float(np.sqrt(np.mean(residual**2))),
        outcome=_law_outcome(aicc, ill),
    )


def _law_outcome(aicc: float, ill: bool) -> Outcome:
    if not np.isfinite(aicc) or aicc >= LAST_RESORT:
        return Outcome.UNPHYSICAL
    return Outcome.ILL_CONDITIONED if ill else Outcome.GOOD
