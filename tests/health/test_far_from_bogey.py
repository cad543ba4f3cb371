"""Behaviour: a constant far from the family's is a note, the farthest one named."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.far_from_bogey import find
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.records import Comparison
from helpers.cases import case_of, sweep_of
from simulator.tubes import healthy_tube

SWEEP = sweep_of(healthy_tube("6SN7GTB", np.random.default_rng(1)))


def judged(of_bogey: dict[str, float]) -> list:
    """Return the findings on a tube that stands so to its family."""
    none = np.empty(0)
    comparison = Comparison("6SN7GTB", "same", 0.1, of_bogey, {}, none, none, none)
    return list(find(case_of(SWEEP, comparison=comparison)))


@pytest.mark.parametrize(("value", "limit"), [(0.55, 70), (1.4, 130)])
def test_far_from_the_family_is_a_note(value: float, limit: float) -> None:
    (found,) = judged({"plate_current": value, "transconductance": 0.9})
    assert (found.code, found.severity) == (FindingCode.FAR_FROM_BOGEY, Severity.NOTE)
    assert found.value == pytest.approx(100 * value)
    assert found.limit == pytest.approx(limit)
    assert "plate current" in found.evidence


@pytest.mark.parametrize("of_bogey", [{"plate_current": 0.75, "transconductance": 1.2}, {}])
def test_within_the_band_nothing_is_said(of_bogey: dict[str, float]) -> None:
    assert judged(of_bogey) == []
    assert list(find(case_of(SWEEP))) == []
