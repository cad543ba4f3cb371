"""Behaviour: the working region that tubes have in common."""

from __future__ import annotations

import numpy as np

from curvelab.matching.region import choose_region
from helpers.assessments import AnalyticFamily

AT = (250.0, -2.0)


def swept(top: float, scale: float = 1.0, bottom: float = 0.0):
    """Return the current of a tube swept between plate voltages and down to -4 V."""

    def current(plate_voltage, grid_voltage):
        plate = np.asarray(plate_voltage)
        inside = (bottom <= plate) & (plate <= top) & (np.asarray(grid_voltage) >= -4.0)
        found = scale * AnalyticFamily().current(plate_voltage, grid_voltage)
        return np.where(inside, found, np.nan)

    return current


def test_the_region_lies_around_the_operating_point_within_ratings_and_sweeps():
    families = [swept(400), swept(260, 1.1), swept(400, 0.9)]
    region = choose_region(families, AT, {"plate_voltage": 330.0, "plate_dissipation": 0.5})
    plate, grid = region.plate_voltage, region.grid_voltage
    assert region.covered.all()
    assert plate.size >= 12
    assert plate.max() <= 260
    assert grid.max() <= 0
    current = swept(400)(plate, grid)
    at_point = float(swept(400)(*AT))
    assert (plate * current <= 0.5).all()
    assert (current >= 0.1 * at_point).all()
    assert (current <= 3 * at_point).all()
    assert str(plate.size) in region.words
    assert "house rule" in region.words


def test_a_tube_swept_too_little_is_set_aside_and_does_not_shrink_the_region():
    wide = choose_region([swept(400), swept(400)], AT, {})
    with_one = choose_region([swept(400), swept(130), swept(400)], AT, {})
    assert with_one.covered.tolist() == [True, False, True]
    assert np.array_equal(with_one.plate_voltage, wide.plate_voltage)


def test_where_there_is_no_region_the_words_say_why():
    apart = choose_region([swept(255, bottom=245), swept(140)], AT, {})
    assert not apart.plate_voltage.size
    assert not apart.covered.any()
    assert "points around the operating point only" in apart.words
    dead = choose_region([swept(400, 0.0)], AT, {})
    assert "carries enough current" in dead.words


def test_around_a_point_without_bias_only_the_plate_voltage_varies():
    region = choose_region([swept(400)], (100.0, 0.0), {})
    assert not region.plate_voltage.size  # ten points on a line are no region
    assert "share 10 points" in region.words
