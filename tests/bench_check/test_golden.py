"""Behaviour: golden tubes against their own history, by hand-made readings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.bench_check.golden import check_golden, session_scatter
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.movers import Cause
from curvelab.bench_check.records import Standing
from curvelab.errors import BenchCheckError
from helpers.golden import golden, golden_history

LIMITS = CheckLimits()
HISTORY = golden_history()


def today(first: float = 1.0, second: float = 1.0, *, slopes: bool = True, day: int = 30):
    """Return both golden tubes, each times a factor in current and, if wanted, gm."""
    return [
        golden("G1", day, current=9e-3 * first, slope=2.6e-3 * (first if slopes else 1)),
        golden("G2", day, current=9.9e-3 * second, slope=2.73e-3 * (second if slopes else 1)),
    ]


def test_a_steady_day_counts_in_the_history():
    found = check_golden(today(), HISTORY, LIMITS)
    assert found.cause is Cause.NOTHING
    assert [reading.standing for reading in found.readings] == [Standing.COUNTS] * 2
    assert found.quantities[0].firm
    assert found.quantities[0].sigma == pytest.approx(0.004, rel=0.2)


def test_a_shift_of_all_is_the_bench_and_does_not_enter_the_history():
    found = check_golden(today(1.03, 1.03), HISTORY, LIMITS)
    assert found.cause is Cause.BENCH
    assert [reading.standing for reading in found.readings] == [Standing.SET_ASIDE] * 2
    assert any("the bench moved, by +3" in sentence for sentence in found.sentences)
    assert any("Control chart" in sentence for sentence in found.sentences)


def test_one_tube_that_moved_alone_is_that_tube():
    found = check_golden(today(0.95, 1.0), HISTORY, LIMITS)
    assert (found.cause, found.tubes) == (Cause.TUBES, ("G1",))
    assert [r.standing for r in found.readings] == [Standing.SET_ASIDE, Standing.COUNTS]


def test_a_single_golden_tube_cannot_tell_and_says_so():
    found = check_golden(today(0.95)[:1], HISTORY, LIMITS)
    assert found.cause is Cause.CANNOT_TELL
    assert "a shifted bench and an aged tube look the same" in " ".join(found.sentences)


def test_a_single_golden_tube_says_so_even_when_nothing_moved():
    found = check_golden(today()[:1], HISTORY, LIMITS)
    assert found.cause is Cause.NOTHING
    assert "look the same" in " ".join(found.sentences)


def test_current_and_slope_that_disagree_are_both_told():
    found = check_golden(today(1.03, 1.03, slopes=False), HISTORY, LIMITS)
    assert found.moved("plate_current").cause is Cause.BENCH
    assert found.moved("transconductance").cause is Cause.NOTHING
    assert found.cause is Cause.BENCH


def test_the_first_day_begins_a_history_and_says_nothing_of_the_bench():
    found = check_golden(today(), (), LIMITS)
    assert found.cause is None
    assert [reading.standing for reading in found.readings] == [Standing.COUNTS] * 2
    assert "begin one" in found.sentences[0]


def test_a_short_history_is_judged_by_the_houses_scatter():
    short = golden_history(days=3)
    scatter, firm = session_scatter(short, "plate_current", LIMITS)
    assert (scatter, firm) == (0.01, False)
    # 1 % times root of 1 + 1/3: 2.5 % is within three sigma, and of two tubes alike too.
    assert check_golden(today(1.02, 1.02), short, LIMITS).cause is Cause.NOTHING
    assert check_golden(today(1.02, 1.02), HISTORY, LIMITS).cause is Cause.BENCH


@pytest.mark.parametrize(
    "passed_over",
    [
        {"bench": "front room"},
        {"date": "2025-01-01"},  # not older than today's
        {"grid_voltage": -6.0},
        {"standing": Standing.SET_ASIDE},
    ],
)
def test_what_does_not_belong_is_no_history(passed_over):
    other = tuple(replace(reading, **passed_over) for reading in HISTORY)
    assert check_golden(today(), other, LIMITS).cause is None


def test_a_history_can_start_anew():
    # The tube aged by 5 % and a person decided to go on with it from there.
    anew = replace(golden("G1", 26, current=0.95 * 9e-3), standing=Standing.STARTS_ANEW)
    aged = [golden("G1", 30, current=0.951 * 9e-3), today()[1]]
    assert check_golden(aged, HISTORY, LIMITS).cause is Cause.TUBES
    after = check_golden(aged, (*HISTORY, anew), LIMITS)
    assert after.moved("plate_current").cause is Cause.NOTHING
    assert after.quantities[0].charts[0].sessions == 1


def test_a_check_repeated_with_the_same_files_is_not_its_own_history():
    again = replace(today()[0], date="2024-01-20")
    found = check_golden(today(), (again,), LIMITS)
    assert found.cause is None


@pytest.mark.parametrize(
    "readings",
    [
        [],
        [golden("G1", 30), golden("G1", 30)],
        [golden("G1", 30), golden("G2", 30, bench="front room")],
        [golden(f"G{number}", 30) for number in range(11)],
    ],
)
def test_senseless_checks_are_refused(readings):
    with pytest.raises(BenchCheckError):
        check_golden(readings, HISTORY, LIMITS)


def test_a_date_that_is_none_is_refused():
    with pytest.raises(BenchCheckError, match="ISO 8601"):
        replace(golden(), date="yesterday")
