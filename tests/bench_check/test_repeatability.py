"""Certified and closed form: pooled scatter, within and between, E_n.

Certified: NIST StRD, analysis of variance, data set SiRstv (resistivity of silicon wafers, 5
instruments of 5 readings): the data are from memory, and give the certified sums of squares to
all digits, which a slip in any of them would spoil. E_n is worked by hand from the formula of
ISO/IEC 17043:2010, B.3.1.3.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.bench_check.agreement import compare_readings, en_number
from curvelab.bench_check.repeatability import pooled_deviation, repeatability
from curvelab.errors import BenchCheckError
from helpers.golden import golden

SIRSTV = [
    np.array(group)
    for group in (
        [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
        [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
        [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
        [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
        [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
    )
]


def test_the_certified_analysis_of_variance():
    found = repeatability(SIRSTV)
    assert (found.between_freedom, found.within_freedom) == (4, 20)
    assert found.between_mean_square == pytest.approx(1.27865654000000e-02, rel=1e-9)
    assert found.within**2 == pytest.approx(1.08318280000000e-02, rel=1e-9)
    assert found.within == pytest.approx(1.04076068334656e-01, rel=1e-9)
    # ISO 5725-2: s_L^2 = (MS_between - s_r^2) / n, n = 5 readings of each instrument.
    assert found.between**2 == pytest.approx((0.0127865654 - 0.010831828) / 5, rel=1e-6)
    assert found.total**2 == pytest.approx(found.within**2 + found.between**2)


def test_no_scatter_between_where_that_within_explains_it():
    groups = [np.array([1.0, 3.0]), np.array([1.1, 2.9])]
    assert repeatability(groups).between == 0.0


def test_unequal_groups_recover_what_was_put_in():
    rng = np.random.default_rng(5)
    groups = [
        10 + rng.normal(0, 0.3) + rng.normal(0, 0.1, size) for size in rng.integers(2, 6, size=400)
    ]
    found = repeatability(groups)
    assert found.within == pytest.approx(0.1, rel=0.08)
    assert found.between == pytest.approx(0.3, rel=0.12)


def test_pooling_weighs_by_degrees_of_freedom():
    # Variances 2 (one degree) and 4 (two degrees): (2 + 8) / 3.
    found, freedom = pooled_deviation([np.array([1.0, 3.0]), np.array([0.0, 2.0, 4.0])])
    assert freedom == 3
    assert found**2 == pytest.approx(10 / 3)


@pytest.mark.parametrize("groups", [[], [[1.0]], [[1.0], [2.0]], [[1.0, 2.0]]])
def test_too_little_is_refused(groups):
    with pytest.raises(BenchCheckError):
        repeatability([np.array(group) for group in groups])


@pytest.mark.parametrize(
    ("first", "second", "en"),
    [
        ((10.0, 0.3), (10.5, 0.4), -1.0),  # hypot(0.3, 0.4) = 0.5: just agreement
        ((10.0, 0.3), (10.6, 0.4), -1.2),
        ((9.20, 0.05), (9.10, 0.12), 0.1 / 0.13),
    ],
)
def test_en_by_hand(first, second, en):
    assert en_number(*first, *second) == pytest.approx(en)


@pytest.mark.parametrize("numbers", [(1.0, 0.0, 1.0, 0.0), (1, -0.1, 1, 0.1), (1, np.nan, 1, 0.1)])
def test_en_of_nothing_is_refused(numbers):
    with pytest.raises(BenchCheckError):
        en_number(*numbers)


def test_one_bench_on_two_dates_leaves_its_meters_out_and_two_benches_do_not():
    one = golden(current=9.0e-3)
    later = golden(day=30, current=9.08e-3)
    elsewhere = golden(day=30, current=9.08e-3, bench="front room")
    own, _ = compare_readings(one, later, 0.002)
    other, _ = compare_readings(one, elsewhere, 0.002)
    # U is hypot(0.2 %, 2 x 0.2 %) of each on one bench, hypot(0.6 %, 0.4 %) on two.
    both = np.hypot(9.0, 9.08)
    assert own.en == pytest.approx(-0.08 / (np.hypot(0.002, 0.004) * both))
    assert other.en == pytest.approx(-0.08 / (np.hypot(0.006, 0.004) * both))
    assert not own.agree
    assert other.agree
    assert abs(other.en) < abs(own.en)
    assert other.remark is None


def test_an_unstated_accuracy_is_said():
    first = replace(golden(), accuracy_stated=False)
    found, _ = compare_readings(first, golden(bench="front room"), 0.01)
    assert "not stated" in found.remark


def test_two_different_tubes_are_not_compared():
    with pytest.raises(BenchCheckError, match="not one tube"):
        compare_readings(golden("G1"), golden("G2"), 0.01)
