"""Behaviour: what of all findings stands, in which order, and the verdict that follows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from curvelab.health.records import FindingCode, Severity, Verdict
from curvelab.health.rules import judge
from curvelab.reference.identity import Candidate, Identity
from curvelab.sweep.records import Conditions, SweepKind
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(1))
MISFIT = Identity((Candidate(("6SL7GT",), 0.999, 0.04), Candidate(("6SN7GTB",), 0.001, 0.4)))


def test_a_healthy_tube_is_accepted() -> None:
    found = judge(case_of(sweep_of(TUBE, grid_current=True, overload=0.95)))
    assert found == ()
    assert Verdict.of(found) is Verdict.ACCEPT


def test_the_worst_comes_first_and_makes_the_verdict() -> None:
    sweep = sweep_of(faults.gassy(TUBE, 8e-4), grid_current=True)
    dropped = faults.drop_contact(sweep, np.random.default_rng(2))
    found = judge(case_of(dropped, conditions=Conditions(warm_up=30.0)))
    assert [item.severity for item in found] == sorted(
        (item.severity for item in found),
        key=[Severity.REJECT, Severity.CAUTION, Severity.NOTE].index,
    )
    assert [item.code for item in found][:2] == [FindingCode.GAS, FindingCode.CONTACT]
    assert Verdict.of(found) is Verdict.REJECT
    assert Verdict.of(found[1:]) is Verdict.HOLD


def test_a_worn_tube_is_not_also_taken_for_another_type() -> None:
    codes = {item.code for item in judge(case_of(sweep_of(faults.worn(TUBE)), identity=MISFIT))}
    assert FindingCode.WEAK_EMISSION in codes
    assert FindingCode.OFF_TYPE not in codes
    healthy = {item.code for item in judge(case_of(sweep_of(TUBE), identity=MISFIT))}
    assert FindingCode.OFF_TYPE in healthy


def test_a_log_is_judged_by_what_its_file_states() -> None:
    sweep = sweep_of(TUBE)
    record = replace(
        as_sweep(sweep, conditions=Conditions(shorts="heater to cathode")),
        kind=SweepKind.DRIFT_LOG,
    )
    codes = [item.code for item in judge(case_of(sweep, sweep=record))]
    assert codes == [FindingCode.SHORT, FindingCode.OVER_RATING]
