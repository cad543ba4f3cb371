"""Closed form: what lies between two readings, on a law that is straight to the power 2/3."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.sheets.between_readings import grid_steps
from curvelab.sweep.records import Readings
from helpers import assessments

MU, PERVEANCE = 20.0, 0.9e-3


def law(plate, grid):
    """Return I = P (Vg + Vp/mu)^(3/2), Child (1911) and Langmuir (1913)."""
    return PERVEANCE * np.maximum(grid + plate / MU, 0.0) ** 1.5


def steps_of(plate, grid, used=None):
    readings = Readings(plate, grid, law(plate, grid), np.arange(plate.size))
    sweep = assessments.make_sweep(readings=readings)
    fit = assessments.make_fit(sweep)
    return grid_steps(readings, fit if used is None else replace(fit, used=used))


@pytest.fixture(scope="module")
def swept():
    grid = np.repeat([-4.0, -2.0, 0.0], 13)
    plate = np.tile(np.linspace(100.0, 340.0, 13), 3)
    return plate, grid


def test_a_current_between_two_readings_is_the_laws(swept):
    for step in steps_of(*swept):
        wanted = np.array([107.0, 215.5, 333.0])
        assert step.currents_at(wanted) == pytest.approx(law(wanted, step.grid_voltage), rel=1e-12)


def test_a_plate_voltage_between_two_readings_is_the_laws(swept):
    for step in steps_of(*swept):
        wanted = np.array([111.0, 263.0])
        current = law(wanted, step.grid_voltage)
        assert step.plate_voltages_at(current) == pytest.approx(wanted, rel=1e-12)


def test_beyond_the_readings_nothing_is_said(swept):
    (step, *_) = steps_of(*swept)
    assert np.isnan(step.currents_at(np.array([99.0, 341.0]))).all()
    assert np.isnan(step.plate_voltages_at(law(np.array([90.0, 350.0]), -4.0))).all()


def test_across_a_gap_left_by_spoilt_readings_nothing_is_said(swept):
    plate, grid = swept
    used = ~((plate > 150.0) & (plate < 230.0))
    (step, *_) = steps_of(plate, grid, used)
    assert np.isnan(step.currents_at(np.array([190.0]))[0])
    assert np.isnan(step.plate_voltages_at(law(np.array([190.0]), -4.0))[0])
    assert np.isfinite(step.currents_at(np.array([110.0, 140.0, 300.0]))).all()


def test_two_passes_count_as_one_reading_with_their_mean():
    plate = np.array([100.0, 200.0, 300.0, 300.0, 200.0, 100.0])
    grid = np.full(6, -2.0)
    current = law(plate, grid) * np.array([1.0, 1.0, 1.0, 1.1, 1.1, 1.1])
    readings = Readings(plate, grid, current, np.arange(6))
    sweep = assessments.make_sweep(readings=readings)
    (step,) = grid_steps(readings, assessments.make_fit(sweep))
    assert step.plate_voltage.tolist() == [100.0, 200.0, 300.0]
    assert step.plate_current == pytest.approx(1.05 * law(step.plate_voltage, -2.0))


def test_the_sign_of_a_current_below_zero_is_kept():
    plate, grid = np.array([10.0, 20.0]), np.full(2, -5.0)
    readings = Readings(plate, grid, np.array([-1e-6, -1e-6]), np.arange(2))
    sweep = assessments.make_sweep(readings=readings)
    (step,) = grid_steps(readings, assessments.make_fit(sweep))
    assert step.currents_at(np.array([15.0])) == pytest.approx([-1e-6])
