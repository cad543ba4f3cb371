"""Behaviour: runaway seen between the up and the down pass of one sweep (simulated tubes)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.passes import find
from curvelab.health.records import FindingCode
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.bench import Bench, usual_plan
from simulator.tubes import healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6DJ8", "2A3", "211")


@pytest.mark.parametrize("name", TYPES)
def test_a_climbing_tube_is_running_away(name: str) -> None:
    rng = np.random.default_rng(3)
    tube = healthy_tube(name, rng)
    sweep = faults.runaway_sweep(tube, usual_plan(tube), Bench(), rng)
    (found,) = find(case_of(sweep))
    assert found.code is FindingCode.RUNAWAY
    assert found.value is not None and found.u95 is not None and found.value > found.u95
    assert found.readings


@pytest.mark.parametrize("noise", [0.003, 0.02])
@pytest.mark.parametrize("name", TYPES)
def test_passes_that_agree_within_the_noise_raise_nothing(name: str, noise: float) -> None:
    tube = healthy_tube(name, np.random.default_rng(4))
    assert list(find(case_of(sweep_of(tube, bench=Bench(noise=noise), both_ways=True)))) == []


def test_a_down_pass_that_lies_lower_is_no_runaway() -> None:
    rng = np.random.default_rng(3)
    tube = healthy_tube("6SN7GTB", rng)
    sweep = faults.runaway_sweep(tube, usual_plan(tube), Bench(), rng, heating=-0.15)
    assert list(find(case_of(sweep))) == []


def test_one_pass_says_nothing() -> None:
    tube = healthy_tube("6SN7GTB", np.random.default_rng(4))
    sweep = sweep_of(tube)
    assert list(find(case_of(sweep))) == []
    assert list(find(case_of(replace(sweep, direction=np.ones(len(sweep), dtype=int))))) == []
