"""Behaviour: weak emission is a shortfall that grows with current, nothing else (simulated)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.records import FindingCode, Severity
from curvelab.health.rules import judge
from curvelab.health.weak_emission import find
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.tubes import SimulatedTube, bogey_tube, healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6DJ8", "2A3", "211")


@pytest.mark.parametrize("known", [True, False], ids=["family", "no family"])
@pytest.mark.parametrize("name", TYPES)
def test_a_worn_cathode_is_found(name: str, known: bool) -> None:
    tube = faults.worn(healthy_tube(name, np.random.default_rng(2)))
    fields = {} if known else {"family": None}
    (found,) = find(case_of(sweep_of(tube), **fields))
    assert found.code is FindingCode.WEAK_EMISSION
    assert found.severity is not Severity.NOTE
    assert found.value is not None and found.value > 10
    assert found.readings


@pytest.mark.parametrize("name", ["12AX7", "6SN7GTB", "2A3", "211"])
def test_a_mild_and_sharp_limit_is_found_where_most_current_should_flow(name: str) -> None:
    tube = faults.worn(healthy_tube(name, np.random.default_rng(2)), 1.9, 4.0)
    (found,) = find(case_of(sweep_of(tube)))
    assert found.code is FindingCode.WEAK_EMISSION
    assert found.u95 is not None and found.value is not None and found.value > found.u95


@pytest.mark.parametrize("known", [True, False], ids=["family", "no family"])
@pytest.mark.parametrize("name", TYPES)
def test_healthy_tubes_raise_nothing(name: str, known: bool) -> None:
    fields = {} if known else {"family": None}
    for seed in range(5):
        tube = healthy_tube(name, np.random.default_rng(seed))
        assert list(find(case_of(sweep_of(tube, seed), **fields))) == []


def scaled(tube: SimulatedTube, current: float = 1.0, mu: float = 1.0) -> SimulatedTube:
    """Return a tube with another perveance and amplification factor."""
    factors = tuple(mu * factor for factor in tube.law.amplification_factors)
    law = replace(tube.law, perveance=current * tube.law.perveance, amplification_factors=factors)
    return replace(tube, law=law)


@pytest.mark.parametrize("name", TYPES)
def test_a_tube_that_is_low_everywhere_has_no_weak_emission(name: str) -> None:
    assert list(find(case_of(sweep_of(scaled(bogey_tube(name), current=0.6))))) == []


@pytest.mark.parametrize("mu", [0.9, 1.1])
@pytest.mark.parametrize("name", TYPES)
def test_another_amplification_factor_is_no_weak_emission(name: str, mu: float) -> None:
    assert list(find(case_of(sweep_of(scaled(bogey_tube(name), mu=mu))))) == []


@pytest.mark.parametrize("name", TYPES)
def test_a_clipped_bench_is_no_weak_emission(name: str) -> None:
    rng = np.random.default_rng(6)
    clipped = faults.clip(sweep_of(healthy_tube(name, rng)), rng)
    codes = {item.code for item in judge(case_of(clipped))}
    assert FindingCode.CLIPPED in codes
    assert FindingCode.WEAK_EMISSION not in codes
