"""Behaviour: a note up to 1.5 times a verified rating, a caution beyond; memory only notes.

Simulated tubes; the ratings are those the simulator's catalogue sources.
"""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.over_rating import find
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.records import Status
from helpers.cases import case_of, sweep_of, tube_type
from simulator import faults
from simulator.bench import Bench
from simulator.tubes import healthy_tube

TUBE = healthy_tube("12AU7", np.random.default_rng(1))


def hot(overload: float, **fields: object) -> list:
    """Return the findings on a sweep driven to a multiple of the rated dissipation."""
    sweep = faults.overrate(TUBE, Bench(), np.random.default_rng(2), overload)
    return [item for item in find(case_of(sweep, **fields)) if item.unit == "W"]


def test_a_little_over_is_a_note() -> None:
    (found,) = hot(1.2)
    assert (found.code, found.severity) == (FindingCode.OVER_RATING, Severity.NOTE)
    assert found.limit == TUBE.figures.dissipation
    assert found.value is not None and 1.0 < found.value / found.limit <= 1.25
    assert found.readings


def test_far_over_is_a_caution() -> None:
    (found,) = hot(1.9)
    assert found.severity is Severity.CAUTION


def test_a_rating_from_memory_is_never_more_than_a_note() -> None:
    (found,) = hot(1.9, tube_type=tube_type(TUBE, status=Status.FROM_MEMORY))
    assert found.severity is Severity.NOTE
    assert "from memory" in found.evidence
    assert "from memory" in (found.limit_source or "")


def test_within_the_ratings_nothing_is_said() -> None:
    assert list(find(case_of(sweep_of(TUBE, overload=0.95)))) == []
    assert hot(1.9, tube_type=None) == []


def test_plate_voltage_is_judged_too() -> None:
    voltage = TUBE.figures.highest_plate_voltage
    sweep = sweep_of(TUBE, plate_voltage=tuple(np.linspace(20, 1.1 * voltage, 25)), overload=0.9)
    (found,) = find(case_of(sweep))
    assert (found.unit, found.severity) == ("V", Severity.NOTE)
    assert found.value == pytest.approx(1.1 * voltage)
