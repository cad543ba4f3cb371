"""Behaviour: a dead tube is dead and nothing else; a weak or a biased-off one is not dead."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.no_emission import find
from curvelab.health.records import FindingCode, Severity
from curvelab.health.rules import judge
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.tubes import healthy_tube

TYPES = ("12AX7", "6SN7GTB", "2A3", "211")


@pytest.mark.parametrize("name", TYPES)
def test_a_dead_tube_is_rejected_for_that_alone(name: str) -> None:
    tube = faults.dead(healthy_tube(name, np.random.default_rng(1)))
    found = judge(case_of(sweep_of(tube, grid_current=True)))
    assert [(item.code, item.severity) for item in found] == [
        (FindingCode.NO_EMISSION, Severity.REJECT)
    ]


def test_what_flows_is_told_in_milliamperes_from_one_on() -> None:
    (found,) = find(case_of(sweep_of(faults.dead(healthy_tube("2A3", np.random.default_rng(1))))))
    assert " mA, " in found.evidence
    assert found.evidence.startswith("No reading exceeds")
    assert "µA; at" in found.evidence


@pytest.mark.parametrize("name", ["12AX7", "6SN7GTB"])
def test_a_dead_tube_of_an_unknown_type_is_found(name: str) -> None:
    tube = faults.dead(healthy_tube(name, np.random.default_rng(1)))
    (found,) = find(case_of(sweep_of(tube), family=None, tube_type=None))
    assert found.code is FindingCode.NO_EMISSION


@pytest.mark.parametrize("name", TYPES)
def test_a_worn_tube_is_not_dead(name: str) -> None:
    tube = faults.worn(healthy_tube(name, np.random.default_rng(1)), 0.3)
    for fields in ({}, {"family": None, "tube_type": None}):
        assert list(find(case_of(sweep_of(tube), **fields))) == []


@pytest.mark.parametrize("known", [True, False])
def test_a_sweep_below_cut_off_does_not_say_dead(known: bool) -> None:
    tube = healthy_tube("6SN7GTB", np.random.default_rng(1))
    sweep = sweep_of(tube, grid_voltage=(-30.0, -35.0, -40.0))
    assert sweep.plate_current.max() < 1e-4
    fields = {} if known else {"family": None, "tube_type": None}
    assert list(find(case_of(sweep, **fields))) == []
