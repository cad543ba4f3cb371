"""Closed form: spreads, and what the bench can tell apart (ISO 13528:2015, 9.7)."""

from __future__ import annotations

import pytest

from curvelab.assessment.records import OperatingPoint
from curvelab.sheets.set_comparison import compare_set, said_of_set
from helpers.papers import constants, paper_set, paper_tube, result


def pair(one: float, other: float, *, spread: float | None, **fields: object):
    """Compare two tubes by their plate currents [mA]; the same transconductance."""
    tubes = [
        paper_tube("A", result(constants(one, spread=spread))),
        paper_tube("B", result(constants(other, spread=spread))),
    ]
    return compare_set(paper_set("S", "A", "B", **fields), tubes)


def row(comparison, name):
    return next(item for item in comparison.rows if item.name == name)


def test_the_spread_is_of_the_mean():
    comparison = pair(9.0, 11.0, spread=0.01)
    assert row(comparison, "plate_current").spread == pytest.approx(0.2)
    assert row(comparison, "transconductance").spread == 0
    assert comparison.spread_percent == pytest.approx(20.0)


@pytest.mark.parametrize(("other", "apart"), [(10.13, False), (10.16, True)])
def test_told_apart_is_beyond_both_uncertainties_together(other, apart):
    """U95 of 1 % each: 0.1 mA and 0.1 mA make 0.142 mA."""
    comparison = pair(10.0, other, spread=0.01)
    assert row(comparison, "plate_current").told_apart is apart
    assert comparison.told_apart is apart
    said = said_of_set(comparison)
    assert said.startswith("Yes, by plate current:" if apart else "No:")


def test_what_the_matching_said_goes_before_what_is_worked_out():
    comparison = pair(9.0, 11.0, spread=0.01, spread_percent=3.25, distinguishable=False)
    assert (comparison.spread_percent, comparison.told_apart) == (3.25, False)


def test_without_uncertainty_nothing_is_said_to_be_the_same():
    comparison = pair(10.0, 10.0, spread=None)
    assert comparison.told_apart is None
    assert "a value or its uncertainty is missing" in said_of_set(comparison)


def test_different_points_are_not_compared():
    elsewhere = OperatingPoint(90.0, 0.0, None, "handbook")
    tubes = [paper_tube("A"), paper_tube("B", result(point=elsewhere))]
    comparison = compare_set(paper_set("S", "A", "B"), tubes)
    assert (comparison.point, comparison.rows, comparison.spread_percent) == (None, (), None)
    assert "not measured at one and the same point" in said_of_set(comparison)


def test_a_tube_that_is_not_there_is_named():
    comparison = compare_set(paper_set("S", "A", "Z"), [paper_tube("A")])
    assert comparison.tubes[1] is None
    assert said_of_set(comparison) == "Not known: no sweep of Z is at hand."


def test_a_missing_value_gives_no_spread():
    tubes = [paper_tube("A"), paper_tube("B", result(constants(9.0, None)))]
    comparison = compare_set(paper_set("S", "A", "B"), tubes)
    assert row(comparison, "transconductance").spread is None
    assert comparison.spread_percent is None
    assert comparison.told_apart is None


def test_sections_are_compared_each_with_its_own():
    tubes = [
        paper_tube(name, *(result(constants(ma), section=s) for s, ma in sections))
        for name, sections in (
            ("A", (("1", 9.0), ("2", 8.0))),
            ("B", (("1", 9.0), ("2", 8.8))),
        )
    ]
    comparison = compare_set(paper_set("S", "A", "B"), tubes)
    spreads = {r.section: r.spread for r in comparison.rows if r.name == "plate_current"}
    assert spreads == {"1": 0, "2": pytest.approx(0.8 / 8.4)}
    assert "plate current of section 2" in said_of_set(comparison)


def test_a_tube_of_the_same_serial_in_another_lot_is_another_tube():
    tubes = [paper_tube("A"), paper_tube("B", lot="autumn")]
    assert compare_set(paper_set("S", "A", "B"), tubes).tubes[1] is None
