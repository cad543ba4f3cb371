"""Behaviour: the point at which constants are taken, in the order of preference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment.operating_point import (
    choose_operating_point,
    handbook_points,
    usual_screen,
)
from curvelab.fitting.hull import convex_hull
from curvelab.sweep.records import Readings
from helpers.cases import tube_type
from simulator.tubes import bogey_tube

TYPE = tube_type(bogey_tube("6SN7GTB"))  # its bogey point: 250 V, -8 V
BOGEY = TYPE.points[0]


def other(plate: float, grid: float):
    """Return a printed point that is not the bogey's."""
    return replace(BOGEY, plate_voltage=plate, grid_voltage=grid, bogey=False)


def swept(plates, grids, **more) -> Readings:
    plate, grid = (item.ravel() for item in np.meshgrid(plates, grids))
    return Readings(plate, grid, np.full(plate.size, 5e-3), np.arange(plate.size), **more)


def choose(readings: Readings, kind=TYPE, at=None, used=None):
    used = np.ones(len(readings), dtype=bool) if used is None else used
    hull = convex_hull(readings.plate_voltage[used], readings.grid_voltage[used])
    handbook = handbook_points(kind, usual_screen(readings), 0.0)
    return choose_operating_point(readings, hull, handbook, at)


WIDE = swept(np.linspace(20, 300, 8), np.linspace(-12, 0, 7))
LOW = swept(np.linspace(20, 180, 8), np.linspace(-12, 0, 7))


def test_the_bogey_point_where_the_sweep_covers_it():
    found = choose(WIDE)
    assert (found.plate_voltage, found.grid_voltage, found.origin) == (250, -8, "handbook")


def test_a_point_that_is_given_goes_before_all_even_uncovered():
    found = choose(WIDE, at=(900.0, -3.0))
    assert (found.plate_voltage, found.grid_voltage, found.origin) == (900, -3, "given")
    assert found.screen_voltage is None
    assert choose(WIDE, at=(200.0, -3.0, 150.0)).screen_voltage == 150.0


def test_else_the_covered_printed_point_of_highest_plate_voltage_with_a_negative_grid():
    kind = replace(
        TYPE, points=(BOGEY, other(90, -2), other(150, -4), other(170, 0), other(600, -5))
    )
    found = choose(LOW, kind)
    assert (found.plate_voltage, found.grid_voltage, found.origin) == (150, -4, "handbook")


def test_else_the_middle_of_the_sweep():
    for kind in (TYPE, None):
        found = choose(LOW, kind)
        assert (found.plate_voltage, found.grid_voltage, found.origin) == (100, -6, "sweep")


@pytest.mark.parametrize("seed", range(40))
def test_the_middle_is_covered_whatever_was_swept(seed):
    rng = np.random.default_rng(seed)
    size = int(rng.integers(1, 9))
    plate, grid = rng.uniform(0, 300, size), rng.uniform(-20, 0, size)
    if seed % 4 == 1:
        grid = -plate / 10
    if seed % 4 == 2:
        grid = np.full(size, -3.0)
    hull = convex_hull(plate, grid)
    readings = Readings(plate, grid, np.full(size, 1e-3), np.arange(size))
    found = choose_operating_point(readings, hull, [], None)
    assert found.origin == "sweep"
    assert hull.contains(found.plate_voltage, found.grid_voltage)


def test_readings_that_are_left_out_cover_nothing():
    used = WIDE.plate_voltage < 200
    found = choose(WIDE, used=used)
    assert found.origin == "sweep"
    assert found.plate_voltage < 200


def test_the_screen_voltage_is_the_readings_own():
    size = len(WIDE)
    screen = np.where(np.arange(size) % 5 == 0, np.nan, 200.0)
    assert choose(replace(WIDE, screen_voltage=screen)).screen_voltage == 200.0
    assert choose(replace(WIDE, screen_voltage=np.full(size, np.nan))).screen_voltage is None


def test_without_a_usable_reading_there_is_no_point():
    assert choose_operating_point(WIDE, None, [], None) is None


@pytest.mark.parametrize("grid", [-8.0, -7.99])
def test_a_single_curve_through_the_bogey_point_covers_it(grid):
    found = choose(swept(np.linspace(20, 300, 15), [grid]))
    assert (found.plate_voltage, found.grid_voltage, found.origin) == (250, -8, "handbook")
