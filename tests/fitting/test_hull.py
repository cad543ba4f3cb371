"""Closed form: what a known set of readings covers."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.hull import convex_hull

_PLATE, _GRID = (item.ravel() for item in np.meshgrid(np.linspace(0, 300, 7), [-8.0, -4.0, 0.0]))


def _inside(hull, plate, grid):
    return bool(hull.contains(np.array(plate), np.array(grid)))


def test_a_rectangle_covers_its_inside_and_its_edge_only():
    hull = convex_hull(_PLATE, _GRID)
    assert hull.is_plane
    assert len(hull.corners) == 4
    assert _inside(hull, 150, -4)
    assert _inside(hull, 300, -8)
    assert not _inside(hull, 310, -4)
    assert not _inside(hull, 150, -8.5)


def test_a_cut_corner_is_not_covered():
    kept = _PLATE * (_GRID + 8.0) < 1300.0  # as a dissipation limit cuts a sweep
    hull = convex_hull(_PLATE[kept], _GRID[kept])
    assert not _inside(hull, 290, -1)
    assert _inside(hull, 100, -1)


def test_order_of_the_readings_does_not_matter():
    order = np.random.default_rng(3).permutation(_PLATE.size)
    one, other = convex_hull(_PLATE, _GRID), convex_hull(_PLATE[order], _GRID[order])
    np.testing.assert_array_equal(one.corners, other.corners)


def test_a_single_grid_step_covers_its_own_line():
    hull = convex_hull(np.linspace(50, 250, 9), np.full(9, -6.0))
    assert not hull.is_plane
    assert _inside(hull, 100, -6)
    assert not _inside(hull, 100, -5)
    assert not _inside(hull, 300, -6)
