"""Behaviour: hand tests are judged; each finding has a near miss that raises nothing.

The type is an invented one whose sheet has a heater of 6.3 V and 0.6 A; the house limits are
those of ``resources/house_limits.toml``.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.health.hand_test import judge_hand_test
from curvelab.health.limits import HouseLimits
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.records import Heater, PrintedLimit, Status
from curvelab.sweep.records import Conditions
from helpers.cases import SHEET, figure, tube_type
from simulator.tubes import bogey_tube

TYPE = replace(
    tube_type(bogey_tube("6SN7GTB")), heaters=(Heater(figure(6.3), figure(0.6), "single"),)
)


def found(kind=TYPE, **conditions: object):
    return judge_hand_test(Conditions(**conditions), HouseLimits(), kind)


@pytest.mark.parametrize(
    ("conditions", "code", "severity"),
    [
        ({"shorts": "plate to grid"}, FindingCode.SHORT, Severity.REJECT),
        ({"heater_cathode_leakage": 21e-6}, FindingCode.HEATER_CATHODE, Severity.CAUTION),
        ({"heater_cathode_leakage": 101e-6}, FindingCode.HEATER_CATHODE, Severity.REJECT),
        ({"warm_up": 60.0}, FindingCode.SHORT_WARM_UP, Severity.NOTE),
        ({"tap_test": "rings"}, FindingCode.NOISY, Severity.CAUTION),
        ({"heater_current": 0.67}, FindingCode.FAR_FROM_BOGEY, Severity.NOTE),
        ({"heater_current": 0.53}, FindingCode.FAR_FROM_BOGEY, Severity.NOTE),
        ({"heater_current": 0.0}, FindingCode.NO_EMISSION, Severity.REJECT),
    ],
)
def test_what_a_hand_test_shows(conditions, code, severity):
    (finding,) = found(**conditions)
    assert (finding.code, finding.severity) == (code, severity)
    assert finding.evidence.startswith("The hand test states")


@pytest.mark.parametrize(
    "conditions",
    [
        {},
        {"shorts": "none"},
        {"heater_cathode_leakage": 19e-6},
        {"warm_up": 181.0},
        {"tap_test": "Quiet."},
        {"heater_current": 0.65},
        {"heater_current": 0.55, "heater_voltage": 6.2},
        {"heater_current": 0.3, "heater_voltage": 12.6},  # an arrangement the sheet lacks
    ],
)
def test_near_misses(conditions):
    assert found(**conditions) == ()


def test_an_unknown_type_leaves_the_heater_unjudged():
    assert found(kind=None, heater_current=0.1) == ()


def test_printed_limits_go_before_the_house():
    printed = PrintedLimit("heater_current", "new", 0.57, 0.63, SHEET, Status.VERIFIED, "6.3 V")
    (finding,) = found(kind=replace(TYPE, printed_limits=(printed,)), heater_current=0.64)
    assert (finding.limit, finding.limit_source) == (0.63, SHEET)
