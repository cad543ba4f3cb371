"""Closed form and identity: how much two tubes differ, and whether the bench can tell."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from curvelab.errors import MatchingInputError
from curvelab.matching.differences import differences, in_log
from curvelab.matching.records import (
    BY_BOTH,
    BY_CURVE,
    Candidate,
    MatchRequest,
    Measure,
    Measured,
    Section,
    WorkingCurve,
)
from helpers.tubes_to_match import AT, figure, section, tube

CURRENT = MatchRequest(measures=(Measure.PLATE_CURRENT,))


def between(one, other, request=CURRENT):
    return differences([one], [other], request).between(0, 0)


def test_percent_are_of_the_mean_of_the_two():
    # 2 (10.25 - 9.75) / (10.25 + 9.75) = 5 %, exactly the tolerance.
    found = differences([tube("a", 10.25e-3)], [tube("b", 9.75e-3)], CURRENT)
    assert found.fraction[0, 0] == pytest.approx(0.05, rel=1e-12)
    assert found.of_tolerance[0, 0] == pytest.approx(1.0, rel=1e-12)
    assert found.within[0, 0]
    assert not differences([tube("a", 10.26e-3)], [tube("b", 9.75e-3)], CURRENT).within[0, 0]


def test_a_fraction_and_its_logarithm_are_the_same_thing():
    for fraction in (0.001, 0.05, 0.3):
        ratio = math.exp(in_log(fraction))
        assert 2 * (ratio - 1) / (ratio + 1) == pytest.approx(fraction)


def test_the_measure_that_is_worst_in_its_own_tolerance_decides():
    request = MatchRequest(tolerance=0.05, tolerances={Measure.TRANSCONDUCTANCE: 0.20})
    found = between(tube("a", 9e-3, 2.6e-3), tube("b", 9e-3 * 1.04, 2.6e-3 * 1.10), request)
    assert found.fraction == pytest.approx(0.04 / 1.02)
    assert found.of_tolerance == pytest.approx(in_log(0.04 / 1.02) / in_log(0.05))


def test_what_one_bench_does_to_both_cancels():
    one = tube("a", sections=(Section(None, AT, figure(9.0e-3, 0.001, bench=0.02)),))
    other = tube("b", sections=(Section(None, AT, figure(9.1e-3, 0.001, bench=0.02)),))
    same = between(one, other)
    assert same.u95 == pytest.approx(0.001 * math.sqrt(2))
    assert same.distinguishable is True
    elsewhere = between(one, replace(other, bench="another bench"))
    assert elsewhere.u95 == pytest.approx(math.sqrt(2 * (0.001**2 + 0.02**2)))
    assert elsewhere.distinguishable is False
    unnamed = between(replace(one, bench=None), replace(other, bench=None))
    assert unnamed.u95 == elsewhere.u95


def test_a_gain_error_of_the_bench_moves_no_difference():
    tubes = [tube("a", 9.0e-3), tube("b", 9.3e-3)]
    high = [tube("a", 9.0e-3 * 1.03), tube("b", 9.3e-3 * 1.03)]
    assert between(*tubes).fraction == pytest.approx(between(*high).fraction, rel=1e-12)


def test_a_gain_error_is_within_the_uncertainty_as_often_as_it_claims():
    # Equal tubes, each read with its own noise: told apart in about 5 of 100 pairs.
    rng = np.random.default_rng(5)
    values = 9e-3 * (1 + rng.normal(0, 0.01, 600))
    tubes = [
        tube(str(k), sections=(Section(None, AT, Measured(v, 1.96 * 0.01 * 9e-3)),))
        for k, v in enumerate(values)
    ]
    apart = differences(tubes[:300], tubes[300:], CURRENT).told_apart
    assert 0.02 < apart.mean() < 0.09


@pytest.mark.parametrize("correlation", [0.0, 0.7, 1.0])
def test_equal_curves_are_seldom_told_apart_however_their_errors_hang_together(correlation):
    rng = np.random.default_rng(11)
    points, count, sigma = 20, 400, 0.01
    common = rng.normal(0, sigma, (count, 1))
    own = rng.normal(0, sigma, (count, points))
    error = math.sqrt(correlation) * common + math.sqrt(1 - correlation) * own
    volts = np.linspace(100, 300, points)
    tubes = [
        tube(
            str(k),
            sections=(
                Section(
                    curve=WorkingCurve(
                        volts, -volts / 30, 5e-3 * np.exp(error[k]),
                        np.full(points, 1.96 * sigma), np.zeros(points),
                    )
                ),
            ),
        )
        for k in range(count)
    ]  # fmt: skip
    request = MatchRequest(measures=BY_CURVE)
    apart = differences(tubes[:200], tubes[200:], request).told_apart
    assert apart.mean() < 0.08


def test_curves_differ_by_the_root_mean_square_of_their_points():
    base = section().curve
    moved = replace(base, plate_current=base.plate_current * np.exp([0.03, -0.03, 0, 0, 0.04]))
    request = MatchRequest(measures=BY_CURVE)
    found = between(tube("a"), tube("b", sections=(replace(section(), curve=moved),)), request)
    expected = math.sqrt((2 * 0.03**2 + 0.04**2) / 5)
    assert found.fraction == pytest.approx(2 * math.tanh(expected / 2))


@pytest.mark.parametrize(
    "other",
    [
        tube("b", type_class="6SL7GT"),
        tube("b", sections=(replace(section(), at=(300.0, -10.0)),)),
        tube("b", sections=(section(name="1"), section(name="2"))),
    ],
    ids=["type", "operating point", "sections"],
)
def test_what_cannot_be_compared_is_infinitely_far(other):
    found = differences([tube("a")], [other], MatchRequest())
    assert np.isinf(found.of_tolerance[0, 0])
    assert not found.within[0, 0]


def test_curves_over_other_points_are_not_compared():
    base = section().curve
    fewer = WorkingCurve(*(getattr(base, name)[:3] for name in base.__slots__))
    shifted = replace(base, plate_voltage=base.plate_voltage + 10)
    others = [
        tube("b", sections=(replace(section(), curve=curve),)) for curve in (base, fewer, shifted)
    ]
    found = differences([tube("a")], others, MatchRequest(measures=BY_BOTH))
    assert found.within.tolist() == [[True, False, False]]
    among = differences(others, others, MatchRequest(measures=BY_BOTH))
    assert among.within.tolist() == np.eye(3, dtype=bool).tolist()


def test_no_uncertainty_is_no_claim():
    other = tube("b", sections=(section(9.2e-3, u95=None),))
    assert between(tube("a"), other).distinguishable is None
    assert between(tube("a"), other).u95 is None


def test_sections_are_compared_by_name_or_all_with_all():
    def dual(key, first, second):
        sections = (section(first, name="1"), section(second, name="2"))
        return Candidate(key, "6SN7GTB", sections, "bench")

    one, other = dual("a", 9.0e-3, 9.9e-3), dual("b", 9.1e-3, 9.8e-3)
    by_name = between(one, other)
    assert by_name.fraction == pytest.approx(0.1 / 9.05)
    every = between(one, other, replace(CURRENT, all_sections=True))
    assert every.fraction == pytest.approx(0.9 / 9.45)
    turned = between(other, one, replace(CURRENT, all_sections=True))
    assert turned.fraction == pytest.approx(every.fraction)


def test_guarded_acceptance_asks_for_the_uncertainty_too():
    pair = [tube("a", 9.0e-3), tube("b", 9.4e-3)]  # 4.3 % apart, uncertain by 0.7 %
    assert differences(pair[:1], pair[1:], CURRENT).within[0, 0]
    guarded = replace(CURRENT, guarded=True)
    assert not differences(pair[:1], pair[1:], guarded).within[0, 0]
    assert differences(pair[:1], pair[1:], replace(guarded, tolerance=0.055)).within[0, 0]


def test_many_curves_are_compared_in_parts_alike(monkeypatch):
    rng = np.random.default_rng(2)
    tubes = [tube(str(k), 9e-3 * np.exp(rng.normal(0, 0.1))) for k in range(40)]
    request = MatchRequest(measures=BY_CURVE)
    whole = differences(tubes, tubes, request).of_tolerance
    monkeypatch.setattr("curvelab.matching.differences._CHUNK", 700)
    assert np.array_equal(differences(tubes, tubes, request).of_tolerance, whole)


@pytest.mark.parametrize(
    "fields",
    [
        {"size": 1},
        {"size": 2, "spare": -1},
        {"tolerance": 0.0},
        {"tolerance": 1.0},
        {"tolerances": {Measure.CURVE: float("nan")}},
        {"measures": ()},
        {"time_limit": 0.0},
        {"across": ("A", "A")},
    ],
    ids=str,
)
def test_senseless_requests_are_refused(fields):
    with pytest.raises(MatchingInputError):
        MatchRequest(**fields)


def test_a_curve_of_uneven_arrays_is_refused():
    with pytest.raises(MatchingInputError, match="plate_current"):
        WorkingCurve(np.ones(3), np.ones(3), np.ones(2), np.ones(3), np.ones(3))
