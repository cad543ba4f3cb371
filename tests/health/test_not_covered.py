"""Behaviour: constants that the readings cannot give are named with the reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.not_covered import find
from curvelab.health.records import FindingCode, Severity
from helpers.cases import case_of, constants_of, sweep_of
from simulator.tubes import healthy_tube

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(1))
SWEEP = sweep_of(TUBE)


def test_missing_constants_are_named_with_the_reason() -> None:
    reason = "the readings lie on one grid curve"
    missing = Constant.missing(Outcome.NOT_COVERED, reason)
    partly = replace(
        constants_of(TUBE, (250.0, -8.0)), transconductance=missing, amplification_factor=missing
    )
    (found,) = find(case_of(SWEEP, constants=partly))
    assert (found.code, found.severity) == (FindingCode.NOT_COVERED, Severity.NOTE)
    assert found.evidence == f"No gm, mu can be given at 250 V, -8 V: {reason}."


def test_without_an_operating_point_the_reason_still_stands() -> None:
    missing = Constants.missing(Outcome.TOO_FEW, "only three readings.")
    (found,) = find(case_of(SWEEP, constants=missing, operating_point=None))
    assert found.evidence == "No Ip, gm, rp, mu can be given: only three readings."


def test_a_tube_without_a_single_constant_is_not_passed() -> None:
    missing = Constants.missing(Outcome.TOO_FEW, "only three readings")
    (found,) = find(case_of(SWEEP, constants=missing))
    assert found.severity is Severity.CAUTION


def test_all_four_constants_raise_nothing() -> None:
    assert list(find(case_of(SWEEP))) == []
