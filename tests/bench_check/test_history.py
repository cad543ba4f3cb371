"""Identity, behaviour and refusal: what a history of golden tubes says of a bench."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.bench_check.history import judge_history
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.records import Standing
from curvelab.bench_check.repeatability import repeatability
from curvelab.errors import BenchCheckError
from helpers.golden import golden

LIMITS = CheckLimits()


def days(tube: str, *groups: tuple[float, ...], bench: str = "back room"):
    """Return readings of a tube, a group a day, their currents times 9 mA."""
    return [
        replace(
            golden(tube, day, current=9e-3 * value, bench=bench),
            date=f"2031-03-{day + 1:02d}T{9 + turn:02d}:00",
            sha256=f"{tube}-{bench}-{day}-{turn}",
        )
        for day, group in enumerate(groups)
        for turn, value in enumerate(group)
    ]


def rows(history):
    return {row.tube: row for row in history.repeats if row.quantity == "plate_current"}


def test_the_days_are_the_groups_of_the_analysis_of_variance():
    groups = ((1.0, 1.004), (1.01, 1.012), (0.995, 0.999))
    found = rows(judge_history(days("G1", *groups), "back room", None, LIMITS))["G1"].found
    wanted = repeatability([np.log(group) for group in groups])
    assert found.within == pytest.approx(wanted.within)
    assert found.between == pytest.approx(wanted.between)
    assert (found.within_freedom, found.between_freedom) == (3, 2)


def test_without_two_readings_of_a_day_or_two_days_there_is_no_figure():
    history = judge_history(
        [*days("G1", (1.0,), (1.01,)), *days("G2", (1.0, 1.01))], "back room", None, LIMITS
    )
    found = rows(history)
    assert (found["G1"].found, found["G2"].found) == (None, None)
    assert "twice on one day" in found["G1"].why_not
    assert "one day only" in found["G2"].why_not


def test_what_a_check_set_aside_and_what_came_before_a_new_start_do_not_count():
    readings = days("G1", (1.5,), (1.0, 1.001), (1.002, 1.003), (2.0,))
    readings[1] = replace(readings[1], standing=Standing.STARTS_ANEW)
    readings[-1] = replace(readings[-1], standing=Standing.SET_ASIDE)
    row = rows(judge_history(readings, "back room", None, LIMITS))["G1"]
    assert (row.days, row.readings) == (2, 4)
    assert row.found.total < 0.005


def test_the_newest_is_held_against_an_earlier_day_and_not_against_the_same():
    readings = days("G1", (1.0,), (1.2, 1.201))
    (current, _) = judge_history(readings, "back room", None, LIMITS).agreements
    assert current.first / current.second == pytest.approx(1.201)
    assert not current.agree
    assert judge_history(days("G1", (1.0, 1.1)), "back room", None, LIMITS).agreements == ()


def test_another_bench_is_compared_by_the_tubes_of_both():
    readings = [
        *days("G1", (1.0,)),
        *days("G2", (1.0,)),
        *days("G1", (1.001,), bench="upstairs"),
        *days("G3", (1.0,), bench="upstairs"),
    ]
    history = judge_history(readings, "back room", "upstairs", LIMITS)
    assert {item.tube for item in history.agreements} == {"G1"}
    assert all(item.agree for item in history.agreements)


@pytest.mark.parametrize(("bench", "against"), [("attic", None), ("back room", "attic")])
def test_a_bench_without_golden_tubes_is_named_with_those_that_have_some(bench, against):
    with pytest.raises(BenchCheckError, match=r"'attic'.*'back room'"):
        judge_history(days("G1", (1.0,)), bench, against, LIMITS)
