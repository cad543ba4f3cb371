"""Closed form, reference libraries and refusal: the stacked least-squares solver by itself.

The certified regression problems stand in tests/certified/test_nist_strd.py.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit

from curvelab.errors import FitInputError
from curvelab.fitting.engine import solve

X = np.linspace(0.0, 4.0, 40)


def decay(x):
    """Return the model ``a exp(-b x) + c`` over rows of ``x``, shape (t, n)."""

    def model(parameters, index):
        a, b, c = parameters[:, :1], parameters[:, 1:2], parameters[:, 2:]
        fall = np.exp(-b * x[index])
        jacobian = np.stack([fall, -a * x[index] * fall, np.ones_like(fall)], axis=-1)
        return a * fall + c, jacobian

    return model


def made(count: int, noise: float = 0.01):
    rng = np.random.default_rng(11)
    truth = np.column_stack(
        [rng.uniform(1, 3, count), rng.uniform(0.5, 2, count), rng.uniform(0, 1, count)]
    )
    x = np.tile(X, (count, 1))
    observed = decay(x)(truth, np.arange(count))[0] + rng.normal(0, noise, x.shape)
    return truth, x, observed


def test_a_straight_line_is_solved_as_the_normal_equations_say():
    rng = np.random.default_rng(3)
    weight = rng.uniform(0.5, 4.0, X.size)
    observed = 2.0 - 0.7 * X + rng.normal(0, 0.1, X.size)
    design = np.column_stack([np.ones_like(X), X])

    def line(parameters, index):
        return parameters @ design.T, np.broadcast_to(design, (index.size, *design.shape))

    found = solve(line, np.array([[0.0, 0.0]]), observed[None], weight[None])
    inverse = np.linalg.inv(design.T @ (weight[:, None] * design))
    expected = inverse @ design.T @ (weight * observed)
    cost = float(weight @ (observed - design @ expected) ** 2)
    np.testing.assert_allclose(found.parameters[0], expected, rtol=1e-10)
    np.testing.assert_allclose(found.covariance[0], inverse * cost / (X.size - 2), rtol=1e-9)
    assert found.cost[0] == pytest.approx(cost)
    assert found.converged[0]


def test_values_and_standard_errors_agree_with_scipy():
    """scipy.optimize.curve_fit (MINPACK), a general-purpose reference."""
    _, x, observed = made(6)
    found = solve(decay(x), np.tile([1.0, 1.0, 0.0], (6, 1)), observed, np.ones_like(x))
    for row in range(6):
        values, covariance = curve_fit(
            lambda x, a, b, c: a * np.exp(-b * x) + c, X, observed[row], p0=(1.0, 1.0, 0.0)
        )
        np.testing.assert_allclose(found.parameters[row], values, rtol=1e-6)
        errors = np.sqrt(np.diag(found.covariance[row]))
        np.testing.assert_allclose(errors, np.sqrt(np.diag(covariance)), rtol=1e-4)


def test_problems_solved_together_come_out_as_alone():
    _, x, observed = made(7)
    start = np.tile([1.0, 1.0, 0.0], (7, 1))
    together = solve(decay(x), start, observed, np.ones_like(x))
    for row in range(7):
        alone = solve(
            decay(x[row : row + 1]), start[:1], observed[row : row + 1], np.ones((1, X.size))
        )
        np.testing.assert_allclose(together.parameters[row], alone.parameters[0], rtol=1e-9)


def test_padding_and_readings_left_out_count_for_nothing():
    _, x, observed = made(1)
    start = np.array([[1.0, 1.0, 0.0]])
    plain = solve(decay(x), start, observed, np.ones_like(x))
    wide = np.concatenate([x, np.full((1, 9), 2.0)], axis=1)
    more = np.concatenate([observed, np.full((1, 9), 1e6)], axis=1)
    weight = np.concatenate([np.ones_like(x), np.zeros((1, 9))], axis=1)
    padded = solve(decay(wide), start, more, weight)
    np.testing.assert_allclose(padded.parameters, plain.parameters, rtol=1e-9)
    np.testing.assert_allclose(padded.covariance, plain.covariance, rtol=1e-6)
    assert not padded.residual[0, -9:].any()


def test_outliers_do_not_move_a_robust_fit():
    truth, x, observed = made(5, noise=0.005)
    spoilt = observed.copy()
    spoilt[:, [4, 17, 30]] *= 0.2
    start = np.tile([1.0, 1.0, 0.0], (5, 1))
    robust = solve(decay(x), start, spoilt, np.ones_like(x), robust=True)
    usual = solve(decay(x), start, spoilt, np.ones_like(x))
    assert np.abs(robust.parameters - truth).max() < 0.03
    assert np.abs(usual.parameters - truth).max() > 0.1
    assert not robust.weight[:, [4, 17, 30]].any()


def test_a_parameter_without_effect_has_no_standard_error():
    def model(parameters, index):
        jacobian = np.stack([np.ones((index.size, X.size)), np.zeros((index.size, X.size))], -1)
        return np.broadcast_to(parameters[:, :1], (index.size, X.size)), jacobian

    found = solve(model, np.array([[0.0, 5.0]]), 1 + 0.1 * np.sin(X)[None], np.ones((1, X.size)))
    assert np.isnan(found.covariance[0]).all()
    assert found.condition[0] > 1e12
    assert found.parameters[0, 0] == pytest.approx(1 + 0.1 * np.sin(X).mean())


def test_a_fit_cut_short_is_not_said_to_have_converged():
    _, x, observed = made(1)
    found = solve(
        decay(x), np.array([[8.0, 6.0, -3.0]]), observed, np.ones_like(x), max_iterations=1
    )
    assert not found.converged[0]


@pytest.mark.parametrize(
    ("start", "observed", "weight", "match"),
    [
        (np.zeros(3), np.zeros((1, 5)), np.ones((1, 5)), "shapes"),
        (np.zeros((1, 3)), np.zeros((1, 5)), np.ones((1, 4)), "shapes"),
        (np.zeros((2, 3)), np.zeros((1, 5)), np.ones((1, 5)), "shapes"),
        (np.array([[0.0, np.nan, 0.0]]), np.zeros((1, 5)), np.ones((1, 5)), "finite"),
    ],
)
def test_senseless_input_is_refused(start, observed, weight, match):
    with pytest.raises(FitInputError, match=match):
        solve(decay(np.zeros((1, 5))), start, observed, weight)
