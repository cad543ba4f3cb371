"""Behaviour: a repeated curve is reported with its step (simulated tubes)."""

from __future__ import annotations

import numpy as np

from curvelab.health.grid_step import find
from curvelab.health.records import FindingCode, Severity
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.bench import Bench
from simulator.tubes import healthy_tube

SWEEP = sweep_of(healthy_tube("6SN7GTB", np.random.default_rng(1)))


def test_a_step_that_did_not_come_is_a_caution() -> None:
    repeated = faults.repeat_grid_step(SWEEP, Bench(), np.random.default_rng(2), 3)
    (found,) = find(case_of(repeated))
    assert (found.code, found.severity) == (FindingCode.GRID_STEP, Severity.CAUTION)
    assert found.value == repeated.grid_voltage[repeated.touched[0]]
    assert found.readings == tuple(repeated.touched.tolist())


def test_steps_that_all_came_raise_nothing() -> None:
    assert list(find(case_of(SWEEP))) == []
