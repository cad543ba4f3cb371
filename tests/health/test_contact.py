"""Behaviour: contact dropouts reported once, with their readings (simulated tubes)."""

from __future__ import annotations

import numpy as np

from curvelab.health.contact import find
from curvelab.health.records import FindingCode, Severity
from helpers.cases import case_of, sweep_of
from simulator import faults
from simulator.tubes import healthy_tube

RNG = np.random.default_rng(11)
SWEEP = sweep_of(healthy_tube("6SN7GTB", RNG))


def test_dropouts_are_a_caution_with_their_readings() -> None:
    dropped = faults.drop_contact(SWEEP, np.random.default_rng(11), 6)
    (found,) = find(case_of(dropped))
    assert (found.code, found.severity) == (FindingCode.CONTACT, Severity.CAUTION)
    assert set(found.readings) <= set(dropped.touched.tolist())
    assert found.value == len(found.readings)
    assert f"(line{'s' if len(found.readings) > 1 else ''} " in found.evidence


def test_a_sound_sweep_raises_nothing() -> None:
    assert list(find(case_of(SWEEP))) == []
