"""Identity: the analytic Jacobians and slopes of the laws against finite differences."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.fitting.laws import LAWS, law_named

_PARAMETERS = {
    "G": 1e-3,
    "mu": 20.0,
    "Vc": 0.5,
    "x": 1.4,
    "Kg1": 1500.0,
    "Kp": 100.0,
    "Kvb": 300.0,
    "Vct": 0.3,
    "gamma": 1.4,
    "C": 1.5,
}
_PLATE, _GRID = (
    item.reshape(1, -1) for item in np.meshgrid(np.linspace(20, 400, 12), np.linspace(-15, 0, 9))
)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_jacobian_is_the_derivative_of_the_current(law):
    internal = law.internal(_PARAMETERS)[None]
    _, jacobian = law.evaluate(_PLATE, _GRID, internal)
    for column in range(internal.shape[1]):
        step = np.zeros_like(internal)
        step[0, column] = 1e-6
        above = law.evaluate(_PLATE, _GRID, internal + step)[0]
        below = law.evaluate(_PLATE, _GRID, internal - step)[0]
        numeric = (above - below) / 2e-6
        scale = np.abs(numeric).max()
        assert np.abs(numeric - jacobian[..., column]).max() < 1e-6 * scale


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_slopes_are_the_derivatives_by_the_voltages(law):
    internal = law.internal(_PARAMETERS)[None]
    current, by_plate, by_grid = law.slopes(_PLATE, _GRID, internal)
    np.testing.assert_allclose(current, law.evaluate(_PLATE, _GRID, internal)[0], rtol=1e-12)
    for slope, plate_step, grid_step in ((by_plate, 1e-3, 0.0), (by_grid, 0.0, 1e-5)):
        above = law.slopes(_PLATE + plate_step, _GRID + grid_step, internal)[0]
        below = law.slopes(_PLATE - plate_step, _GRID - grid_step, internal)[0]
        numeric = (above - below) / (2 * (plate_step + grid_step))
        assert np.abs(numeric - slope).max() < 1e-4 * np.abs(slope).max()


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_physical_and_internal_parameters_are_each_others_inverse(law):
    internal = law.internal(_PARAMETERS)
    physical = law.physical(internal)
    assert set(physical) == set(law.symbols)
    for symbol, value in physical.items():
        assert value == pytest.approx(_PARAMETERS[symbol])
    assert law_named(law.name) is law


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_a_foot_of_any_steepness_stays_finite(law):
    """A fit may run off to the sharp cut-off of a pure three-halves law."""
    plate, grid = np.array([[20.0, 100.0, 300.0]]), np.array([[-10.0, -8.0, -2.0]])
    internal = {
        "three-halves": [-7.0, 3.0, 0.5],
        "koren": [3.0, 0.4, 7.7, 85.0, -0.8, 0.5],
        "softplus": [-7.0, 3.0, 0.4, 85.0],
    }[law.name]
    with np.errstate(all="raise", under="ignore"):
        evaluated = law.evaluate(plate, grid, np.array([internal]))
        sloped = law.slopes(plate, grid, np.array([internal]))
    assert all(np.isfinite(array).all() for array in (*evaluated, *sloped))
