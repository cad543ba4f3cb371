"""Round trip, behaviour and refusal: a resistor in the tube's place, an empty socket."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.bench_check.empty_socket import check_empty_socket
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.resistor import (
    RESISTOR_CAUTION,
    ResistorOutcome,
    ResistorStandard,
    check_resistor,
)
from curvelab.errors import BenchCheckError
from curvelab.sweep.records import Readings
from simulator.sockets import resistor_currents

LIMITS = CheckLimits()
STANDARD = ResistorStandard(resistance=15e3, tolerance=0.001, rated_power=25.0)
VOLTS = np.arange(20.0, 301.0, 20.0)


def readings(current: np.ndarray, volts: np.ndarray = VOLTS, grid: np.ndarray | None = None):
    return Readings(
        plate_voltage=volts,
        grid_voltage=np.zeros_like(volts),
        plate_current=current,
        line=np.arange(volts.size) + 2,
        grid_current=grid,
    )


def swept(seed: int = 1, **errors: float) -> Readings:
    return readings(resistor_currents(VOLTS, 15e3, np.random.default_rng(seed), **errors))


def test_meters_that_agree():
    found = check_resistor(swept(), STANDARD, LIMITS)
    assert found.outcome is ResistorOutcome.AGREES
    assert abs(found.gain.value - 1) < found.gain.u95 < 0.003
    assert (found.used, found.left_out) == (15, 0)
    assert found.highest_power == pytest.approx(300**2 / 15e3, rel=0.01)


@pytest.mark.parametrize("errors", [{"gain": 1.02}, {"gain": 0.985}, {"offset": 60e-6}])
def test_a_gain_or_a_zero_that_is_off_is_found(errors):
    found = check_resistor(swept(**errors), STANDARD, LIMITS)
    assert found.outcome is ResistorOutcome.OFF
    assert abs(found.gain.value - errors.get("gain", 1.0)) < found.gain.u95
    assert abs(found.offset.value - errors.get("offset", 0.0)) < found.offset.u95
    assert "which of the two" in found.sentences[0]


def test_the_uncertainty_covers_the_truth_as_often_as_it_says():
    exact = ResistorStandard(15e3, 0.0, 25.0)
    inside = np.zeros(2)
    for seed in range(400):
        found = check_resistor(swept(seed, gain=1.01, offset=20e-6), exact, LIMITS)
        inside += [
            abs(found.gain.value - 1.01) < found.gain.u95,
            abs(found.offset.value - 20e-6) < found.offset.u95,
        ]
    # 95 % of 400 is 380; ordinary least squares on readings whose noise grows with them
    # gives the offset more room than it needs, never less.
    assert inside[0] >= 365
    assert inside[1] >= 372


def test_the_tolerance_of_the_resistor_is_in_the_gain():
    loose = ResistorStandard(15e3, 0.05, 25.0)
    found = check_resistor(swept(gain=1.02), loose, LIMITS)
    assert found.gain.u95 == pytest.approx(2 * 0.05 / 3**0.5, rel=0.05)
    assert found.outcome is ResistorOutcome.AGREES
    assert "wider than" in found.sentences[0]


def test_leads_in_parallel_are_taken_off():
    leaking = readings(swept().plate_current + 2e-6 * VOLTS)
    assert check_resistor(leaking, STANDARD, LIMITS).outcome is ResistorOutcome.OFF
    found = check_resistor(leaking, STANDARD, LIMITS, leads=2e-6)
    assert found.outcome is ResistorOutcome.AGREES


def test_a_resistor_that_warms_is_no_straight_line():
    found = check_resistor(swept(warming=0.02), STANDARD, LIMITS)
    assert found.outcome is ResistorOutcome.BENT
    assert not found.trusted


def test_another_resistor_is_not_taken_for_a_gain():
    found = check_resistor(swept(), ResistorStandard(10e3, 0.001, 25.0), LIMITS)
    assert found.outcome is ResistorOutcome.OTHER_RESISTOR
    assert "15" in found.sentences[0]


def test_readings_above_the_allowed_load_are_left_out_and_an_overload_is_said():
    small = ResistorStandard(15e3, 0.001, 5.0)  # 300 V are 6 W
    found = check_resistor(swept(), small, LIMITS)
    assert small.highest_voltage(0.5) == pytest.approx((0.5 * 5 * 15e3) ** 0.5)  # 194 V
    assert (found.used, found.left_out) == (9, 6)
    text = " ".join(found.sentences)
    assert "rated for 5 W" in text
    assert "common practice" in text


def test_a_voltage_rating_is_kept_too():
    found = check_resistor(swept(), ResistorStandard(15e3, 0.001, 25.0, 200.0), LIMITS)
    assert found.left_out == 5
    assert "rated for 200 V" in " ".join(found.sentences)


def test_few_readings_give_no_figures():
    few = readings(swept().plate_current[:4], VOLTS[:4])
    found = check_resistor(few, STANDARD, LIMITS)
    assert found.outcome is ResistorOutcome.TOO_FEW
    assert found.gain is None
    one_voltage = readings(swept().plate_current, np.full(15, 100.0))
    assert check_resistor(one_voltage, STANDARD, LIMITS).outcome is ResistorOutcome.TOO_FEW


def test_the_caution_names_what_can_hurt():
    for danger in ("lethal", "hot", "capacitors", "power", "interlocks"):
        assert danger in RESISTOR_CAUTION


@pytest.mark.parametrize(
    "values", [(0, 0.01, 5), (1e4, -0.1, 5), (1e4, 0.01, 0), (np.nan, 0.01, 5), (1e4, 0.01, 5, 0)]
)
def test_a_resistor_without_sense_is_refused(values):
    with pytest.raises(BenchCheckError):
        ResistorStandard(*values)


def empty(
    seed: int = 1,
    *,
    zero: float = 0.0,
    leads: float = 0.0,
    grid_zero=0.0,
    grid_leads=0.0,
    grid=True,
):
    rng = np.random.default_rng(seed)
    volts, bias = (axis.ravel() for axis in np.meshgrid(np.arange(0.0, 301.0, 30), [0.0, -5, -10]))
    reverse = grid_zero + grid_leads * (bias - volts) + rng.normal(0, 2e-9, volts.size)
    return Readings(
        plate_voltage=volts,
        grid_voltage=bias,
        plate_current=zero + leads * volts + rng.normal(0, 1e-6, volts.size),
        line=np.arange(volts.size) + 2,
        grid_current=reverse if grid else None,
    )


def test_a_clean_socket():
    found = check_empty_socket(empty(), LIMITS)
    assert found.clean is True
    assert abs(found.plate_zero.value) < 2e-6
    assert not found.plate_leads.stands_out


@pytest.mark.parametrize(
    ("errors", "part"),
    [
        ({"zero": 30e-6}, "plate ammeter"),
        ({"leads": 1e-7}, "plate lead"),  # 30 uA at 300 V: 10 megohm
        ({"grid_zero": 2e-7}, "grid ammeter"),
        ({"grid_leads": 1e-9}, "grid lead"),  # 0.3 uA at 300 V: 1000 megohm
    ],
)
def test_each_fault_is_told_apart(errors, part):
    found = check_empty_socket(empty(**errors), LIMITS)
    assert found.clean is False
    bad = [text for text in found.sentences if text.endswith("editable).") and "house" in text]
    assert any(part in sentence for sentence in bad)
    fields = {"zero": "plate_zero", "leads": "plate_leads"} | {
        name: name for name in ("grid_zero", "grid_leads")
    }
    ((name, value),) = errors.items()
    estimate = getattr(found, fields[name])
    assert abs(estimate.value - value) < 1.5 * estimate.u95
    assert estimate.stands_out


def test_without_grid_current_the_grid_lead_is_not_judged():
    found = check_empty_socket(empty(grid=False), LIMITS)
    assert found.clean is True
    assert found.grid_zero is None
    assert any("not judged" in sentence for sentence in found.sentences)


def test_readings_that_never_change_are_as_uncertain_as_the_last_digit():
    volts = np.arange(0.0, 301.0, 30)
    found = check_empty_socket(readings(np.zeros_like(volts), volts), LIMITS, plate_resolution=1e-5)
    assert found.plate_zero.value == 0
    assert found.plate_zero.u95 > 2e-6


def test_two_readings_say_nothing():
    found = check_empty_socket(readings(np.zeros(2), np.array([0.0, 300.0])), LIMITS)
    assert found.clean is None
    assert found.plate_zero is None
