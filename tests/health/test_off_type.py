"""Behaviour: another type is named only when clearly likelier and clearly closer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.health.off_type import find, is_another_type
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.identity import Candidate, Identity
from curvelab.workbench.type_library import shipped_families
from helpers.cases import case_of, sweep_of
from scorecard.measures import codes_found
from simulator.faults import worn
from simulator.records import as_sweep
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
    assert "It may be" not in found.evidence


def test_a_third_type_that_the_curves_do_not_rule_out_is_named_too() -> None:
    ranked = (("6EM7 unit 1",), 0.9, 0.3), (("6SL7GT",), 0.09, 0.35), (("6SN7GTB",), 1e-7, 1.1)
    (found,) = judged(*(Candidate(*each) for each in ranked))
    assert "of these two the odds are more than 10000 to 1 for the latter" in found.evidence
    assert found.evidence.endswith("It may be 6SL7GT as well: 10 % as likely.")


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
            (Candidate(("12BH7A",), 0.999, 0.3, 50.0), Candidate(("6SN7GTB",), 0.001, 0.4, 65.0)),
            id="fits nothing",
        ),
        pytest.param((Candidate(("12BH7A",), 0.999, 0.05),), id="label not ranked"),
        pytest.param((), id="nothing ranked"),
    ],
)
def test_near_misses_raise_nothing(candidates: tuple[Candidate, ...]) -> None:
    assert judged(*candidates) == []


def test_only_a_tube_that_is_wrong_at_low_currents_too_is_another_type() -> None:
    wrong = Identity((Candidate(("6SL7GT",), 0.999, 0.04), Candidate(("6SN7GTB",), 0.001, 0.4)))
    right = Identity((Candidate(("6SN7GTB",), 0.999, 0.04), Candidate(("6SL7GT",), 0.001, 0.4)))
    assert is_another_type(case_of(SWEEP, identity=wrong, low_identity=wrong))
    assert not is_another_type(case_of(SWEEP, identity=wrong, low_identity=right))
    assert not is_another_type(case_of(SWEEP, identity=right, low_identity=wrong))
    assert not is_another_type(case_of(SWEEP))


PAIRS = [("12AU7", "12AX7"), ("6SN7GTB", "6SL7GT"), ("6DJ8", "12AU7"), ("211", "845")]


@pytest.mark.parametrize(("kind", "label"), PAIRS + [(b, a) for a, b in PAIRS])
def test_a_wrong_label_is_no_weak_cathode(kind: str, label: str) -> None:
    sweeps = []
    for seed in range(3):
        rng = np.random.default_rng(80 + seed)
        sweeps.append(replace(as_sweep(sweep_of(healthy_tube(kind, rng), seed)), type_label=label))
    for found in assess(sweeps, shipped_families()):
        assert codes_found(found) - {"over-rating"} == {"off-type"}


@pytest.mark.parametrize("kind", ["12AX7", "12AU7", "6SN7GTB", "2A3"])
def test_a_worn_cathode_is_no_wrong_label(kind: str) -> None:
    sweeps = [
        as_sweep(sweep_of(worn(healthy_tube(kind, np.random.default_rng(90 + seed))), seed))
        for seed in range(3)
    ]
    for found in assess(sweeps, shipped_families()):
        assert codes_found(found) == {"weak-emission"}


def test_without_a_ranking_or_a_label_nothing_is_said() -> None:
    assert list(find(case_of(SWEEP))) == []
    ranked = Identity((Candidate(("6SL7GT",), 0.999, 0.04), Candidate(("6SN7GTB",), 0.001, 0.4)))
    assert list(find(case_of(SWEEP, identity=ranked, tube_type=None))) == []
