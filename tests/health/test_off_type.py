"""Behaviour: another type is named only when clearly likelier and clearly closer."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.off_type import find
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.identity import Candidate, Identity
from helpers.cases import case_of, sweep_of
from simulator.tubes import healthy_tube

SWEEP = sweep_of(healthy_tube("6SN7GTB", np.random.default_rng(1)))


def judged(*candidates: Candidate) -> list:
    """Return the findings on a tube labelled 6SN7GTB that these candidates were ranked for."""
    return list(find(case_of(SWEEP, identity=Identity(candidates))))


def test_a_tube_that_fits_another_type_is_named_with_the_odds() -> None:
    other = Candidate(("6SL7GT",), 0.999, 0.04)
    (found,) = judged(other, Candidate(("6SN7GT", "6SN7GTB"), 0.001, 0.4))
    assert (found.code, found.severity) == (FindingCode.OFF_TYPE, Severity.CAUTION)
    assert "6SL7GT" in found.evidence
    assert "999 to 1" in found.evidence
    assert found.value == pytest.approx(40)


@pytest.mark.parametrize(
    "candidates",
    [
        pytest.param(
            (Candidate(("6SN7GT", "6SN7GTB"), 0.9999, 0.04), Candidate(("6SL7GT",), 1e-4, 0.4)),
            id="the label's class is first",
        ),
        pytest.param(
            (Candidate(("12BH7A",), 0.9, 0.05), Candidate(("6SN7GTB",), 0.1, 0.2)),
            id="odds too short",
        ),
        pytest.param(
            (Candidate(("12BH7A",), 0.999, 0.05), Candidate(("6SN7GTB",), 0.001, 0.12)),
            id="still near its own family",
        ),
        pytest.param(
            (Candidate(("12BH7A",), 0.999, 0.3), Candidate(("6SN7GTB",), 0.001, 0.4)),
            id="fits nothing",
        ),
        pytest.param((Candidate(("12BH7A",), 0.999, 0.05),), id="label not ranked"),
        pytest.param((), id="nothing ranked"),
    ],
)
def test_near_misses_raise_nothing(candidates: tuple[Candidate, ...]) -> None:
    assert judged(*candidates) == []


def test_without_a_ranking_or_a_label_nothing_is_said() -> None:
    assert list(find(case_of(SWEEP))) == []
    ranked = Identity((Candidate(("6SL7GT",), 0.999, 0.04), Candidate(("6SN7GTB",), 0.001, 0.4)))
    assert list(find(case_of(SWEEP, identity=ranked, tube_type=None))) == []
