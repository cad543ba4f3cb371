"""Behaviour: who takes part in a matching, what a set says, what is left over."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.errors import MatchingInputError
from curvelab.matching import MatchRequest, match_sections, match_tubes, what_if
from curvelab.matching.records import BY_BOTH, BY_CURVE, Candidate, Measure, Section
from helpers.tubes_to_match import lot, section, tube

REQUEST = MatchRequest(tolerance=0.05)


def sets_of(result):
    return [{*one.tubes, *one.spare} for one in result.sets]


def test_more_sets_go_before_tighter_ones():
    # The tightest pair, b with c, would leave a and d alone.
    tubes = [tube("a", 9.0e-3), tube("b", 9.3e-3), tube("c", 9.31e-3), tube("d", 9.6e-3)]
    assert sets_of(match_tubes(tubes, REQUEST)) == [{"c", "d"}, {"a", "b"}]


def test_a_pair_closer_than_the_bench_can_tell_is_said_to_be_so():
    tubes = [tube("a", 9.00e-3), tube("b", 9.02e-3), tube("c", 12.0e-3), tube("d", 12.4e-3)]
    close, far = match_tubes(tubes, REQUEST).sets
    assert (close.tubes, close.spread.distinguishable) == (("a", "b"), False)
    assert (far.tubes, far.spread.distinguishable) == (("c", "d"), True)
    assert close.spread.u95 == pytest.approx(0.005 * 2**0.5)


def test_a_spare_matches_both_and_the_closest_two_are_the_pair():
    tubes = [tube("a", 9.0e-3), tube("b", 9.2e-3), tube("c", 9.25e-3)]
    (found,) = match_tubes(tubes, MatchRequest(spare=1, measures=(Measure.PLATE_CURRENT,))).sets
    assert (set(found.tubes), found.spare) == ({"b", "c"}, ("a",))
    assert found.spread.fraction == pytest.approx(0.25 / 9.125)


def test_hard_exclusions_are_named_with_all_their_reasons():
    weak = tube("weak", excluded=("reject, weak-emission: short by 40 %",))
    empty = Candidate("none", "6SN7GTB", ())
    partial = tube(
        "part",
        sections=(
            replace(
                section(),
                transconductance=None,
                missing={Measure.TRANSCONDUCTANCE: "one grid step only"},
            ),
        ),
    )
    uneven = Candidate(
        "uneven", "6SN7GTB", (section(9e-3, name="1"), section(12e-3, name="2")), "bench"
    )
    result = match_tubes(
        [tube("a"), weak, tube("b"), empty, partial, uneven], replace(REQUEST, section_balance=0.1)
    )
    assert sets_of(result) == [{"a", "b"}]
    said = {one.key: one.reasons for one in result.excluded}
    assert said["weak"] == ("reject, weak-emission: short by 40 %",)
    assert said["none"] == ("has no measurement",)
    assert said["part"] == ("no transconductance (one grid step only)",)
    assert said["uneven"] == ("its sections' plate currents differ by 28.6 %, more than 10 %",)


def test_types_are_never_mixed():
    tubes = [tube("a"), tube("b", type_class="6SL7GT"), tube("c", type_class="6SL7GT")]
    result = match_tubes(tubes, REQUEST)
    assert sets_of(result) == [{"b", "c"}]
    (alone,) = result.left_over
    assert (alone.key, alone.nearest, alone.nearest_free) == ("a", None, None)


def test_locked_and_sold_sets_are_left_alone():
    tubes = [tube(key, 9e-3 + 1e-5 * n) for n, key in enumerate("abcdefg")]
    request = replace(REQUEST, locked=(("a", "g"),), sold=(("c", "d"),))
    result = match_tubes(tubes, request)
    assert sets_of(result) == [{"a", "g"}, {"e", "f"}]
    assert [one.locked for one in result.sets] == [True, False]
    assert result.sets[0].spread.fraction == pytest.approx(6e-5 / 9.03e-3)
    assert [(one.key, one.reasons) for one in result.excluded] == [
        ("c", ("sold",)), ("d", ("sold",)),
    ]  # fmt: skip
    assert result.most_sets == 2
    assert [one.key for one in result.left_over] == ["b"]


def test_a_locked_set_that_cannot_be_compared_has_no_spread():
    tubes = [tube("a"), tube("b", type_class="6SL7GT"), Candidate("c", "6SN7GTB", ()), tube("d")]
    for locked in (("a", "b"), ("c", "d")):
        (kept,) = match_tubes(tubes, replace(REQUEST, locked=(locked,))).sets
        assert (kept.tubes, kept.spread, kept.locked) == (locked, None, True)


@pytest.mark.parametrize(
    ("tubes", "fields"),
    [
        ([tube("a"), tube("a")], {}),
        ([tube("a")], {"locked": (("a", "x"),)}),
        ([tube("a"), tube("b")], {"locked": (("a", "b"), ("b",))}),
        ([tube("a"), tube("b")], {"locked": (("a",),), "sold": (("a", "b"),)}),
    ],
    ids=["one name twice", "not there", "in two sets", "locked and sold"],
)
def test_sets_that_make_no_sense_are_refused(tubes, fields):
    with pytest.raises(MatchingInputError):
        match_tubes(tubes, replace(REQUEST, **fields))


def test_sets_across_two_lots_hold_tubes_of_both():
    old = [replace(one, key=f"old-{one.key}", lot="old") for one in lot(10, 1, 0.03)]
    new = [replace(one, key=f"new-{one.key}", lot="new") for one in lot(7, 2, 0.03)]
    other = [tube("else", lot="other")]
    for size in (2, 3):
        request = MatchRequest(size=size, tolerance=0.2, across=("old", "new"))
        result = match_tubes([*old, *new, *other], request)
        assert result.proven
        assert len(result.sets) == {2: 7, 3: 5}[size]
        for members in sets_of(result):
            assert {key[:3] for key in members} == {"old", "new"}
        assert [one.key for one in result.excluded] == ["else"]


def test_what_is_left_over_names_its_nearest_partners():
    tubes = [tube("a", 9.0e-3), tube("b", 9.1e-3), tube("c", 9.3e-3), tube("d", 12.0e-3)]
    c, d = match_tubes(tubes, REQUEST).left_over
    assert (c.key, c.nearest.key, c.nearest_free.key) == ("c", "b", "d")
    assert c.nearest.difference.fraction == pytest.approx(0.2 / 9.2)
    assert (d.nearest.key, d.nearest_free.key) == ("c", "c")


def test_what_if_counts_at_several_tolerances_in_one_call():
    tubes = lot(41, seed=8)
    counts = what_if(tubes, MatchRequest(measures=BY_BOTH))
    assert [one.tolerance for one in counts] == [0.02, 0.05, 0.10]
    assert all(one.proven for one in counts)
    assert counts[0].sets < counts[1].sets <= counts[2].sets <= 20
    for one in counts:
        request = MatchRequest(measures=BY_BOTH, tolerance=one.tolerance)
        assert len(match_tubes(tubes, request).sets) == one.sets


def test_sections_within_a_dual_tube():
    def dual(key, second):
        return Candidate(key, "6SN7GTB", (section(9e-3, name="1"), section(second, name="2")))

    single = tube("single")
    result = match_sections([dual("even", 9.1e-3), dual("odd", 10e-3), single], REQUEST)
    assert [one.tubes for one in result.sets] == [("even",)]
    assert result.sets[0].spread.fraction == pytest.approx(0.1 / 9.05)
    (odd,) = result.left_over
    assert (odd.key, odd.nearest.difference.fraction) == ("odd", pytest.approx(1 / 9.5))
    assert [(one.key, one.reasons) for one in result.excluded] == [
        ("single", ("has not two sections",))
    ]


def test_an_empty_lot_has_no_sets():
    result = match_tubes([], REQUEST)
    assert (result.sets, result.left_over, result.proven, result.most_sets) == ((), (), True, 0)


def test_the_order_of_the_lot_changes_nothing():
    tubes = lot(30, seed=5)
    one, other = match_tubes(tubes, REQUEST), match_tubes(tubes[::-1], REQUEST)
    assert {frozenset(s) for s in sets_of(one)} == {frozenset(s) for s in sets_of(other)}


def test_stopped_work_is_still_a_matching_and_says_its_gap():
    tubes = lot(40, seed=4)
    request = MatchRequest(size=3, tolerance=0.08, measures=BY_CURVE)
    best = match_tubes(tubes, request)
    told = []
    result = match_tubes(tubes, request, progress=lambda *a: told.append(a), should_stop=bool)
    assert result.sets == best.sets  # bool() is False: nothing stops it
    assert told[-1][2] == "matched"
    stopped = match_tubes(tubes, request, should_stop=lambda: True)
    assert stopped.sets
    assert not stopped.proven
    assert 0 < stopped.gap <= 1
    assert len(stopped.sets) <= len(best.sets) <= stopped.most_sets
    keys = [key for one in stopped.sets for key in one.tubes]
    assert len(keys) == len(set(keys))


def test_out_of_time_the_gap_is_an_honest_bound():
    tubes = lot(40, seed=6)
    request = MatchRequest(size=4, tolerance=0.10)
    best = match_tubes(tubes, request)
    assert best.proven
    hurried = match_tubes(tubes, replace(request, time_limit=1e-3))
    if hurried.proven:
        assert hurried.sets == best.sets
    else:
        assert 0 < hurried.gap
        if len(hurried.sets) == hurried.most_sets == len(best.sets):
            spread = sum(one.spread.of_tolerance for one in hurried.sets)
            least = sum(one.spread.of_tolerance for one in best.sets)
            assert spread * (1 - hurried.gap) <= least + 1e-6


def test_a_tube_without_a_figure_is_not_taken_for_zero():
    broken = tube("z", sections=(Section(None, (250.0, -8.0), None, None),))
    result = match_tubes([tube("a"), broken], REQUEST)
    assert not result.sets
    assert [one.key for one in result.excluded] == ["z"]
