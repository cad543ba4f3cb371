"""Behaviour: the current of a metered screen under the plate curves, over the same axis."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curvelab.paths import sample_folder
from curvelab.sheets.plot_records import Role
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.views import View, view_picture

_OUTSIDE = Path(__file__).parents[1] / "data" / "outside"


def assessed(path):
    (found,) = characterize(Request(paths=(path,))).assessments
    return found


@pytest.fixture(scope="module")
def tube():
    return assessed(sample_folder() / "BAR-02.csv")


def test_the_screen_stands_under_the_plate_over_one_axis(tube):
    plate, screen = view_picture(View.PLATE, tube).plots
    assert screen.x == plate.x
    assert screen.y.label == "screen current Is (mA)"
    assert screen.step_count == plate.step_count


def test_every_reading_of_the_screen_is_a_point_of_its_step(tube):
    _, screen = view_picture(View.PLATE, tube).plots
    readings = tube.sweep.readings
    points = list(screen.of_role(Role.MEASURED))
    shown = np.concatenate([line.readings for line in points])
    assert sorted(shown.tolist()) == list(range(len(readings)))
    for line in points:
        np.testing.assert_allclose(line.y, 1e3 * readings.screen_current[line.readings])
        np.testing.assert_allclose(line.x, readings.plate_voltage[line.readings])
        assert np.unique(readings.grid_voltage[line.readings]).size == 1


def test_lines_are_the_laws_and_the_references(tube):
    _, screen = view_picture(View.PLATE, tube).plots
    for role, family in ((Role.FITTED, tube.fit.family), (Role.REFERENCE, tube.reference)):
        lines = list(screen.of_role(role))
        assert lines
        for line in lines:
            grid = np.full(line.x.size, float(line.label.removesuffix(" V")))
            np.testing.assert_allclose(line.y, 1e3 * family.screen_current(line.x, grid))


def test_the_rated_dissipation_is_a_level_at_this_screen_voltage(tube):
    # Philips EL84 data sheets 1-6: 2 W of the screen, which at 250 V are 8 mA.
    _, screen = view_picture(View.PLATE, tube).plots
    (limit,) = screen.of_role(Role.LIMIT)
    assert limit.label == "screen, maximum 2 W"
    np.testing.assert_allclose(limit.y, 8.0)


@pytest.mark.parametrize(
    "path", [sample_folder() / "BAR-03.csv", _OUTSIDE / "C4-EL84-pentode.csv"], ids=str
)
def test_without_readings_of_the_screen_there_is_but_the_plate(path):
    assert len(view_picture(View.PLATE, assessed(path)).plots) == 1
