"""Behaviour: two estimates disagree only when beyond their joint uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.disagreement import find
from curvelab.health.records import FindingCode, Severity
from helpers.cases import case_of, constants_of, sweep_of
from simulator.tubes import healthy_tube

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(1))
SWEEP = sweep_of(TUBE)
TRUE = constants_of(TUBE, (250.0, -8.0), 0.03)


def judged(factor: float, share: float) -> list:
    """Return the findings where the local gm is so many times the law's, so uncertain."""
    gm = TRUE.transconductance.value
    assert gm is not None
    local = replace(TRUE, transconductance=Constant(factor * gm, share * gm))
    return list(find(case_of(SWEEP, constants=TRUE, local=local)))


@pytest.mark.parametrize(("factor", "severity"), [(0.88, Severity.NOTE), (1.3, Severity.CAUTION)])
def test_beyond_the_uncertainties_is_found(factor: float, severity: Severity) -> None:
    (found,) = judged(factor, 0.04)
    assert (found.code, found.severity) == (FindingCode.DISAGREEMENT, severity)
    assert found.value == pytest.approx(100 * (factor - 1))
    assert found.u95 == pytest.approx(5.0)
    assert "transconductance" in found.evidence


@pytest.mark.parametrize(("factor", "share"), [(1.3, 0.3), (1.08, 0.01), (1.0, 0.01)])
def test_within_them_or_too_small_to_matter_is_not(factor: float, share: float) -> None:
    assert judged(factor, share) == []


def test_a_missing_estimate_disagrees_with_nothing() -> None:
    missing = Constants.missing(Outcome.TOO_FEW, "three readings")
    assert list(find(case_of(SWEEP, local=missing))) == []
    assert list(find(case_of(SWEEP, constants=missing))) == []
