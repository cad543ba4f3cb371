"""Published and closed form: the control chart of individuals and its constants.

Worked example: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2, flow rates
of ten batches with the limits 55.8041 and 45.8159 (figures from memory; the printed limits
follow from the printed data to the last digit, which the test shows). Constants: closed
forms of the range of two normal values; Western Electric rules as section 6.3.2 lists them
(from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curvelab.bench_check.chart import D2, D4, E2, individuals_chart

NOTHING = np.empty(0)
FLOW = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])


def test_the_constants_are_those_of_the_range_of_two_normal_values():
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    assert pytest.approx(d2, abs=5e-4) == D2
    assert pytest.approx(1 + 3 * d3 / d2, abs=5e-4) == D4
    assert pytest.approx(3 / d2, abs=5e-3) == E2


def test_the_handbooks_example():
    chart = individuals_chart(FLOW, NOTHING)
    assert chart.centre == pytest.approx(50.81)
    assert chart.mean_range == pytest.approx(1.8778, abs=5e-5)
    # The handbook divides by 1.128 where ISO 7870-2 rounds 3 / d2 to 2.66.
    assert chart.centre + 3 * chart.sigma == pytest.approx(55.8041, abs=5e-5)
    assert chart.centre - 3 * chart.sigma == pytest.approx(45.8159, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=2e-3)
    assert chart.lower == pytest.approx(45.8159, abs=2e-3)
    assert not chart.signals


def test_what_comes_later_is_judged_and_moves_no_limit():
    before = individuals_chart(FLOW, NOTHING)
    after = individuals_chart(FLOW, np.array([57.0]))
    assert (after.centre, after.upper) == (before.centre, before.upper)
    assert [signal.position for signal in after.at_the_end] == [10]
    assert "three-sigma" in after.at_the_end[0].rule


# Moving ranges of 1.128 about 0: sigma is 1.
BASE = np.array([0.0, 1.128, 0.0, -1.128] * 5)


@pytest.mark.parametrize(
    ("later", "rule"),
    [
        ([2.7], "moved from the one before"),  # by 3.83, and still inside three sigma
        ([2.5, 0.0, 2.5], "two of three"),
        ([1.5, 1.5, 0.0, 1.5, 1.5], "four of five"),
        ([0.5] * 8, "eight in a row"),
    ],
)
def test_each_rule_is_raised_by_its_pattern_and_not_by_one_point_less(later, rule):
    chart = individuals_chart(BASE, np.array(later))
    assert [rule in signal.rule for signal in chart.at_the_end] == [True]
    fewer = individuals_chart(BASE, np.array(later[1:]))
    assert not fewer.at_the_end


def test_false_alarms_are_as_rare_as_three_sigma_should_be():
    rng = np.random.default_rng(11)
    beyond = 0
    for _ in range(400):
        values = rng.normal(10, 0.1, 201)
        chart = individuals_chart(values[:200], values[200:])
        beyond += any("three-sigma" in signal.rule for signal in chart.at_the_end)
    assert beyond <= 6  # 0.27 % of 400 is 1.1; six or more by chance has odds below 1 in 1000


@pytest.mark.parametrize("values", [[], [1.0], [2.0, 2.0, 2.0]])
def test_without_a_moving_range_there_is_no_chart(values):
    assert individuals_chart(np.array(values), np.array([3.0])) is None
