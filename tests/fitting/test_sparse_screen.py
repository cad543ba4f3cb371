"""Behaviour: bench faults among eight readings a curve, and none where there are none (simulated).

The boxes differ from those of the scorecard in seed and size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.fitting.records import LeftOutReason
from curvelab.fitting.sparse_screen import is_sparse
from curvelab.workbench.type_library import shipped_families
from scorecard.boxes import SPARSE_FAULTS, sparse_box
from scorecard.measures import codes_found
from simulator.bench import Bench, hand_plan, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import healthy_tube


@pytest.mark.parametrize("fault", [name for name in SPARSE_FAULTS if name])
def test_most_faults_of_moderate_size_are_found(fault: str) -> None:
    box = sparse_box(fault, 4, np.random.default_rng(61))
    found = assess([item.record for item in box], shipped_families())
    assert np.mean([fault in codes_found(item) for item in found]) >= 0.8


def test_sound_sweeps_lose_no_reading() -> None:
    box = sparse_box("", 5, np.random.default_rng(62))
    found = assess([item.record for item in box], shipped_families())
    assert np.mean([bool(codes_found(item)) for item in found]) <= 0.05
    assert np.mean([bool(item.fit.left_out) for item in found]) <= 0.05


def test_what_was_touched_is_what_is_left_out() -> None:
    box = sparse_box("contact", 2, np.random.default_rng(63))
    for item, found in zip(
        box, assess([item.record for item in box], shipped_families()), strict=True
    ):
        dropped = found.fit.without(LeftOutReason.CONTACT)
        assert dropped is None or set(dropped.tolist()) <= set(item.truth.touched.tolist())


@pytest.mark.parametrize("make", [usual_plan, hand_plan], ids=["31 a curve", "6 a curve"])
def test_only_few_readings_a_curve_are_sparse(make: Callable) -> None:
    tube = healthy_tube("6SN7GTB", np.random.default_rng(1))
    plan = replace(make(tube), overload=2.0)
    record = as_sweep(run_sweep(tube, plan, Bench(), np.random.default_rng(2)))
    every = np.ones(len(record.readings), dtype=bool)
    assert is_sparse(record.readings, every) is (make is hand_plan)
    assert not is_sparse(record.readings, every & (np.arange(every.size) < 5))
