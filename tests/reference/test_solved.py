"""Kept solutions (identity): what solving gives, and never served for another figure."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from curvelab.paths import resource_folder
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.workbench.type_library import SOLVED_FILE
from helpers.solve_families import solved_anew


@pytest.fixture(scope="module")
def kept() -> dict[str, tuple[float, ...]]:
    text = (resource_folder() / SOLVED_FILE).read_text(encoding="utf-8")
    return {key: tuple(values) for key, values in json.loads(text).items()}


def test_what_is_shipped_is_what_the_types_give(kept):
    """Where this fails: python tests/helpers/solve_families.py."""
    anew = solved_anew()
    assert set(anew) == set(kept)
    assert all(len(values) == len(kept[key]) for key, values in anew.items())


def test_families_of_kept_solutions_are_those_of_new_ones(kept):
    # Not number by number: a law that does not suit a type ends somewhere in a flat valley,
    # and where is the machine's affair. It is not the one that is chosen.
    shipped = load_library()
    old, new = family_library(shipped, dict(kept)), family_library(shipped)
    assert old.classes == new.classes
    for name, family in old.families.items():
        points = [point for point in shipped.types[name].points if point.plate_current]
        at = (
            np.array([point.plate_voltage for point in points]),
            np.array([point.grid_voltage for point in points]),
        )
        assert family.law == new.families[name].law
        assert family.current(*at) == pytest.approx(new.families[name].current(*at), rel=2e-3)


def test_the_shipped_library_has_nothing_left_to_solve(kept):
    before = dict(kept)
    family_library(load_library(), before)
    assert before == kept


def test_a_changed_figure_is_solved_anew_and_alone(kept):
    shipped = load_library()
    name = "6J5"
    point = shipped.types[name].points[0]
    more = replace(point.plate_current, value=1.1 * point.plate_current.value)
    changed = replace(
        shipped.types[name],
        points=(replace(point, plate_current=more), *shipped.types[name].points[1:]),
    )
    library = replace(shipped, types={**shipped.types, name: changed})
    before = dict(kept)
    found = family_library(library, before).families[name]
    assert 0 < len(before) - len(kept) <= 3  # one for each law
    alone = family_library(library).families[name]
    at = np.array([point.plate_voltage]), np.array([point.grid_voltage])
    assert found.current(*at) == pytest.approx(alone.current(*at), rel=1e-6)
    old = family_library(shipped, dict(kept)).families[name]
    assert found.current(*at)[0] > 1.05 * old.current(*at)[0]
