"""The constants from the readings nearest the operating point, with no law assumed.

A weighted quadratic in (Vp, Vg) is fitted to Ip^(2/3), which is nearly a plane for any
vacuum tube, so that three grid steps suffice; its slopes give gm and rp. Local regression:
Cleveland and Devlin, "Locally weighted regression", J. Am. Stat. Assoc. 83 (1988) 596.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.fitting.coverage import coverage_factor
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.sweep.records import FloatArray

__all__ = ["local_constants"]

# Enough for six coefficients and a residual worth the name.
_NEAREST = 16
_STEPS_REACHED = 1.6  # grid steps to either side


@dataclass(frozen=True, slots=True, eq=False)
class _Surface:
    """Height and slopes at the point, with their covariance, per free direction."""

    height: float
    slopes: FloatArray
    covariance: FloatArray  # of (height, *slopes)
    freedom: float


def local_constants(
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
    at: tuple[float, float],
) -> Constants:
    """Estimate Ip, gm, rp and mu at a point from its nearest readings.

    Parameters
    ----------
    plate_voltage, grid_voltage, plate_current : ndarray, shape (n,)
        Accepted readings [V], [V], [A].
    at : tuple of float
        (Vp, Vg) [V]; inside what the readings cover.

    Returns
    -------
    Constants
        On a single grid step gm and mu are missing, at a single plate voltage rp and mu.
    """
    plate_reach = _reach(plate_voltage)
    grid_reach = _reach(grid_voltage)
    flowing = plate_current > 0
    if not flowing.any():
        return Constants.missing(Outcome.NO_CURRENT, "no reading shows plate current")
    directions = [reach > 0 for reach in (plate_reach, grid_reach)]
    if not any(directions):
        return Constants.missing(Outcome.TOO_FEW, "all readings were taken at one point")
    offsets = np.column_stack(
        [
            (plate_voltage - at[0]) / (plate_reach or 1.0),
            (grid_voltage - at[1]) / (grid_reach or 1.0),
        ]
    )[flowing][:, directions]
    surface = _fit_surface(offsets, np.cbrt(plate_current[flowing] ** 2))
    if surface is None:
        return Constants.missing(
            Outcome.TOO_FEW, "too few readings near the operating point for a local quadratic"
        )
    reaches = np.array([plate_reach, grid_reach])[directions]
    return _constants(surface, reaches, tuple(directions))


def _reach(voltage: FloatArray) -> float:
    """Return the typical distance between settings of one voltage; 0 for a single one."""
    span = float(np.ptp(voltage))
    if span < 0.05:
        return 0.0
    gaps = np.diff(np.sort(voltage))
    clear = gaps[gaps > 0.01 * span]
    return max(float(np.median(clear)) if clear.size else span, span / 40.0)


def _fit_surface(offsets: FloatArray, height: FloatArray) -> _Surface | None:
    directions = offsets.shape[1]
    columns = [np.ones(offsets.shape[0]), *offsets.T, *(offsets.T**2)]
    if directions == 2:
        columns.append(offsets[:, 0] * offsets[:, 1])
    design = np.column_stack(columns)
    distance = np.sqrt((offsets**2).sum(axis=1))
    wanted = min(_NEAREST, height.size)
    width = max(_STEPS_REACHED, float(np.partition(distance, wanted - 1)[wanted - 1]) * 1.001)
    weight = np.clip(1.0 - (distance / width) ** 3, 0.0, None) ** 3
    near = weight > 0
    # The widest-spread readings of a hand-made sweep may not carry the square terms.
    for kept in (design.shape[1], 1 + directions):
        if near.sum() < kept + 1:
            continue
        found = _weighted_fit(design[near, :kept], height[near], weight[near], directions)
        if found is not None:
            return found
    return None


def _weighted_fit(
    design: FloatArray, height: FloatArray, weight: FloatArray, directions: int
) -> _Surface | None:
    root = np.sqrt(weight)
    left, singular, right = np.linalg.svd(design * root[:, None], full_matrices=False)
    if singular[-1] < 1e-6 * singular[0]:
        return None
    inverse = (right.T / singular) @ left.T
    coefficients = inverse @ (height * root)
    residual = (height - design @ coefficients) * root
    # Effective freedom of a kernel fit: trace of the weights less the coefficients.
    freedom = float(weight.sum() - (left**2 * weight[:, None]).sum())
    if freedom < 0.5:
        return None
    kept = 1 + directions
    # The weights are no inverse variances: the readings share one variance, sandwiched.
    spread = inverse[:kept] * root[None, :]
    covariance = spread @ spread.T * float(residual @ residual) / freedom
    return _Surface(float(coefficients[0]), coefficients[1:kept], covariance, max(freedom, 1.0))


def _constants(surface: _Surface, reaches: FloatArray, directions: tuple[bool, ...]) -> Constants:
    if surface.height <= 0:
        return Constants.missing(Outcome.NO_CURRENT, "no plate current at the operating point")
    factor = coverage_factor(surface.freedom)
    root = np.sqrt(surface.height)
    current = root**3
    slopes = dict(
        zip(
            [index for index, free in enumerate(directions) if free],
            1.5 * root * surface.slopes / reaches,
            strict=True,
        )
    )
    # Relative sensitivities to (height, slope...): ln Ip = 1.5 ln h; ln slope = 0.5 ln h + ln h'.
    size = surface.covariance.shape[0]
    place = {index: 1 + order for order, index in enumerate(slopes)}

    def row(of_height: float, terms: dict[int, float]) -> FloatArray:
        vector = np.zeros(size)
        vector[0] = of_height / surface.height
        for index, sign in terms.items():
            vector[place[index]] = sign / surface.slopes[place[index] - 1]
        return vector

    def constant(value: float, vector: FloatArray) -> Constant:
        relative = float(np.sqrt(np.maximum(vector @ surface.covariance @ vector, 0.0)))
        return Constant(float(value), float(factor * relative * abs(value)))

    plate_current = constant(current, row(1.5, {}))
    gm = rp = mu = None
    if any(slope <= 0 for slope in slopes.values()):
        bad = Constant.missing(
            Outcome.UNPHYSICAL, "the plate current falls as a voltage rises at this point"
        )
        return Constants(plate_current, bad, bad, bad)
    if 1 in slopes:
        gm = constant(slopes[1], row(0.5, {1: 1.0}))
    if 0 in slopes:
        rp = constant(1.0 / slopes[0], row(-0.5, {0: -1.0}))
    if gm and rp:
        mu = constant(slopes[1] / slopes[0], row(0.0, {1: 1.0, 0: -1.0}))
    one_step = Constant.missing(Outcome.NOT_COVERED, "only one grid step was swept")
    one_plate = Constant.missing(Outcome.NOT_COVERED, "only one plate voltage was swept")
    return Constants(
        plate_current,
        gm or one_step,
        rp or one_plate,
        mu or (one_step if gm is None else one_plate),
    )
