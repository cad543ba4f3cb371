"""Closed form and identity: starting values from the readings alone."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.fitting.laws import KOREN, LAWS, SOFTPLUS, THREE_HALVES
from curvelab.fitting.starts import starting_values
from simulator.catalogue import PUBLISHED
from simulator.tubes import healthy_tube

PLATE, GRID = (
    item.reshape(1, -1) for item in np.meshgrid(np.linspace(20, 300, 15), np.linspace(-12, 0, 7))
)
ONES = np.ones_like(PLATE)


def three_halves(perveance: float, mu: float, offset: float) -> np.ndarray:
    """Return G (Vg + Vp/mu + Vc)^(3/2) (Child 1911)."""
    return perveance * np.maximum(GRID + PLATE / mu + offset, 0.0) ** 1.5


@pytest.mark.parametrize("mu", [4.0, 20.0, 100.0])
def test_a_three_halves_tube_is_read_off_exactly(mu):
    (found,) = starting_values(THREE_HALVES, PLATE, GRID, three_halves(8e-4, mu, 0.6), ONES)
    np.testing.assert_allclose(found, [np.log(8e-4), np.log(mu), 0.6], rtol=1e-4)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_the_unit_of_the_current_changes_its_scale_alone(law):
    current = three_halves(8e-4, 20.0, 0.6)
    (small,) = starting_values(law, PLATE, GRID, current, ONES)
    (large,) = starting_values(law, PLATE, GRID, 1e3 * current, ONES)
    scale = {"three-halves": 0, "koren": 2, "softplus": 0}[law.name]
    sign = -1 if law is KOREN else 1  # Koren divides by its Kg1
    assert sign * (large - small)[scale] == pytest.approx(np.log(1e3), rel=1e-6)
    np.testing.assert_allclose(np.delete(large, scale), np.delete(small, scale), rtol=1e-6)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_the_order_of_the_readings_does_not_matter(law):
    order = np.random.default_rng(2).permutation(PLATE.size)
    current = three_halves(8e-4, 20.0, 0.6)
    here = starting_values(law, PLATE, GRID, current, ONES)
    there = starting_values(law, PLATE[:, order], GRID[:, order], current[:, order], ONES)
    np.testing.assert_allclose(there, here, rtol=1e-8)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_what_is_left_out_has_no_say(law):
    current = three_halves(8e-4, 20.0, 0.6)
    counted = ONES.copy()
    counted[0, ::7] = 0.0
    spoilt = np.where(counted > 0, current, 10.0)
    np.testing.assert_allclose(
        starting_values(law, PLATE, GRID, spoilt, counted),
        starting_values(law, PLATE, GRID, current, counted),
        rtol=1e-9,
    )


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
@pytest.mark.parametrize(
    "current",
    [
        np.zeros_like(PLATE),
        np.full_like(PLATE, 5e-3),
        -three_halves(8e-4, 20.0, 0.6),
        three_halves(8e-4, 20.0, 0.6)[:, ::-1],
    ],
    ids=["nothing", "constant", "negative", "falling"],
)
def test_senseless_readings_start_from_an_ordinary_triode(law, current):
    start = starting_values(law, PLATE, GRID, current, ONES)
    assert np.isfinite(start).all()
    place = 0 if law is KOREN else 1
    assert 1.5 <= np.exp(start[0, place]) <= 250.0


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("law", [KOREN, SOFTPLUS], ids=lambda law: law.name)
def test_the_start_is_near_enough_to_a_real_shape(law, name):
    """A tube of another law: within a factor of four where current flows, mu within a third."""
    tube = healthy_tube(name, np.random.default_rng(6))
    highest = tube.figures.highest_plate_voltage
    cutoff = -1.3 * highest / tube.figures.amplification_factor
    plate, grid = (
        item.reshape(1, -1)
        for item in np.meshgrid(np.linspace(0.1, 1, 12) * highest, np.linspace(0, 1, 8) * cutoff)
    )
    current = tube.current(plate, grid)
    start = starting_values(law, plate, grid, current, np.ones_like(plate))
    begun, _ = law.evaluate(plate, grid, start)
    flowing = current > 0.1 * current.max()
    assert np.abs(np.log(begun[flowing] / current[flowing])).max() < np.log(4.0)
    mu = np.exp(start[0, 0 if law is KOREN else 1])
    assert mu == pytest.approx(tube.figures.amplification_factor, rel=1 / 3)
