"""Behaviour: the parts of a check joined; at most one correction a meter is suggested."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.bench_check.correction import accept
from curvelab.bench_check.empty_socket import check_empty_socket
from curvelab.bench_check.golden import check_golden
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.resistor import ResistorStandard, check_resistor
from curvelab.bench_check.verdict import BenchStanding, CheckParts, Evidence, judge_bench
from curvelab.sweep.records import Readings
from helpers.golden import golden, golden_history
from simulator.sockets import resistor_currents

LIMITS = CheckLimits()
STANDARD = ResistorStandard(15e3, 0.001, 25.0)
HISTORY = golden_history(("G1", "G2", "G3"))
EVIDENCE = Evidence(("golden",), ("resistor",), ("socket",))


def tubes(*factors: float, slope: float | None = None):
    today = [
        golden(
            f"G{place + 1}",
            30,
            current=9e-3 * (1 + 0.1 * place) * factor,
            slope=2.6e-3 * (1 + 0.05 * place) * (factor if slope is None else slope),
        )
        for place, factor in enumerate(factors)
    ]
    return check_golden(today, HISTORY, LIMITS)


def readings(current: np.ndarray, volts: np.ndarray) -> Readings:
    return Readings(volts, np.zeros_like(volts), current, np.arange(volts.size))


def resistor(**errors: float):
    volts = np.arange(20.0, 301.0, 20.0)
    current = resistor_currents(volts, 15e3, np.random.default_rng(2), **errors)
    return check_resistor(readings(current, volts), STANDARD, LIMITS)


def socket(zero: float = 0.0, leads: float = 0.0):
    volts = np.arange(0.0, 301.0, 20.0)
    current = zero + leads * volts + np.random.default_rng(2).normal(0, 1e-6, volts.size)
    return check_empty_socket(readings(current, volts), LIMITS)


def judged(**parts: object):
    return judge_bench(CheckParts("back room", "2024-02-01", evidence=EVIDENCE, **parts))


def test_all_is_as_it_was():
    check = judged(golden=tubes(1, 1, 1), resistor=resistor(), empty_socket=socket())
    assert check.standing is BenchStanding.STEADY
    assert check.trusted
    assert check.suggestions == ()
    assert "may be measured" in check.sentences[-1]


def test_golden_tubes_alone_suggest_what_brings_them_back():
    check = judged(golden=tubes(1.03, 1.031, 1.029))
    assert check.standing is BenchStanding.SHIFTED
    (found,) = check.suggestions
    assert found.factor == pytest.approx(1 / 1.03, abs=0.004)
    assert abs(found.factor - 1 / 1.03) < found.factor_u95
    assert found.evidence == ("golden",)
    assert "not to the truth" in found.reason
    assert "Do not trust" in check.sentences[-1]


def test_the_resistor_goes_before_the_golden_tubes():
    check = judged(golden=tubes(1.03, 1.031, 1.029), resistor=resistor(gain=1.03))
    (found,) = check.suggestions
    assert found.evidence == ("resistor",)
    assert found.factor == pytest.approx(1 / 1.03, abs=0.002)


def test_current_and_slope_that_moved_apart_suggest_nothing():
    check = judged(golden=tubes(1.04, 1.04, 1.04, slope=1.0))
    assert check.standing is BenchStanding.SHIFTED
    assert check.suggestions == ()
    assert any("heater, plate and grid voltages" in sentence for sentence in check.sentences)


def test_a_resistor_that_agrees_contradicts_a_correction():
    check = judged(golden=tubes(1.03, 1.03, 1.03), resistor=resistor())
    assert check.suggestions == ()
    assert check.standing is BenchStanding.SHIFTED
    assert any("The resistor finds" in sentence for sentence in check.sentences)


def test_an_aged_tube_leaves_the_bench_trusted():
    check = judged(golden=tubes(1, 0.94, 1))
    assert check.standing is BenchStanding.STEADY
    assert check.golden.tubes == ("G2",)
    assert check.suggestions == ()


def test_when_every_golden_tube_moved_alone_nobody_vouches():
    check = judged(golden=replace(tubes(1, 0.94, 1), tubes=("G1", "G2", "G3")))
    assert check.standing is BenchStanding.UNCLEAR


def test_a_zero_or_a_leak_is_taken_off():
    check = judged(golden=tubes(1, 1, 1), empty_socket=socket(zero=50e-6, leads=2e-7))
    (found,) = check.suggestions
    assert check.standing is BenchStanding.SHIFTED
    assert found.offset == pytest.approx(50e-6, abs=2e-6)
    assert found.conductance == pytest.approx(2e-7, rel=0.05)
    assert found.factor == 1.0


@pytest.mark.parametrize(
    "parts",
    [
        {"golden": tubes(0.94)},
        {"golden": tubes(1, 1), "resistor": resistor(gain=1.5)},
        {"golden": tubes(1, 1), "undone": ("G3: rejected: gas",)},
        {"golden": tubes(1.03, 0.95)},
    ],
    ids=["one tube moved", "another resistor", "a part could not be done", "two apart"],
)
def test_what_is_unclear_is_for_a_person(parts):
    check = judged(**parts)
    assert check.standing is BenchStanding.UNCLEAR
    assert not check.trusted
    assert check.suggestions == ()


def test_without_history_nothing_vouches():
    first = check_golden([golden("G1"), golden("G2")], (), LIMITS)
    assert judged(golden=first, resistor=resistor()).standing is BenchStanding.NO_HISTORY
    assert judged().standing is BenchStanding.NO_HISTORY


def test_a_correction_in_force_is_not_topped_by_another():
    (old,) = judged(resistor=resistor(gain=1.03)).suggestions
    again = judged(resistor=resistor(gain=1.03), in_force=(accept(old, "Ada", "2024-02-01"),))
    assert again.suggestions == ()
    assert any("withdraw that correction" in sentence for sentence in again.sentences)
