"""Behaviour and identity: which type curves look like, and what cannot be told apart."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.reference.families import family_library
from curvelab.reference.identity import deviation_from, rank_types
from curvelab.reference.loader import load_library
from simulator.tubes import healthy_tube

PLATE, GRID = (
    item.ravel() for item in np.meshgrid(np.linspace(30, 300, 10), np.linspace(-12, 0, 7))
)


@pytest.fixture(scope="module")
def library():
    return family_library(load_library())


def rank(library, current, plate=PLATE, grid=GRID):
    return rank_types(library.families, library.classes, plate, grid, current)


@pytest.mark.parametrize("name", ["6SN7GTB", "12AU7", "12AX7", "6SL7GT", "5687", "12BH7A"])
def test_a_family_is_ranked_as_its_own_class(library, name):
    best = rank(library, library.families[name].current(PLATE, GRID)).candidates[0]
    assert name in best.type_names
    assert best.deviation < 0.05


def test_types_that_cannot_be_told_apart_are_one_candidate_without_odds_between(library):
    current = library.families["6SN7GT"].current(PLATE, GRID)
    found = rank(library, current)
    ours = found.rank_of("6SN7GT")
    assert ours is found.candidates[0]
    assert found.rank_of("6SN7GTB") is ours
    assert found.rank_of("6J5") is ours
    assert sum("6SN7GTB" in candidate.type_names for candidate in found.candidates) == 1
    assert ours.odds > 0.5  # a triode-connected 6SJ7 is near enough to share the rest


def test_every_type_with_a_family_has_a_place_and_the_odds_are_one_together(library):
    found = rank(library, library.families["12AU7"].current(PLATE, GRID))
    assert all(found.rank_of(name) is not None for name in library.families)
    assert sum(candidate.odds for candidate in found.candidates) == pytest.approx(1.0)
    assert [c.odds for c in found.candidates] == sorted(
        (c.odds for c in found.candidates), reverse=True
    )


def test_a_type_without_a_family_has_no_place(library):
    assert rank(library, library.families["12AU7"].current(PLATE, GRID)).rank_of("ZZ99") is None


def test_the_order_of_the_readings_does_not_matter(library):
    tube = healthy_tube("12AU7", np.random.default_rng(4))
    few = slice(None, 45)  # no more than are looked at, so that none are passed over
    plate, grid = PLATE[few], GRID[few]
    order = np.random.default_rng(9).permutation(plate.size)
    here = rank(library, tube.current(plate, grid), plate, grid)
    there = rank(library, tube.current(plate, grid)[order], plate[order], grid[order])
    assert [c.type_names for c in here.candidates] == [c.type_names for c in there.candidates]
    assert here.candidates[0].odds == pytest.approx(there.candidates[0].odds)


def test_a_worn_tube_keeps_its_type(library):
    """Scale is forgiven more than shape: at 60 % of its current a 12AX7 is still one."""
    plate, grid = PLATE, GRID / 4
    current = 0.6 * library.families["12AX7"].current(plate, grid)
    assert "12AX7" in rank(library, current, plate, grid).candidates[0].type_names


def test_scale_and_shape_are_told_apart(library):
    family = library.families["6SN7GT"]
    current = family.current(PLATE, GRID)
    flowing = current > 0.1 * current.max()
    scale, shape = deviation_from([family], PLATE[flowing], GRID[flowing], 1.2 * current[flowing])
    assert scale[0] == pytest.approx(np.log(1.2), rel=1e-6)
    assert shape[0] == pytest.approx(0.0, abs=1e-6)


def test_too_few_readings_with_current_are_not_ranked(library):
    current = np.zeros(PLATE.size)
    current[:5] = 1e-3
    assert rank(library, current) is None
    assert rank(library, np.zeros(PLATE.size)) is None
