"""Behaviour and round trip: type files under another name, and fit to travel."""

from __future__ import annotations

import itertools

import pytest

from curvelab.errors import ReferenceDataError
from curvelab.reference.loader import file_of, load_library, load_sources
from curvelab.reference.records import Status
from curvelab.reference.typecopy import near_copy, self_contained
from helpers.type_files import parse


def shipped(name: str) -> str:
    return self_contained(file_of(name).read_text(encoding="utf-8"), load_sources(), {})


@pytest.mark.parametrize("name", load_library().names)
def test_every_shipped_file_can_travel_alone(name):
    found, kept = parse(shipped(name)), load_library().types[name]
    assert (found.name, found.aliases, found.notes) == (kept.name, kept.aliases, kept.notes)
    assert found.points == kept.points
    assert found.pentode_points == kept.pentode_points
    assert found.ratings == kept.ratings
    assert found.capacitances == kept.capacitances


@pytest.mark.parametrize("name", load_library().names)
def test_nothing_in_a_copy_is_verified(name):
    copy, kept = parse(near_copy(shipped(name), name, 'X "1"\\')), load_library().types[name]
    assert (copy.name, copy.aliases, copy.near) == ('X "1"\\', (), (name,))
    figures = itertools.chain.from_iterable(rating.limits.values() for rating in copy.ratings)
    assert all(figure.status is Status.FROM_MEMORY for figure in figures)
    assert all(point.status is Status.FROM_MEMORY for point in copy.points)
    # The figures themselves and where they come from are the near type's.
    assert [r.limits.keys() for r in copy.ratings] == [r.limits.keys() for r in kept.ratings]
    assert [p.source for p in copy.points] == [p.source for p in kept.points]


def test_what_travelled_once_travels_again_unchanged():
    once = shipped("6922")
    own = {"S5": {}, "S7": {}, "M13": {}}
    assert self_contained(once, load_sources(), own) == once


def test_a_file_without_aliases_gets_them():
    copy = near_copy('name = "A"\nkind = "triode"\ncathode = "indirect"\n', "A", "B")
    assert parse(copy).near == ("A",)


def test_a_file_that_does_not_name_its_type_first_is_refused():
    with pytest.raises(ReferenceDataError, match="does not name its type"):
        near_copy('[socket]\nname = "A"\n', "A", "B")
