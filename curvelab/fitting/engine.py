"""Robust weighted non-linear least squares over many problems at once.

A damped Gauss-Newton iteration (Levenberg 1944, Marquardt 1963) with the gain-ratio rule
of Nielsen ("Damping parameter in Marquardt's method", IMM-REP-1999-05, DTU, 1999), run on
stacked arrays: one pass of numpy serves every problem that has not converged yet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from curvelab.errors import FitInputError
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["Model", "Solution", "solve"]

# model(parameters (t, p), index (t,)) -> (prediction (t, n), jacobian (t, n, p)), where
# index says which of the stacked problems the rows belong to.
Model = Callable[[FloatArray, IntArray], tuple[FloatArray, FloatArray]]

# How far the first step of an unknown start is held back, and that of one known to be near.
_FIRST_DAMPING, _NEAR_DAMPING = 1e-5, 1e-8
# Bounded influence: a residual beyond this many standard deviations counts less
# (Tukey's biweight at 95 % efficiency; Huber and Ronchetti, Robust Statistics, 2nd ed., 2009).
_BIWEIGHT = 4.685
_REWEIGHTED = 3  # times
_MAD_TO_SIGMA = 1.4826
# Relative offset at which the tangent plane can no longer improve the fit (Bates and
# Watts, Nonlinear Regression Analysis and Its Applications, 1988, section 2.2.3).
_OFFSET = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Stacked least-squares solutions.

    Attributes
    ----------
    parameters : ndarray, shape (t, p)
    covariance : ndarray, shape (t, p, p)
        Inverse of J'WJ times the residual variance; NaN where it cannot be inverted.
    residual : ndarray, shape (t, n)
        Observed minus predicted, zero where the weight is zero.
    weight : ndarray, shape (t, n)
        Final weights (1/variance times robustness).
    cost : ndarray, shape (t,)
        Weighted sum of squares.
    converged : ndarray of bool, shape (t,)
        True only where the residual is orthogonal to the tangent plane.
    condition : ndarray, shape (t,)
        Condition number of the Jacobian with columns scaled to unit length.
    """

    parameters: FloatArray
    covariance: FloatArray
    residual: FloatArray
    weight: FloatArray
    cost: FloatArray
    converged: BoolArray
    condition: FloatArray


def solve(  # noqa: PLR0913 (a numerical routine: each knob is one number)
    model: Model,
    start: FloatArray,
    observed: FloatArray,
    weight: FloatArray,
    *,
    robust: bool = False,
    pull: float | FloatArray = 0.0,
    centre: FloatArray | None = None,
    max_iterations: int = 200,
    tolerance: float = 1e-10,
) -> Solution:
    """Minimise the weighted sum of squares of ``observed - model`` for each problem.

    Parameters
    ----------
    model : callable
        See `Model`.
    start : ndarray, shape (t, p)
        Starting values.
    observed, weight : ndarray, shape (t, n)
        Weight is 1/variance; zero for padding and for what is left out.
    robust : bool
        Reweight by Tukey's biweight of the residuals' median absolute deviation. The start
        must then be near, as a plain solution is.
    pull : float or ndarray, shape (p,)
        Precision (1/variance) with which each parameter is held to its starting value, so
        that one which the observations do not touch stays where it is.
    centre : ndarray, shape (t, p), or None
        What the parameters are held to instead of the starting values.
    tolerance : float
        Relative step, in units of 1 + |parameter|, below which a problem is finished.

    Raises
    ------
    FitInputError
        If shapes disagree or a starting value is not finite.
    """
    if start.ndim != 2 or observed.shape != weight.shape or start.shape[0] != observed.shape[0]:
        raise FitInputError(
            f"shapes do not belong together: start {start.shape}, observed {observed.shape}, "
            f"weight {weight.shape}"
        )
    if not np.isfinite(start).all():
        raise FitInputError("starting values must be finite")
    with np.errstate(all="ignore"):  # a wild trial step may overflow; it is then refused
        held = start if centre is None else centre
        each = np.broadcast_to(np.asarray(pull, dtype=float), (start.shape[1],))
        work = _Problems(model, observed, held, each, max_iterations, tolerance)
        if not robust:
            parameters, final_weight = _iterate(work, start.copy(), weight, _FIRST_DAMPING), weight
        else:
            parameters = start.copy()
            for _ in range(_REWEIGHTED):
                final_weight = weight * _biweight(model, parameters, observed, weight)
                parameters = _iterate(work, parameters, final_weight, _NEAR_DAMPING)
        return _summarise(work, parameters, final_weight)


@dataclass(frozen=True, slots=True, eq=False)
class _Problems:
    model: Model
    observed: FloatArray
    centre: FloatArray
    pull: FloatArray
    max_iterations: int
    tolerance: float

    def strain(self, parameters: FloatArray, active: IntArray) -> FloatArray:
        """Return how far the parameters are from what they are held to."""
        return parameters - self.centre[active]


def _iterate(
    work: _Problems, parameters: FloatArray, weight: FloatArray, first_damping: float
) -> FloatArray:
    model, observed, pull = work.model, work.observed, work.pull
    count = parameters.shape[0]
    active = np.arange(count)
    damping = np.full(count, first_damping)
    growth = np.full(count, 2.0)
    prediction, jacobian = model(parameters, active)
    residual, target, weights = observed - prediction, observed, weight
    strain = work.strain(parameters, active)
    cost = _cost(residual, weights) + (strain**2) @ pull
    normal, gradient = _normal(jacobian, residual, weights, pull, strain)
    for _ in range(work.max_iterations):
        diagonal = np.maximum(np.einsum("tii->ti", normal), 1e-300)
        step = _damped_step(normal, gradient, diagonal, damping[active])
        trial = parameters[active] + step
        trial_prediction, trial_jacobian = model(trial, active)
        trial_residual = target - trial_prediction
        trial_strain = work.strain(trial, active)
        trial_cost = _cost(trial_residual, weights) + (trial_strain**2) @ pull
        expected = (step * (damping[active, None] * diagonal * step + gradient)).sum(axis=1)
        gain = (cost - trial_cost) / np.maximum(expected, 1e-300)
        better = np.isfinite(trial_cost) & (trial_cost <= cost)
        relative = np.abs(step / (1.0 + np.abs(parameters[active]))).max(axis=1)
        finished = (relative < work.tolerance) | ((damping[active] > 1e14) & ~better)
        parameters[active[better]] = trial[better]
        shrink = np.maximum(1.0 / 3.0, 1.0 - (2.0 * np.clip(gain, -1.0, 1.0) - 1.0) ** 3)
        damping[active] *= np.where(better, shrink, growth[active])
        damping[active] = np.clip(damping[active], 1e-12, 1e16)
        growth[active] = np.where(better, 2.0, growth[active] * 2.0)
        if better.any():
            residual = np.where(better[:, None], trial_residual, residual)
            jacobian = np.where(better[:, None, None], trial_jacobian, jacobian)
            strain = np.where(better[:, None], trial_strain, strain)
            cost = np.where(better, trial_cost, cost)
            normal, gradient = _normal(jacobian, residual, weights, pull, strain)
        keep = ~finished
        if not keep.any():
            break
        if not keep.all():
            active, cost, target, weights = active[keep], cost[keep], target[keep], weights[keep]
            residual, jacobian, strain = residual[keep], jacobian[keep], strain[keep]
            normal, gradient = normal[keep], gradient[keep]
    return parameters


def _cost(residual: FloatArray, weight: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("tn,tn,tn->t", residual, residual, weight, optimize=False))


def _normal(
    jacobian: FloatArray,
    residual: FloatArray,
    weight: FloatArray,
    pull: FloatArray,
    strain: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    weighted = jacobian * weight[..., None]
    transposed = weighted.transpose(0, 2, 1)
    normal = transposed @ jacobian + np.diag(pull)
    return normal, (transposed @ residual[..., None])[..., 0] - pull * strain


def _damped_step(
    normal: FloatArray, gradient: FloatArray, diagonal: FloatArray, damping: FloatArray
) -> FloatArray:
    # Scaled to unit diagonal first: parameters of very different size then share one
    # damping, and the factorisation keeps its digits.
    scale = 1.0 / np.sqrt(diagonal)
    matrix = normal * scale[:, :, None] * scale[:, None, :]
    size = matrix.shape[-1]
    matrix[:, range(size), range(size)] = 1.0 + damping[:, None]
    matrix = np.where(np.isfinite(matrix), matrix, np.eye(size))
    right = np.nan_to_num(gradient * scale)
    try:
        return np.asarray(np.linalg.solve(matrix, right[..., None])[..., 0] * scale)
    except np.linalg.LinAlgError:
        inverse = np.linalg.pinv(matrix, hermitian=True)
        return np.asarray((inverse @ right[..., None])[..., 0] * scale)


def _biweight(
    model: Model, parameters: FloatArray, observed: FloatArray, weight: FloatArray
) -> FloatArray:
    prediction, _ = model(parameters, np.arange(parameters.shape[0]))
    scaled = np.abs(observed - prediction) * np.sqrt(weight)
    counted = weight > 0
    ordered = np.sort(np.where(counted, scaled, np.inf), axis=1)
    middle = counted.sum(axis=1) // 2
    sigma = _MAD_TO_SIGMA * ordered[np.arange(middle.size), middle]
    ratio = scaled / np.maximum(_BIWEIGHT * sigma, 1e-300)[:, None]
    return np.where(ratio < 1.0, (1.0 - ratio**2) ** 2, 0.0)


def _summarise(work: _Problems, parameters: FloatArray, weight: FloatArray) -> Solution:
    everyone, observed = np.arange(parameters.shape[0]), work.observed
    prediction, jacobian = work.model(parameters, everyone)
    counted = weight > 0
    residual = np.where(counted, observed - prediction, 0.0)
    root = np.sqrt(weight)
    scaled_residual = np.nan_to_num(residual * root)
    scaled = np.nan_to_num(jacobian * root[..., None])
    cost = (scaled_residual**2).sum(axis=1)
    if work.pull.any():  # what holds the parameters counts as one more observation of each
        hold = np.sqrt(work.pull)
        strain = work.strain(parameters, everyone)
        scaled_residual = np.concatenate([scaled_residual, -hold * strain], axis=1)
        held = np.broadcast_to(np.diag(hold), (*strain.shape, strain.shape[1]))
        scaled = np.concatenate([scaled, held], axis=1)
    length = np.sqrt((scaled**2).sum(axis=1))
    unit = scaled / np.maximum(length, 1e-300)[:, None, :]
    left, singular, right = np.linalg.svd(unit, full_matrices=False)
    along = (left.transpose(0, 2, 1) @ scaled_residual[..., None])[..., 0]
    total = (scaled_residual**2).sum(axis=1)
    freedom = np.maximum(counted.sum(axis=1) - parameters.shape[1], 1)
    inside = (along**2).sum(axis=1)
    outside = np.maximum(total - inside, 0.0)
    offset = np.sqrt(inside / parameters.shape[1]) / np.sqrt(outside / freedom + 1e-300)
    exact = cost <= (observed * root).var(axis=1) * 1e-20 * observed.shape[1]
    condition = singular[:, 0] / np.maximum(singular[:, -1], 1e-300)
    inverse = right.transpose(0, 2, 1) / np.maximum(singular, 1e-300)[:, None, :]
    unscaled = inverse / np.maximum(length, 1e-300)[:, :, None]
    covariance = unscaled @ unscaled.transpose(0, 2, 1) * (cost / freedom)[:, None, None]
    covariance[condition > 1e12] = np.nan
    finite = np.isfinite(parameters).all(axis=1) & np.isfinite(cost)
    return Solution(
        parameters=parameters,
        covariance=covariance,
        residual=residual,
        weight=weight,
        cost=cost,
        converged=finite & ((offset < _OFFSET) | exact),
        condition=condition,
    )
