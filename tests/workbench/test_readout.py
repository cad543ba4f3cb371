"""Identity and refusal: what the cursor reads is the family, and nothing is read beyond it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.ticks import round_axis
from curvelab.workbench.readout import (
    nearest_line,
    read_at_cursor,
    read_at_grid,
    read_at_voltages,
    read_family,
    read_on_transfer,
)
from helpers import assessments

FAMILY = assessments.AnalyticFamily()


@pytest.mark.parametrize(("plate", "grid"), [(250.0, -2.0), (100.0, -0.25), (290.0, -3.4)])
def test_the_grid_voltage_that_gave_the_current_is_found_again(plate, grid):
    current = float(FAMILY.current(np.array([plate]), np.array([grid]))[0])
    found = read_family(FAMILY, plate, current, (-3.5, 0.0))
    assert found.grid_voltage == pytest.approx(grid, abs=1e-4)


def test_mu_is_gm_times_rp():
    found = read_family(FAMILY, 250.0, 1.2e-3, (-3.5, 0.0))
    product = found.transconductance * found.plate_resistance
    assert found.amplification_factor == pytest.approx(product, rel=1e-12)


def test_the_slopes_are_those_of_the_family():
    found = read_at_grid(FAMILY, 250.0, -2.0)
    by_plate, by_grid = FAMILY.slopes(250.0, -2.0)
    assert found.plate_resistance == pytest.approx(1 / by_plate, rel=1e-9)
    assert found.transconductance == pytest.approx(by_grid, rel=1e-9)


@pytest.mark.parametrize("current", [1.0, -1e-3])
def test_no_grid_voltage_near_gives_an_absurd_current(current):
    found = read_family(FAMILY, 250.0, current, (-3.5, 0.0))
    assert found.grid_voltage is None
    assert found.amplification_factor is None


def test_beyond_the_readings_is_said():
    inside = read_family(FAMILY, 250.0, 1.2e-3, (-3.5, 0.0))
    beyond = read_family(FAMILY, 400.0, 5e-3, (-3.5, 0.0))
    assert inside.covered
    assert beyond.grid_voltage is not None
    assert not beyond.covered


def test_the_cursor_reads_the_tube_in_the_units_of_the_axes():
    found = read_at_cursor(assessments.healthy(), 250.0, 1.2)
    assert found.plate_current == pytest.approx(1.2e-3)
    assert -3.5 < found.grid_voltage < 0
    assert not found.of_reference


def test_without_a_fit_the_reference_is_read_and_named():
    base = assessments.healthy()
    unfitted = replace(base, fit=assessments.no_fit(base.sweep, "too few"))
    assert read_at_cursor(unfitted, 250.0, 1.2).of_reference


def test_a_log_and_a_tube_without_any_family_have_nothing_to_read():
    assert read_at_cursor(assessments.drifting(), 1.0, 60.0) is None
    assert read_at_cursor(assessments.without_constants(), 150.0, 1.0) is None


@pytest.mark.parametrize(("plate", "grid"), [(250.0, -2.0), (120.0, -0.5)])
def test_on_transfer_curves_the_plate_voltage_is_found_again(plate, grid):
    tube = assessments.healthy()
    milliamperes = 1e3 * float(FAMILY.current(np.array([plate]), np.array([grid]))[0])
    found = read_on_transfer(tube, grid, milliamperes)
    assert found.plate_voltage == pytest.approx(plate, abs=0.01)
    assert found.grid_voltage == grid
    assert not found.of_reference
    assert read_on_transfer(tube, grid, 1e6) is None


def test_at_voltages_the_fitted_family_is_read_else_the_reference():
    tube = assessments.healthy()
    own = read_at_voltages(tube, 200.0, -1.5)
    assert own.plate_current == pytest.approx(float(FAMILY.current(200.0, -1.5)))
    bare = replace(tube, fit=assessments.no_fit(tube.sweep, "too few"))
    assert read_at_voltages(bare, 200.0, -1.5).of_reference
    assert read_at_voltages(assessments.drifting(), 250.0, -45.0) is None


def test_the_line_nearest_to_the_cursor_is_named_with_its_height():
    x = np.array([0.0, 10.0])
    axis = round_axis("x", 0.0, 10.0)
    lines = (
        Series(Role.FITTED, "low", x, np.array([0.0, 1.0])),
        Series(Role.SHARE, "high", x, np.array([4.0, 6.0])),
        Series(Role.REFERENCE, "never", x, np.array([2.0, 2.0])),
    )
    picture = CurvePicture("t", axis, axis, lines, (), 1)
    assert nearest_line(picture, 5.0, 1.0) == ("low", 0.5)
    assert nearest_line(picture, 5.0, 2.9) == ("high", 5.0)
    assert nearest_line(picture, 11.0, 2.9) is None
