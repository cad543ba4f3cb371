"""Behaviour and identity: lots that are unlike the usual box, and the whole way by trying all."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curvelab.errors import MatchingInputError
from curvelab.matching import MatchRequest, match_tubes, what_if
from curvelab.matching.differences import differences
from curvelab.matching.improving import improved
from curvelab.matching.lot import Lot
from curvelab.matching.packing import pack
from curvelab.matching.patience import Patience
from curvelab.matching.records import BY_BOTH, BY_CURVE, BY_POINT, Measure
from helpers.tubes_to_match import best_by_trying, lot, section, tube

EVERY_WAY = (BY_POINT, BY_CURVE, BY_BOTH, (Measure.PLATE_CURRENT,))


def total(result):
    return sum(one.spread.of_tolerance for one in result.sets if not one.locked)


@st.composite
def small_lots(draw):
    """Draw up to nine tubes whose figures often are equal, and what is asked of them."""
    count = draw(st.integers(1, 9))
    steps = st.lists(st.integers(0, 6), min_size=count, max_size=count)
    excluded = draw(st.sets(st.integers(0, count - 1), max_size=2))
    tubes = [
        tube(f"{k}", 9e-3 * 1.02**i, 2.6e-3 * 1.02**g, excluded=("gassy",) * (k in excluded))
        for k, (i, g) in enumerate(zip(draw(steps), draw(steps), strict=True))
    ]
    size, spare = draw(st.sampled_from([(2, 0), (2, 1), (3, 0), (2, 2), (4, 0), (3, 1)]))
    locked = (("0", f"{count - 1}"),) if count > 1 and draw(st.booleans()) else ()
    tolerance = draw(st.sampled_from([0.01, 0.03, 0.05, 0.5]))
    measures = draw(st.sampled_from(EVERY_WAY))
    request = MatchRequest(size, spare, tolerance, measures=measures, locked=locked)
    return tubes, request


@settings(max_examples=120, deadline=None)
@given(small_lots())
def test_small_lots_with_spares_locked_sets_and_exclusions_by_trying_all(drawn):
    tubes, request = drawn
    held = {key for keys in request.locked for key in keys}
    usable = [one for one in tubes if not one.excluded and one.key not in held]
    known = differences(usable, usable, request)
    size = request.size + request.spare
    count, least = best_by_trying(known.of_tolerance, known.within, size)
    result = match_tubes(tubes, request)
    assert result.proven
    assert len(result.sets) == result.most_sets == count + len(request.locked)
    assert total(result) == pytest.approx(least, abs=1e-6)
    taken = [key for one in result.sets for key in (*one.tubes, *one.spare)]
    assert len(taken) == len(set(taken))
    assert [set(one.tubes) for one in result.sets if one.locked] == [set(s) for s in request.locked]
    assert {one.key for one in result.excluded} == {
        one.key for one in tubes if one.excluded and one.key not in held
    }
    (counted,) = what_if(tubes, request, tolerances=(request.tolerance,))
    assert (counted.sets, counted.proven) == (len(result.sets), True)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 0.0, -1e-3])
def test_a_figure_that_is_no_current_takes_no_part(value):
    bad = tube("bad", sections=(replace(section(), plate_current=section(value).plate_current),))
    bent = replace(section(), curve=section(value).curve)
    no_curve = tube("bent", sections=(bent,))
    result = match_tubes([tube("a"), tube("b"), bad, no_curve], MatchRequest(measures=BY_BOTH))
    assert [set(one.tubes) for one in result.sets] == [{"a", "b"}]
    assert {one.key: one.reasons for one in result.excluded} == {
        "bad": ("no plate current",),
        "bent": ("no curve",),
    }


def test_without_uncertainty_only_equal_tubes_are_not_told_apart():
    def exact(key, current):
        return tube(key, sections=(section(current, u95=0.0),))

    tubes = [exact("a", 9e-3), exact("b", 9e-3), exact("c", 9.3e-3), exact("d", 9.3001e-3)]
    same, apart = match_tubes(tubes, MatchRequest()).sets
    assert (set(same.tubes), same.spread.distinguishable) == ({"a", "b"}, False)
    assert (set(apart.tubes), apart.spread.distinguishable) == ({"c", "d"}, True)
    assert (same.spread.u95, same.spread.fraction) == (0.0, 0.0)


@pytest.mark.parametrize("measures", EVERY_WAY)
@pytest.mark.parametrize("fields", [{}, {"spare": 1}, {"size": 4}])
def test_equal_tubes_make_as_many_sets_as_there_may_be(measures, fields):
    request = MatchRequest(measures=measures, **fields)
    result = match_tubes([tube(f"{k}") for k in range(45)], request)
    assert len(result.sets) == result.most_sets == 45 // (request.size + request.spare)
    assert (result.proven, total(result)) == (True, 0.0)
    assert all(one.spread.distinguishable is False for one in result.sets)


@pytest.mark.parametrize("measures", EVERY_WAY)
def test_one_tube_alone_is_left_over(measures):
    result = match_tubes([tube("a")], MatchRequest(measures=measures))
    assert (result.sets, result.proven, result.most_sets) == ((), True, 0)
    assert [(one.key, one.nearest) for one in result.left_over] == [("a", None)]


def test_no_tolerance_is_refused_and_next_to_none_takes_equal_tubes():
    with pytest.raises(MatchingInputError):
        MatchRequest(tolerance=0.0)
    tubes = [tube("a"), tube("b", 9.0000001e-3), tube("c"), tube("d", 9.1e-3)]
    result = match_tubes(tubes, MatchRequest(tolerance=1e-9))
    assert [set(one.tubes) for one in result.sets] == [{"a", "c"}]


@pytest.mark.parametrize("measures", EVERY_WAY)
@pytest.mark.parametrize("tolerance", [0.02, 0.05, 0.1])
def test_a_difference_of_just_the_tolerance_is_within_it(measures, tolerance):
    # The fraction of the mean is exactly the tolerance; the trade says 5 % and means up to 5 %.
    step = (1 + tolerance / 2) / (1 - tolerance / 2)
    tubes = [tube(f"{k}", 9e-3 * step**k) for k in range(8)]
    result = match_tubes(tubes, MatchRequest(tolerance=tolerance, measures=measures))
    assert [set(one.tubes) for one in sorted(result.sets, key=lambda one: min(one.tubes))] == [
        {"0", "1"}, {"2", "3"}, {"4", "5"}, {"6", "7"},
    ]  # fmt: skip
    assert result.proven
    above = [tube(f"{k}", 9e-3 * (step * (1 + 1e-9)) ** k) for k in range(8)]
    assert not match_tubes(above, MatchRequest(tolerance=tolerance, measures=measures)).sets


def test_four_hundred_tubes_that_all_match_are_paired_and_proven():
    tubes = lot(400, seed=9)
    result = match_tubes(tubes, MatchRequest(tolerance=0.9))
    assert (len(result.sets), result.most_sets, result.proven) == (200, 200, True)
    spread = [one.spread.of_tolerance for one in result.sets]
    assert spread == sorted(spread)
    # Two pairs cannot be made tighter by exchanging their partners.
    known = differences(tubes, tubes, MatchRequest(tolerance=0.9))
    place = {one.key: k for k, one in enumerate(tubes)}
    pairs = np.array([[place[key] for key in one.tubes] for one in result.sets])
    a, b = pairs.T
    own = known.of_tolerance[a, b]
    crossed = known.of_tolerance[np.ix_(a, a)] + known.of_tolerance[np.ix_(b, b)]
    assert (crossed + 2 * np.eye(200) >= own[:, None] + own - 1e-9).all()


@pytest.mark.parametrize("fields", [{"size": 3, "tolerance": 0.08}, {"size": 4}, {"spare": 2}])
def test_stopped_at_any_time_sets_are_whole_and_bounds_hold(fields):
    tubes = lot(36, seed=11)
    request = MatchRequest(**fields)
    best = match_tubes(tubes, request)
    assert best.proven
    for questions in (0, 1, 2, 5, 10, 20, 40):
        left = [False] * questions
        found = match_tubes(tubes, request, should_stop=lambda left=left: not left or left.pop())
        keys = [key for one in found.sets for key in (*one.tubes, *one.spare)]
        assert len(keys) == len(set(keys))
        assert all(one.spread.of_tolerance <= 1 + 1e-9 for one in found.sets)
        assert len(found.sets) <= len(best.sets) <= found.most_sets
        if found.proven:
            assert total(found) == pytest.approx(total(best), abs=1e-6)
        elif len(found.sets) == found.most_sets:
            assert total(found) * (1 - found.gap) <= total(best) + 1e-6


def test_of_many_tubes_as_many_sets_are_found_as_there_may_be():
    tubes = lot(160, seed=14)
    result = match_tubes(tubes, MatchRequest(spare=1, tolerance=0.05))
    assert len(result.sets) == result.most_sets
    assert result.gap < 0.02
    assert all(one.spread.of_tolerance <= 1 + 1e-9 for one in result.sets)


def test_sets_put_together_anew_are_more_or_tighter():
    tubes = lot(40, seed=12)
    known = differences(tubes, tubes, MatchRequest(tolerance=0.08))
    linked = Lot(np.where(known.within, known.of_tolerance, np.inf), 4)
    start = next(
        np.array([some]) for some in combinations(range(40), 4)
        if known.within[np.ix_(some, some)].all()
    )  # fmt: skip
    patience = Patience(lambda: False, 20.0)
    better = improved(linked, start, lambda few: pack(few, patience).sets, patience)
    assert len(np.unique(better)) == better.size
    assert np.isfinite(linked.spread(better)).all()
    assert len(start) < len(better) <= len(pack(linked, patience).sets)
    assert improved(linked, start, lambda few: few, Patience(lambda: True, 20.0)) is start
