"""Certified: the least-squares engine against two general-purpose libraries.

Source: lmfit (`lmfit.minimize`) and SciPy (`scipy.optimize.curve_fit`), which wrap MINPACK
(Moré, Garbow, Hillstrom, User Guide for MINPACK-1, ANL-80-74, 1980). Law, readings
and weights are the same for all three; the readings are invented and seeded.
"""

from __future__ import annotations

import lmfit
import numpy as np
import pytest
from scipy.optimize import curve_fit

from curvelab.fitting.engine import solve
from curvelab.fitting.laws import KOREN
from curvelab.sweep.records import FloatArray, IntArray

RELATIVE = 1e-4
TRUE = KOREN.internal({"mu": 95.0, "x": 1.4, "Kg1": 1100.0, "Kp": 550.0, "Kvb": 320.0, "Vct": 0.35})
START = KOREN.internal({"mu": 80.0, "x": 1.5, "Kg1": 1500.0, "Kp": 400.0, "Kvb": 500.0, "Vct": 0.1})
PLATE, GRID = (
    axis.ravel() for axis in np.meshgrid(np.arange(10.0, 331.0, 10.0), -0.5 * np.arange(7.0))
)


def law(internal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the law's current and Jacobian for one tube."""
    current, jacobian = KOREN.evaluate(PLATE[None], GRID[None], np.asarray(internal)[None])
    return current[0], jacobian[0]


def readings(seed: int) -> tuple[FloatArray, FloatArray]:
    """Return noisy currents [A] and the standard deviation of each."""
    clean, _ = law(TRUE)
    sigma = 0.004 * clean + 4e-6
    return clean + sigma * np.random.default_rng(seed).standard_normal(clean.size), sigma


def by_engine(current: FloatArray, sigma: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return parameters and standard errors of the engine."""

    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        rows = (index.size, 1)
        return KOREN.evaluate(np.tile(PLATE, rows), np.tile(GRID, rows), internal)

    solution = solve(model, START[None], current[None], 1.0 / sigma[None] ** 2)
    assert solution.converged.all()
    return solution.parameters[0], np.sqrt(np.diagonal(solution.covariance[0]))


def by_lmfit(current: FloatArray, sigma: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return parameters and standard errors of lmfit."""
    parameters = lmfit.Parameters()
    for symbol, value in zip(KOREN.symbols, START, strict=True):
        parameters.add(symbol, value=value)

    def misfit(trial: lmfit.Parameters) -> FloatArray:
        return (current - law(np.array([trial[s].value for s in KOREN.symbols]))[0]) / sigma

    def slopes(trial: lmfit.Parameters) -> FloatArray:
        internal = np.array([trial[s].value for s in KOREN.symbols])
        return -law(internal)[1] / sigma[:, None]

    result = lmfit.minimize(
        misfit, parameters, method="leastsq", Dfun=slopes, ftol=1e-14, xtol=1e-14, max_nfev=5000
    )
    assert result.success
    fitted = [result.params[s] for s in KOREN.symbols]
    return np.array([p.value for p in fitted]), np.array([p.stderr for p in fitted])


def by_scipy(current: FloatArray, sigma: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return parameters and standard errors of SciPy."""
    best, covariance = curve_fit(
        lambda _, *internal: law(np.array(internal))[0],
        PLATE,
        current,
        p0=START,
        sigma=sigma,
        jac=lambda _, *internal: law(np.array(internal))[1],
        ftol=1e-14,
        xtol=1e-14,
    )
    return best, np.sqrt(np.diagonal(covariance))


@pytest.mark.parametrize("other", [by_lmfit, by_scipy])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_parameters_and_standard_errors_agree(other, seed: int) -> None:  # type: ignore[no-untyped-def]
    current, sigma = readings(seed)
    value, error = by_engine(current, sigma)
    other_value, other_error = other(current, sigma)
    np.testing.assert_allclose(value, other_value, rtol=RELATIVE)
    np.testing.assert_allclose(error, other_error, rtol=RELATIVE)
