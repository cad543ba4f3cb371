"""Round trip and refusal: simulated tubes with a screen grid through the fit.

The simulator's law is none of ours: its current is not exactly homogeneous in the voltages, its
knee and its dip are of another form.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.errors import FitInputError
from curvelab.fitting import Outcome, fit_pentodes
from curvelab.fitting.constants import constants_at, local_constants_at
from curvelab.fitting.screen_steps import screen_steps, usual_screen_voltage
from simulator.pentode import PentodePlan, plan_for, random_pentode, run_pentode_sweep

_NAMES = ("plate_current", "transconductance", "plate_resistance", "amplification_factor")
_COUNT = 24


def _tubes(seed=3):
    rng = np.random.default_rng(seed)
    return [random_pentode(rng, beam=k % 2 == 1) for k in range(_COUNT)], rng


def _fits(screens=(250.0,), **plan):
    tubes, rng = _tubes()
    sweeps = [
        run_pentode_sweep(tube, replace(plan_for(tube, screens=screens), **plan), rng)
        for tube in tubes
    ]
    return tubes, sweeps, fit_pentodes(sweeps)


@pytest.fixture(scope="module")
def one_screen():
    return _fits(screen_metered=True)


@pytest.fixture(scope="module")
def three_screens():
    return _fits(screens=(150.0, 200.0, 250.0))


def _compared(found, estimate):
    """Return relative error and relative u95 of each constant that was given, by name."""
    result = {name: [] for name in _NAMES}
    for tube, readings, fit in zip(*found, strict=True):
        grid = tube.grid_for(250.0, 250.0, 0.9 * tube.knee_current)
        truth = tube.constants(250.0, grid, 250.0)
        there = replace(fit, family=fit.family.at_screen(250.0))
        constants = estimate(there, readings, (250.0, grid), 250.0)
        for name in _NAMES:
            constant = getattr(constants, name)
            if constant.value is not None:
                error = constant.value / truth[name] - 1.0
                result[name].append((error, constant.u95 / constant.value))
    return {name: np.array(rows) for name, rows in result.items()}


@pytest.mark.parametrize("which", ["one_screen", "three_screens"])
def test_constants_lie_within_their_uncertainty(which, request):
    rows = _compared(request.getfixturevalue(which), constants_at)
    for name, most in zip(_NAMES, (0.006, 0.02, 0.6, 0.04), strict=True):
        error, u95 = np.abs(rows[name][:, 0]), rows[name][:, 1]
        assert np.mean(error <= u95) >= 0.85
        assert error.size >= 0.7 * _COUNT
        assert error.max() < most


def test_the_local_estimate_agrees(one_screen):
    rows = _compared(one_screen, local_constants_at)
    for name in ("plate_current", "transconductance", "amplification_factor"):
        error, u95 = np.abs(rows[name][:, 0]), rows[name][:, 1]
        assert error.size == _COUNT
        assert np.mean(error <= 1.5 * u95) >= 0.85
        assert error.max() < 0.05


def test_curves_are_followed_to_the_bench_s_noise(one_screen):
    _, sweeps, fits = one_screen
    for readings, fit in zip(sweeps, fits, strict=True):
        noise = np.hypot(0.003 * readings.plate_current, 2e-4 * readings.plate_current.max())
        assert fit.left_out == ()
        assert np.sqrt(np.mean((fit.residual / noise) ** 2)) < 3.0


def test_readings_at_one_screen_voltage_predict_others(one_screen):
    tubes, _, fits = one_screen
    errors = []
    for screen in (175.0, 200.0, 300.0, 325.0):
        for tube, fit in zip(tubes, fits, strict=True):
            wanted = 0.7 * tube.knee_current * (screen / 250.0) ** 1.5
            grid = tube.grid_for(screen, screen, wanted)
            family = fit.family.at_screen(screen)
            assert not bool(family.covers(np.array([screen]), np.array([grid]))[0])
            current = float(family.current(np.array([screen]), np.array([grid]))[0])
            errors.append(current / wanted - 1.0)
    assert np.sqrt(np.mean(np.square(errors))) < 0.03
    assert np.max(np.abs(errors)) < 0.10


def test_several_screen_voltages_settle_what_one_leaves_open(one_screen, three_screens):
    wide = _compared(one_screen, constants_at)["amplification_factor"][:, 1]
    narrow = _compared(three_screens, constants_at)["amplification_factor"][:, 1]
    assert np.median(narrow) < 0.7 * np.median(wide)
    tubes, _, fits = three_screens
    offset = np.array([fit.family.contact_offset for fit in fits])
    true = np.array([tube.cathode.offsets[0] for tube in tubes])
    assert np.abs(offset - true).max() < 0.15
    for fit in fits:
        at_200, at_300 = (fit.family.at_screen(screen) for screen in (200.0, 300.0))
        assert bool(at_200.covers(np.array([200.0]), np.array([-5.0]))[0])
        assert not bool(at_300.covers(np.array([250.0]), np.array([-5.0]))[0])


def test_the_screen_s_current_is_fitted_where_it_was_metered(one_screen):
    for tube, readings, fit in zip(*one_screen, strict=True):
        strong = (readings.plate_voltage > 100.0) & (
            readings.grid_voltage > 0.6 * readings.grid_voltage.min()
        )
        there = readings.plate_voltage[strong], readings.grid_voltage[strong]
        found = fit.family.screen_current(*there)
        true = tube.currents(*there, readings.screen_voltage[strong])[1]
        assert np.sqrt(np.mean((found / true - 1.0) ** 2)) < 0.15


def test_a_screen_sweep_at_one_plate_voltage_gives_no_plate_resistance():
    tubes, rng = _tubes(5)
    for tube in tubes[:8]:
        cutoff = tube.grid_for(250.0, 300.0, 0.02 * tube.knee_current)
        plan = PentodePlan(
            (250.0,),
            tuple(np.linspace(0.0, cutoff, 6).round(2).tolist()),
            tuple(np.arange(100.0, 301.0, 20.0).tolist()),
        )
        readings = run_pentode_sweep(tube, plan, rng)
        (fit,) = fit_pentodes([readings])
        grid = tube.grid_for(250.0, 240.0, 0.7 * tube.knee_current)
        fit, truth = (
            replace(fit, family=fit.family.at_screen(240.0)),
            tube.constants(250.0, grid, 240.0),
        )
        found = constants_at(fit, readings, (250.0, grid), 240.0)
        for name, most in zip(_NAMES, (0.01, 0.02, 0.6, 0.03), strict=True):
            constant = getattr(found, name)
            if name == "plate_resistance" and constant.value is None:
                assert constant.outcome is Outcome.ILL_CONDITIONED
                continue
            assert constant.value == pytest.approx(truth[name], rel=most)
        local = local_constants_at(fit, readings, (250.0, grid), 240.0)
        assert local.plate_resistance.outcome is Outcome.NOT_COVERED
        assert local.transconductance.value == pytest.approx(truth["transconductance"], rel=0.03)


def test_where_a_beam_tube_dips_no_plate_resistance_is_given():
    tube = replace(random_pentode(np.random.default_rng(8), beam=True), dip=0.5)
    readings = run_pentode_sweep(tube, plan_for(tube), np.random.default_rng(9))
    (fit,) = fit_pentodes([readings])
    assert fit.left_out == ()
    grid = tube.grid_for(250.0, 250.0, 0.15 * tube.knee_current)
    plates = np.arange(20.0, 140.0, 2.0)
    falls = fit.family.slopes(plates, np.full(plates.size, grid))[0] < 0
    assert falls.any()
    at = (float(plates[falls][falls.sum() // 2]), grid)
    found = constants_at(fit, readings, at, 250.0)
    assert found.plate_resistance.outcome is Outcome.UNPHYSICAL
    assert found.plate_current.value == pytest.approx(
        float(tube.plate_current(*at, 250.0)), rel=0.05
    )


def test_poor_readings_get_a_reason_and_no_family():
    tube, rng = random_pentode(np.random.default_rng(1)), np.random.default_rng(2)
    plan = plan_for(tube)
    line = run_pentode_sweep(tube, replace(plan, grid_voltage=(-3.0,)), rng)
    whole = run_pentode_sweep(tube, plan, rng)
    few = whole.take(np.arange(5) * 40)
    unknown = replace(whole, screen_voltage=np.full(len(whole), np.nan))
    dead = replace(whole, plate_current=np.zeros(len(whole)))
    outcomes = [fit.outcome for fit in fit_pentodes([line, few, unknown, dead])]
    assert outcomes == [
        Outcome.NOT_COVERED,
        Outcome.TOO_FEW,
        Outcome.TOO_FEW,
        Outcome.NO_CURRENT,
    ]
    with pytest.raises(FitInputError):
        fit_pentodes([replace(whole, screen_voltage=None)])


def test_a_reading_without_screen_voltage_is_not_used():
    tube = random_pentode(np.random.default_rng(1))
    readings = run_pentode_sweep(tube, plan_for(tube), np.random.default_rng(2))
    screen = readings.screen_voltage.copy()
    screen[7] = np.nan
    (fit,) = fit_pentodes([replace(readings, screen_voltage=screen)])
    assert not fit.used[7]
    assert fit.used.sum() == len(readings) - 1
    assert np.isnan(fit.residual[7])


def test_a_loose_contact_is_found_among_curves_of_several_screens():
    tube = random_pentode(np.random.default_rng(1))
    readings = run_pentode_sweep(
        tube, plan_for(tube, screens=(200.0, 250.0)), np.random.default_rng(2)
    )
    per_curve, per_screen = 24, len(readings) // 2
    hit = np.array([12, 12 + 2 * per_curve, per_screen + 15])
    current = readings.plate_current.copy()
    assert (current[hit] > 0.2 * current.max()).all()
    current[hit] *= 0.2
    (fit,) = fit_pentodes([replace(readings, plate_current=current)])
    assert [item.reason for item in fit.left_out] == ["contact"]
    assert fit.left_out[0].readings.tolist() == hit.tolist()


def test_screen_steps_forgive_a_supply_that_wanders():
    volts = np.array([250.4, 99.8, 249.6, 100.2, 250.0])
    assert screen_steps(volts).tolist() == [1, 0, 1, 0, 1]
    assert usual_screen_voltage(volts) == 250.0
    assert usual_screen_voltage(np.array([100.0, 250.0])) == 250.0
