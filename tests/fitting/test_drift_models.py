"""Closed form and round trip: trends of known scale, noise and faults into `fit_drift`.

The courses are textbook functions of time with invented figures; nothing here is a tube's
published behaviour. Near misses and refusals stand beside what must be recognised.
"""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.fitting.drift import FEWEST_READINGS, Shape, TrendModel, fit_drift
from curvelab.fitting.drift_screen import correlation_length, screen_log
from curvelab.fitting.drift_shapes import shape_slope, shape_value

_TIME = np.arange(0.0, 903.0, 3.0)
_LENGTH = _TIME[-1]


def _noisy(course, seed=1, noise=0.002):
    course = np.broadcast_to(course, _TIME.shape)
    return course * (1 + np.random.default_rng(seed).normal(0, noise, _TIME.size))


def _growth(amount, time_constant, time=_TIME, length=_LENGTH):
    return 0.06 * (1 + amount * np.expm1(time / time_constant) / np.expm1(length / time_constant))


def _plateau(amount, time_constant, time=_TIME):
    return 0.06 * (1 - amount * np.exp(-time / time_constant))


COURSES = {
    TrendModel.CONSTANT: 0.06,
    TrendModel.PLATEAU: _plateau(0.08, 130.0),
    TrendModel.CREEP: 0.06 * (1 - 0.05 * _TIME / _LENGTH),
    TrendModel.GROWTH: _growth(0.3, 250.0),
}


@pytest.mark.parametrize("model", COURSES)
def test_each_model_is_chosen_for_its_own_course(model):
    chosen = [fit_drift(_TIME, _noisy(COURSES[model], seed)).model for seed in range(40)]
    assert chosen.count(model) >= 38


@pytest.mark.parametrize("shape", Shape)
def test_slopes_are_the_derivatives_of_the_shapes(shape):
    x = np.linspace(0.05, 0.95, 19)
    scale, step = 0.4, 1e-6
    difference = shape_value(shape, scale, x + step) - shape_value(shape, scale, x - step)
    np.testing.assert_allclose(
        shape_slope(shape, scale, x), difference / (2 * step), rtol=1e-6, atol=1e-8
    )


@pytest.mark.parametrize(("amount", "time_constant"), [(0.1, 60.0), (-0.05, 150.0), (0.15, 300.0)])
def test_an_exact_plateau_gives_its_constants(amount, time_constant):
    fit = fit_drift(_TIME, _plateau(amount, time_constant))
    assert fit.model is TrendModel.PLATEAU
    assert fit.level == pytest.approx(0.06, rel=2e-4)
    moved, _ = fit.transient()
    assert moved == pytest.approx(-0.06 * amount, rel=0.01)
    np.testing.assert_allclose(fit.current(_TIME), _plateau(amount, time_constant), rtol=1e-4)


@pytest.mark.parametrize(("amount", "time_constant"), [(0.1, 400.0), (0.6, 200.0)])
def test_an_exact_growth_is_followed_past_the_end(amount, time_constant):
    fit = fit_drift(_TIME, _growth(amount, time_constant))
    ahead = _LENGTH + np.array([0.0, 60.0, 120.0])
    assert fit.model is TrendModel.GROWTH
    np.testing.assert_allclose(fit.current(ahead), _growth(amount, time_constant, ahead), rtol=2e-3)
    slope = 0.06 * amount / time_constant / -np.expm1(-_LENGTH / time_constant)
    assert float(fit.slope(np.array(_LENGTH))) == pytest.approx(slope, rel=0.02)


def test_the_uncertainty_of_a_plateau_covers_the_truth():
    """Round trip: the movement lies within 1.96 standard uncertainties about as often as told."""
    inside = 0
    for seed in range(200):
        moved, uncertainty = fit_drift(
            _TIME, _noisy(_plateau(0.08, 130.0), seed, noise=0.003)
        ).transient()
        inside += abs(moved + 0.06 * 0.08) < 1.96 * uncertainty
    assert 180 <= inside <= 199


def test_noise_is_estimated_whatever_the_trend():
    for course in COURSES.values():
        fit = fit_drift(_TIME, _noisy(course, 5, noise=0.004))
        assert fit.noise == pytest.approx(0.06 * 0.004, rel=0.25)


def test_correlated_noise_is_worth_fewer_readings_and_is_no_trend():
    plain, correlated, worth = 0, 0, []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        wander = np.empty(_TIME.size)
        wander[0] = rng.normal()
        for index in range(1, wander.size):
            wander[index] = 0.9 * wander[index - 1] + np.sqrt(1 - 0.81) * rng.normal()
        fit = fit_drift(_TIME, 0.06 * (1 + 0.002 * wander))
        worth.append(fit.effective_readings)
        correlated += fit.model is TrendModel.CONSTANT
        plain += fit_drift(_TIME, _noisy(0.06, seed)).model is TrendModel.CONSTANT
    assert plain >= 39
    assert correlated >= 32
    # (1 - 0.9) / (1 + 0.9) of 301 readings are 16; a flexible trend takes some of them.
    assert 10 <= np.median(worth) <= 60


def test_correlation_length_of_white_and_of_first_order_noise():
    rng = np.random.default_rng(2)
    white = rng.normal(size=20_000)
    wander = np.empty(white.size)
    wander[0] = white[0]
    for index in range(1, wander.size):
        wander[index] = 0.5 * wander[index - 1] + white[index]
    assert correlation_length(white) == pytest.approx(1.0, abs=0.1)
    assert correlation_length(wander) == pytest.approx(3.0, abs=0.4)  # (1 + 0.5) / (1 - 0.5)
    assert correlation_length(np.zeros(10)) == 1.0


class TestScreen:
    def test_spikes_and_dropouts_are_left_out(self):
        current = _noisy(COURSES[TrendModel.GROWTH])
        faults = [40, 41, 150, 200, 300]
        current[faults] = [0.0, 1e-5, 0.09, 0.03, 0.12]
        fit = fit_drift(_TIME, current)
        assert not fit.used[faults].any()
        assert fit.used.sum() >= _TIME.size - len(faults) - 2
        assert fit.model is TrendModel.GROWTH

    def test_the_steep_end_of_a_growth_is_no_spike(self):
        x = _TIME / _LENGTH
        current = _noisy(0.06 * (1 + 0.02 / (1.05 - x)), noise=0.001)
        assert screen_log(_TIME, current).used[-10:].all()

    def test_cold_start_and_cut_supply_are_left_out(self):
        current = _noisy(0.06)
        current[:10] *= np.linspace(0, 0.4, 10)
        current[-90:] = 1e-6
        used = screen_log(_TIME, current).used
        assert not used[:10].any()
        assert not used[-90:].any()
        assert used[10:-90].all()

    def test_a_meter_at_its_ceiling_hides_no_growth(self):
        current = np.minimum(_noisy(COURSES[TrendModel.GROWTH]), 0.07)
        fit = fit_drift(_TIME, current)
        assert fit.model is TrendModel.GROWTH
        assert not fit.used[-1]

    def test_a_dead_half_is_the_tubes_own_behaviour(self):
        current = _noisy(np.where(_TIME < 500, 0.06, 0.02))
        assert screen_log(_TIME, current).used.mean() > 0.95

    def test_a_long_log_is_averaged(self):
        time = np.arange(0, 9000.0, 0.1)
        log = screen_log(time, np.full(time.size, 0.06))
        assert log.time.size == 400
        assert log.used.all()
        np.testing.assert_allclose(log.current, 0.06)


@pytest.mark.parametrize("model", COURSES)
@pytest.mark.parametrize("quantum", [1e-4, 5e-4])
def test_a_coarse_meter_tells_the_same(model, quantum):
    current = np.round(_noisy(COURSES[model], 3, noise=0.0015) / quantum) * quantum
    assert fit_drift(_TIME, current).model is model


@pytest.mark.parametrize("model", COURSES)
def test_order_gaps_and_missing_values_do_not_matter(model):
    rng = np.random.default_rng(8)
    current = _noisy(COURSES[model], 4)
    whole = fit_drift(_TIME, current)
    shuffled = rng.permutation(_TIME.size)
    again = fit_drift(_TIME[shuffled], current[shuffled])
    assert again.model is whole.model
    np.testing.assert_allclose(again.current(_TIME), whole.current(_TIME), rtol=1e-9)
    kept = np.delete(np.arange(_TIME.size), slice(120, 180))
    time, holes = _TIME[kept].copy(), current[kept].copy()
    time[3], holes[50:55] = np.nan, np.nan
    gappy = fit_drift(time, holes)
    assert gappy.model is model
    assert not gappy.used[[3, 50, 54]].any()


@pytest.mark.parametrize("unit", [1e-3, 60.0])
def test_the_choice_does_not_depend_on_units(unit):
    current = _noisy(COURSES[TrendModel.GROWTH])
    fit, scaled = fit_drift(_TIME, current), fit_drift(_TIME / 60, current * unit)
    assert scaled.model is fit.model
    np.testing.assert_allclose(scaled.current(_TIME / 60), unit * fit.current(_TIME), rtol=1e-6)


class TestRefusal:
    def test_too_few_readings(self):
        few = FEWEST_READINGS - 1
        assert fit_drift(_TIME[:few], np.full(few, 0.06)) is None
        assert fit_drift(_TIME[: few + 1], np.full(few + 1, 0.06)) is not None

    def test_no_time_passes(self):
        assert fit_drift(np.zeros(20), np.full(20, 0.06)) is None

    @pytest.mark.parametrize("current", [0.0, -1e-6, np.nan])
    def test_no_current(self, current):
        assert fit_drift(_TIME, np.full(_TIME.size, current)) is None

    def test_nothing_at_all(self):
        assert fit_drift(np.empty(0), np.empty(0)) is None

    def test_exactly_constant(self):
        fit = fit_drift(_TIME, np.full(_TIME.size, 0.0601))
        assert fit.model is TrendModel.CONSTANT
        assert fit.level == pytest.approx(0.0601)
