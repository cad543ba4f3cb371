"""Behaviour: a flat top is reported with its level; a saturating tube's is not (simulated)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.clipped import find
from curvelab.health.records import FindingCode, Severity
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.tubes import healthy_tube

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(1))


def test_a_meter_at_its_end_is_a_caution_with_the_level() -> None:
    sweep = sweep_of(TUBE)
    (found,) = find(case_of(faults.clip(sweep, np.random.default_rng(2))))
    assert (found.code, found.severity) == (FindingCode.CLIPPED, Severity.CAUTION)
    assert found.unit == "mA"
    assert found.value == pytest.approx(600 * sweep.plate_current.max(), rel=1e-3)


def test_a_saturating_cathode_is_not_clipped() -> None:
    assert list(find(case_of(sweep_of(faults.worn(TUBE))))) == []


def test_a_current_that_never_moves_is_a_caution() -> None:
    case = case_of(sweep_of(TUBE))
    size = len(case.sweep.readings)
    stuck = np.full(size, 5e-3) * (1 + np.random.default_rng(3).uniform(-1e-3, 1e-3, size))
    readings = replace(case.sweep.readings, plate_current=stuck)
    (found,) = find(replace(case, sweep=replace(case.sweep, readings=readings)))
    assert (found.code, found.severity) == (FindingCode.CLIPPED, Severity.CAUTION)
    assert "whatever the voltages" in found.evidence
    assert found.readings == tuple(range(size))


def test_a_current_that_moves_a_little_is_no_standstill() -> None:
    case = case_of(sweep_of(TUBE))
    size = len(case.sweep.readings)
    readings = replace(case.sweep.readings, plate_current=np.linspace(5e-3, 5.1e-3, size))
    assert list(find(replace(case, sweep=replace(case.sweep, readings=readings)))) == []
