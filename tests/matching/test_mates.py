"""Behaviour: the stock ranked against one tube."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.errors import MatchingInputError
from curvelab.matching import MatchRequest, rank_mates
from curvelab.matching.records import BY_BOTH, BY_CURVE, Candidate, Measure, Section
from helpers.tubes_to_match import AT, figure, section, tube

STOCK = [
    tube("far", 11e-3), tube("near", 9.05e-3), tube("other", type_class="6SL7GT"),
    tube("bad", excluded=("reject, gas",)), tube("mid", 9.4e-3),
]  # fmt: skip


def by_figures(current=9e-3, gm=None, u95=None):
    return Candidate(
        "letter",
        "6SN7GTB",
        (Section(None, AT, figure(current, u95), None if gm is None else figure(gm, u95)),),
    )


def test_a_tube_known_by_one_figure_is_ranked_by_that_alone():
    ranking = rank_mates(by_figures(), STOCK, MatchRequest(measures=BY_BOTH))
    assert ranking.measures == (Measure.PLATE_CURRENT,)
    assert [mate.key for mate in ranking.mates] == ["near", "mid", "far"]
    assert [mate.within for mate in ranking.mates] == [True, True, False]
    assert ranking.mates[0].difference.fraction == pytest.approx(0.05 / 9.025)
    said = {one.key: one.reasons for one in ranking.excluded}
    assert said == {"bad": ("reject, gas",), "other": ("is a 6SL7GT, not a 6SN7GTB",)}


def test_figures_without_uncertainty_leave_open_whether_the_bench_can_tell():
    unknown = rank_mates(by_figures(), STOCK, MatchRequest())
    assert {mate.difference.distinguishable for mate in unknown.mates} == {None}
    known = rank_mates(by_figures(u95=0.01), STOCK, MatchRequest())
    assert [mate.difference.distinguishable for mate in known.mates] == [False, True, True]


def test_a_tube_known_by_its_curve_only():
    curve_only = Candidate("loan", "6SN7GTB", (Section(curve=section(9.3e-3).curve),), "bench")
    ranking = rank_mates(curve_only, STOCK, MatchRequest(measures=BY_BOTH))
    assert ranking.measures == BY_CURVE
    assert [mate.key for mate in ranking.mates] == ["mid", "near", "far"]


def test_a_tube_of_the_stock_is_not_its_own_mate_and_taken_ones_are_named():
    request = MatchRequest(sold=(("near",),), locked=(("mid",),))
    ranking = rank_mates(STOCK[0], STOCK, request)
    assert not ranking.mates
    said = {one.key: one.reasons for one in ranking.excluded}
    assert said["near"] == ("sold",)
    assert said["mid"] == ("in a locked set",)
    assert "far" not in said


def test_another_operating_point_is_not_compared():
    moved = tube("moved", sections=(replace(section(), at=(180.0, -5.0)),))
    ranking = rank_mates(by_figures(), [moved], MatchRequest())
    assert not ranking.mates
    (left,) = ranking.excluded
    assert left.reasons == ("was measured at another operating point or over another region",)


def test_a_tube_known_by_nothing_cannot_be_ranked():
    with pytest.raises(MatchingInputError, match="no curve"):
        rank_mates(by_figures(), STOCK, MatchRequest(measures=BY_CURVE))
