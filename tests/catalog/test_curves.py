"""Closed form and identity: families sampled on a grid of round voltages."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from curvelab.catalog.curve_codec import packed_curves, unpacked_curves
from curvelab.catalog.curves import CurveGrid, sample_curves
from curvelab.errors import SweepShapeError
from curvelab.fitting.hull import convex_hull
from helpers import assessments


@dataclass(frozen=True)
class ThreeHalvesFamily:
    """The three-halves law (Child 1911, Langmuir 1913), figures invented."""

    hull: object

    def current(self, plate_voltage, grid_voltage):
        drive = np.asarray(grid_voltage) + np.asarray(plate_voltage) / 20.0
        return 0.9e-3 * np.maximum(drive, 0.0) ** 1.5

    def covers(self, plate_voltage, grid_voltage):
        return self.hull.contains(plate_voltage, grid_voltage)


def sampled(plate=(20.0, 300.0), grid=(-8.01, 0.0)):
    corners = np.meshgrid(plate, grid)
    hull = convex_hull(corners[0].ravel(), corners[1].ravel())
    family = ThreeHalvesFamily(hull)
    made = assessments.healthy()
    return sample_curves(replace(made.fit, family=family, hull=hull)), family


def test_nodes_are_round_and_reach_the_ends():
    curves, _ = sampled()
    assert curves.plate_voltage[0] == 20.0
    assert curves.plate_voltage[-1] == 300.0
    assert set(np.diff(curves.plate_voltage)) == {10.0}
    assert list(curves.grid_voltage) == list(np.arange(-8.0, 0.1, 0.5))
    assert curves.covered.all()


def test_tubes_swept_alike_share_their_nodes():
    first, _ = sampled(plate=(19.97, 300.02))
    second, _ = sampled(plate=(20.04, 299.99), grid=(-7.99, 0.0))
    assert np.array_equal(first.plate_voltage, second.plate_voltage)
    assert np.array_equal(first.grid_voltage, second.grid_voltage)


def test_between_the_nodes_a_law_is_followed():
    curves, family = sampled()
    noise = np.random.default_rng(8)
    plate, grid = noise.uniform(20, 300, 400), noise.uniform(-8, 0, 400)
    true = family.current(plate, grid)
    found = curves.current_at(plate, grid)
    clear = grid + plate / 20.0 > 1.5  # no corner of the cell is beyond the law's kink
    assert clear.sum() > 100
    assert found[clear] == pytest.approx(true[clear], rel=1e-9)
    assert np.abs(found - true).max() < 0.01 * true.max()


def test_a_node_is_itself_and_beyond_the_grid_there_is_nothing():
    curves, family = sampled()
    assert curves.current_at(np.array(250.0), np.array(-4.0)) == pytest.approx(
        float(family.current(250.0, -4.0)), rel=1e-12
    )
    outside = curves.current_at(np.array([310.0, 10.0, 250.0]), np.array([-4.0, -4.0, -9.0]))
    assert np.isnan(outside).all()


def test_where_no_readings_are_nothing_is_said():
    plate = np.array([20.0, 300.0, 300.0, 160.0])  # a triangle: no high voltage at zero grid
    grid = np.array([0.0, -8.0, -8.0, 0.0])
    hull = convex_hull(plate, grid)
    made = assessments.healthy()
    curves = sample_curves(replace(made.fit, family=ThreeHalvesFamily(hull), hull=hull))
    assert not curves.covered.all()
    assert np.isfinite(curves.plate_current).all()
    assert np.isnan(curves.current_at(np.array(290.0), np.array(-0.5)))


def test_without_a_family_or_a_plane_there_are_no_curves():
    made = assessments.healthy()
    assert sample_curves(assessments.no_fit(made.sweep, "too few")) is None
    line = convex_hull(np.array([100.0, 200.0]), np.array([-2.0, -2.0]))
    assert sample_curves(replace(made.fit, hull=line)) is None


def test_packing_loses_nothing():
    curves, _ = sampled(plate=(33.0, 417.0))
    back = unpacked_curves(packed_curves(curves))
    for name in ("plate_voltage", "grid_voltage", "plate_current", "covered"):
        assert np.array_equal(getattr(curves, name), getattr(back, name))


@pytest.mark.parametrize(
    "wrong",
    [
        {"plate_voltage": [0.0, 2.0, 1.0]},
        {"plate_voltage": [0.0, 1.0]},
        {"grid_voltage": [0.0]},
        {"plate_current": [[0.0, 1.0, np.nan], [0.0, 1.0, 2.0]]},
        {"covered": [[True]]},
    ],
)
def test_arrays_that_do_not_belong_together_are_refused(wrong):
    right = {
        "plate_voltage": [0.0, 1.0, 2.0],
        "grid_voltage": [-1.0, 0.0],
        "plate_current": [[0.0, 1.0, 2.0], [0.0, 1.0, 2.0]],
        "covered": [[True] * 3] * 2,
    }
    CurveGrid(**right)
    with pytest.raises(SweepShapeError):
        CurveGrid(**(right | wrong))
