"""Behaviour and round trip: which of bench and golden tubes has moved."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.bench_check.movers import Cause, Shift, find_movers

SIGMA = 0.005


def moved(*amounts: float):
    return find_movers(
        [Shift(f"G{place}", amount, SIGMA) for place, amount in enumerate(amounts, 1)], 20.0
    )


@pytest.mark.parametrize(
    ("amounts", "cause", "tubes"),
    [
        ((0.002,), Cause.NOTHING, ()),
        ((0.002, -0.004), Cause.NOTHING, ()),
        ((0.03, 0.03), Cause.BENCH, ()),
        ((0.03, 0.028, 0.033), Cause.BENCH, ()),
        ((0.0, -0.04), Cause.TUBES, ("G2",)),
        ((0.001, -0.04, 0.002), Cause.TUBES, ("G2",)),
        ((0.0, -0.04, -0.06), Cause.TUBES, ("G2", "G3")),
        ((0.03, -0.05, 0.031), Cause.BOTH, ("G2",)),
        ((-0.03, 0.03, 0.0), Cause.TUBES, ("G1", "G2")),
    ],
)
def test_the_fewest_moves_that_explain_are_named(amounts, cause, tubes):
    found = moved(*amounts)
    assert (found.cause, found.tubes) == (cause, tubes)


def test_with_one_tube_a_shifted_bench_and_an_aged_tube_look_the_same():
    found = moved(-0.05)
    assert found.cause is Cause.CANNOT_TELL
    assert set(found.possible) == {"the bench", "G1"}


def test_two_tubes_that_moved_apart_leave_three_explanations():
    found = moved(0.03, -0.05)
    assert found.cause is Cause.CANNOT_TELL
    assert set(found.possible) == {"the bench and G1", "the bench and G2", "G1 and G2"}


def test_small_moves_of_all_that_are_too_alike_for_chance_are_the_bench():
    # 2.4 sigma each would pass alone; four of them together are 4.8 sigma.
    assert moved(*[2.4 * SIGMA] * 4).cause is Cause.BENCH
    assert moved(2.4 * SIGMA, -2.4 * SIGMA, 0.0, 0.0).cause is Cause.NOTHING


def test_a_move_between_two_explanations_is_not_decided():
    # One tube a little beyond three sigma, the other a little below: either would do.
    found = moved(3.6 * SIGMA, 1.4 * SIGMA)
    assert found.cause is Cause.CANNOT_TELL
    assert "the bench" in found.possible
    assert "G1" in found.possible


def test_the_bench_shift_is_the_mean_of_those_that_did_not_move_alone():
    found = moved(0.03, -0.05, 0.032)
    assert found.bench_amount == pytest.approx(0.031)
    assert found.bench_sigma == pytest.approx(SIGMA / 2**0.5)


@pytest.mark.parametrize("tubes", [2, 3, 5])
def test_what_was_simulated_is_found(tubes):
    rng = np.random.default_rng(17)
    right = {Cause.NOTHING: 0, Cause.BENCH: 0, Cause.TUBES: 0}
    wrong = 0
    for cause in right:
        for _ in range(200):
            amounts = rng.normal(0, SIGMA, tubes)
            amounts += 8 * SIGMA if cause is Cause.BENCH else 0
            amounts[0] -= 10 * SIGMA if cause is Cause.TUBES else 0
            found = moved(*amounts)
            right[cause] += found.cause is cause
            # A wrong answer is worse than none: another cause named with certainty.
            wrong += found.cause not in (cause, Cause.CANNOT_TELL, Cause.BOTH)
    assert min(right.values()) >= 180, right
    assert wrong <= 12


@pytest.mark.parametrize("count", [0, 11])
def test_no_tube_and_too_many_are_refused(count):
    with pytest.raises(ValueError, match="golden tubes"):
        moved(*[0.0] * count)
