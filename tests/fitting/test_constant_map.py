"""Identity and refusal: constants at many points are those at each, and obey mu = gm rp."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting import constants_at, fit_sweep, local_constants_at, with_bench
from curvelab.fitting.constant_map import constants_over
from curvelab.fitting.constants import with_local
from curvelab.fitting.records import Outcome
from curvelab.ingest import read_file
from curvelab.paths import sample_folder
from curvelab.sweep import Readings
from curvelab.sweep.bench import UNSTATED_BENCH, Bench, MeterAccuracy

NAMES = ("plate_current", "transconductance", "plate_resistance", "amplification_factor")
BENCH = Bench(
    "a bench",
    assumed=False,
    plate_voltage=MeterAccuracy(0.01, 0.5, 0.1),
    grid_voltage=MeterAccuracy(0.005, 0.02, 0.01),
    plate_current=MeterAccuracy(0.01, 2e-5, 1e-5),
)


@pytest.fixture(scope="module", params=["PIT-01", "PIT-03", "BALCONY-02", "BOOTH-05"])
def tube(request):
    """Return readings and fit: well covered, much corrected, and eighteen readings by hand."""
    return fitted(request.param)


@pytest.fixture(scope="module", params=["PIT-01", "PIT-03", "BALCONY-02"])
def covered_tube(request):
    """Return a tube whose readings are enough for the family to speak alone."""
    return fitted(request.param)


def fitted(name: str):
    (sweep,) = read_file(sample_folder() / f"{name}.csv").sweeps
    return sweep.readings, fit_sweep(sweep.readings)


def points(fit, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return points in and around the covered part, far into cut-off."""
    rng = np.random.default_rng(11)
    share = rng.uniform(-0.1, 1.1, (2, count))
    return tuple(fit.hull.origin[:, None] + fit.hull.span[:, None] * share)


@pytest.mark.parametrize("bench", [UNSTATED_BENCH, BENCH], ids=["assumed", "stated"])
def test_many_points_are_as_each_of_them(tube, bench):
    readings, fit = tube
    plate, grid = points(fit, 60)
    many = constants_over(fit, readings, plate, grid, bench)
    for place, at in enumerate(zip(plate, grid, strict=True)):
        one = constants_at(fit, readings, at)
        one = with_local(fit, readings, one, local_constants_at(fit, readings, at))
        one = with_bench(one, at, bench)
        for name in NAMES:
            single, part = getattr(one, name), getattr(many, name)
            assert part.outcome[place] == single.outcome
            if single.value is None:
                assert np.isnan(part.value[place])
                assert np.isnan(part.u95[place])
            else:
                assert part.value[place] == pytest.approx(single.value, rel=1e-9)
                assert part.u95[place] == pytest.approx(single.u95, rel=1e-6)


def test_the_propagation_is_that_of_random_draws(tube):
    # JCGM 101:2008, propagation of distributions by a Monte Carlo method.
    _, fit = tube
    family, rng = fit.family, np.random.default_rng(4)
    plate, grid = points(fit, 40)
    clear = family.covers(plate, grid) & (
        family.current(plate, grid) > 0.1 * family.current(plate, grid).max()
    )
    plate, grid = plate[clear][:6], grid[clear][:6]
    # Small draws, since a parameter that no reading touches is free beyond what is linear.
    small = 1e-3
    law = rng.multivariate_normal(family.internal, small**2 * family.law_covariance, 3000)
    smooth = rng.multivariate_normal(
        family.correction.coefficients, small**2 * family.correction.covariance.astype(float), 3000
    )
    logs = []
    for internal, coefficients in zip(law, smooth, strict=True):
        # One share at a time, as they are added in quadrature.
        for drawn in (
            replace(family, internal=internal),
            replace(family, correction=replace(family.correction, coefficients=coefficients)),
        ):
            current, by_plate, by_grid = drawn.evaluate(plate, grid)
            logs.append(np.log([current, by_grid, 1.0 / by_plate, by_grid / by_plate]))
    spread = np.array(logs).reshape(3000, 2, 4, plate.size).std(axis=0)
    together = np.sqrt((spread**2).sum(axis=0)) / small
    assert family.log_deviations(plate, grid) == pytest.approx(together, rel=0.08)


def test_what_is_not_covered_has_no_value(tube):
    readings, fit = tube
    plate, grid = points(fit, 200)
    many = constants_over(fit, readings, plate, grid)
    outside = ~fit.family.covers(plate, grid)
    assert outside.any()
    for name in NAMES:
        part = getattr(many, name)
        assert np.isnan(part.value[outside]).all()
        assert (part.outcome[outside] == Outcome.NOT_COVERED).all()
        assert (np.isfinite(part.value) == (part.outcome == Outcome.GOOD)).all()


def test_mu_is_gm_times_rp_everywhere(covered_tube):
    readings, fit = covered_tube
    many = constants_over(fit, readings, *points(fit, 200))
    gm, rp, mu = (getattr(many, name).value for name in NAMES[1:])
    known = np.isfinite(gm) & np.isfinite(rp) & np.isfinite(mu)
    assert known.sum() > 20
    assert (gm * rp)[known] == pytest.approx(mu[known], rel=1e-9)


def test_the_slopes_are_those_of_the_current_by_differences(covered_tube):
    readings, fit = covered_tube
    many = constants_over(fit, readings, *points(fit, 200))
    known = np.isfinite(many.transconductance.value) & np.isfinite(many.plate_resistance.value)
    plate, grid = many.plate_voltage[known], many.grid_voltage[known]
    dp, dg = 1e-4 * fit.hull.span
    family = fit.family
    gm = (family.current(plate, grid + dg) - family.current(plate, grid - dg)) / (2 * dg)
    rp = 2 * dp / (family.current(plate + dp, grid) - family.current(plate - dp, grid))
    assert many.transconductance.value[known] == pytest.approx(gm, rel=1e-4)
    assert many.plate_resistance.value[known] == pytest.approx(rp, rel=1e-4)


def line(plate, grid) -> Readings:
    current = 1e-3 * np.maximum(grid + plate / 20.0, 0.0) ** 1.5
    return Readings(plate, grid, current, np.arange(plate.size))


def test_one_grid_step_gives_plate_resistance_alone():
    plate = np.linspace(100.0, 300.0, 21)
    readings = line(plate, np.full(21, -4.0))
    found = constants_over(
        fit_sweep(readings), readings, np.array([200.0, 200.0]), np.array([-4.0, -6.0])
    )
    drive = -4.0 + 200.0 / 20.0
    assert found.plate_resistance.value[0] == pytest.approx(20.0 / (1.5e-3 * drive**0.5), rel=0.02)
    assert np.isnan(found.transconductance.value).all()
    assert np.isnan(found.plate_resistance.value[1])
    assert found.plate_resistance.outcome[1] == Outcome.NOT_COVERED


def test_no_current_at_all_has_no_constants():
    plate, grid = (part.ravel() for part in np.meshgrid(np.linspace(50, 250, 9), [-4.0, -2.0]))
    readings = Readings(plate, grid, np.zeros(plate.size), np.arange(plate.size))
    found = constants_over(fit_sweep(readings), readings, plate, grid)
    assert (found.plate_current.outcome == Outcome.NO_CURRENT).all()


def test_no_points_give_an_empty_map(tube):
    readings, fit = tube
    found = constants_over(fit, readings, np.empty(0), np.empty(0))
    assert len(found) == 0
    assert found.amplification_factor.value.size == 0
