"""Identity and round trip: the smooth correction, as the fitted family shows it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting import constants_at, fit_sweep, fit_sweeps
from curvelab.fitting.laws import KOREN, THREE_HALVES
from curvelab.sweep.records import Readings
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.catalogue import PUBLISHED
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

PLATE, GRID = (
    item.ravel() for item in np.meshgrid(np.linspace(15, 330, 22), np.linspace(-16, 0, 9))
)
KOREN_TUBE = {"mu": 21.0, "x": 1.36, "Kg1": 1460.0, "Kp": 150.0, "Kvb": 300.0, "Vct": 0.3}


def of_law(law, parameters: dict[str, float], noise: float, seed: int) -> Readings:
    current, _ = law.evaluate(PLATE[None], GRID[None], law.internal(parameters)[None])
    rng = np.random.default_rng(seed)
    measured = current[0] * (1 + noise * rng.standard_normal(PLATE.size))
    measured += 1e-5 * current.max() * rng.standard_normal(PLATE.size)
    return Readings(PLATE, GRID, measured, np.arange(PLATE.size))


def simulated(name: str, seed: int) -> Readings:
    rng = np.random.default_rng(seed)
    tube = healthy_tube(name, rng)
    return as_sweep(run_sweep(tube, usual_plan(tube), Bench(), rng)).readings


@pytest.mark.parametrize("seed", range(3))
def test_it_shrinks_to_nothing_where_the_law_is_enough(seed):
    readings = of_law(KOREN, KOREN_TUBE, 0.003, seed)
    family = fit_sweep(readings).family
    truth, by_plate, by_grid = KOREN.slopes(
        PLATE[None], GRID[None], KOREN.internal(KOREN_TUBE)[None]
    )
    strong = truth[0] > 0.05 * truth.max()
    share = family.current(PLATE, GRID)[strong] / truth[0, strong] - 1.0
    assert np.sqrt(np.mean(share**2)) < 0.003
    bare = replace(family, correction=None)
    factor = family.current(PLATE, GRID)[strong] / bare.current(PLATE, GRID)[strong]
    assert np.abs(np.log(factor)).max() < 0.02
    plate_slope, grid_slope = family.slopes(PLATE, GRID)
    assert np.median(np.abs(plate_slope[strong] / by_plate[0, strong] - 1)) < 0.02
    assert np.median(np.abs(grid_slope[strong] / by_grid[0, strong] - 1)) < 0.02


@pytest.mark.parametrize("name", PUBLISHED)
def test_it_follows_what_no_law_can(name):
    """Above a fifth of the largest current an uneven grid is followed to a percent."""
    rng = np.random.default_rng(21)
    tube = healthy_tube(name, rng)
    readings = as_sweep(run_sweep(tube, usual_plan(tube), Bench(), rng)).readings
    family = fit_sweep(readings).family
    true = tube.current(readings.plate_voltage, readings.grid_voltage)
    strong = true > 0.2 * true.max()

    def miss(of) -> float:
        fitted = of.current(readings.plate_voltage, readings.grid_voltage)
        return float(np.sqrt(np.mean((fitted[strong] / true[strong] - 1) ** 2)))

    alone = miss(replace(family, correction=None))
    assert miss(family) < 0.01
    assert miss(family) < max(1.2 * alone, 0.003)  # the scatter of a reading
    if alone > 0.02:
        assert miss(family) < alone / 4


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("seed", range(4))
def test_both_slopes_are_positive_between_the_readings_too(name, seed):
    readings = simulated(name, 300 + seed)
    family = fit_sweep(readings).family
    low, span = family.hull.origin, family.hull.span
    plate, grid = (
        item.ravel()
        for item in np.meshgrid(
            low[0] + span[0] * np.linspace(0, 1, 121), low[1] + span[1] * np.linspace(0, 1, 121)
        )
    )
    inside = family.covers(plate, grid)
    plate, grid = plate[inside], grid[inside]
    current = family.current(plate, grid)
    flowing = current > 0.02 * current.max()
    by_plate, by_grid = family.slopes(plate[flowing], grid[flowing])
    assert (by_plate > 0).all()
    assert (by_grid > 0).all()


def shuffled(readings: Readings, seed: int = 8) -> Readings:
    return readings.take(np.random.default_rng(seed).permutation(len(readings)))


@pytest.mark.parametrize("name", ["12AX7", "6SN7GTB", "300B"])
def test_the_order_of_the_readings_does_not_matter(name):
    readings = simulated(name, 5)
    other = shuffled(readings)
    at = (float(np.median(readings.plate_voltage)), float(np.median(readings.grid_voltage)) / 2)
    here = constants_at(fit_sweep(readings), readings, at)
    there = constants_at(fit_sweep(other), other, at)
    for one, two in (
        (here.plate_current, there.plate_current),
        (here.transconductance, there.transconductance),
        (here.plate_resistance, there.plate_resistance),
    ):
        assert one.value == pytest.approx(two.value, rel=1e-3)


@pytest.mark.parametrize("name", ["12AX7", "6SN7GTB", "300B"])
def test_a_tube_of_ten_in_parallel_has_ten_times_the_current(name):
    """A change of the unit or the scale of current leaves mu and scales the rest."""
    readings = simulated(name, 6)
    ten = replace(readings, plate_current=10 * readings.plate_current)
    at = (float(np.median(readings.plate_voltage)), float(np.median(readings.grid_voltage)) / 2)
    one, many = (constants_at(fit_sweep(item), item, at) for item in (readings, ten))
    assert many.plate_current.value == pytest.approx(10 * one.plate_current.value, rel=1e-4)
    assert many.transconductance.value == pytest.approx(10 * one.transconductance.value, rel=1e-3)
    assert many.plate_resistance.value == pytest.approx(one.plate_resistance.value / 10, rel=1e-3)
    assert many.amplification_factor.value == pytest.approx(
        one.amplification_factor.value, rel=1e-3
    )


def test_tubes_fitted_together_come_out_as_alone():
    lot = [simulated(name, 40) for name in ("12AX7", "6SN7GTB", "300B")]
    for readings, together in zip(lot, fit_sweeps(lot), strict=True):
        alone = fit_sweep(readings)
        fitted = together.family.current(readings.plate_voltage, readings.grid_voltage)
        expected = alone.family.current(readings.plate_voltage, readings.grid_voltage)
        np.testing.assert_allclose(fitted, expected, rtol=1e-4, atol=1e-6 * expected.max())


def test_a_pure_three_halves_tube_needs_no_bending():
    readings = of_law(THREE_HALVES, {"G": 8e-4, "mu": 20.0, "Vc": 0.5}, 0.002, 3)
    family = fit_sweep(readings).family
    by_plate, by_grid = family.slopes(np.array([250.0]), np.array([-6.0]))
    drive = -6.0 + 250.0 / 20.0 + 0.5
    assert by_grid[0] == pytest.approx(8e-4 * 1.5 * drive**0.5, rel=0.01)
    assert by_grid[0] / by_plate[0] == pytest.approx(20.0, rel=0.01)
