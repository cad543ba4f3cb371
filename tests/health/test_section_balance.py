"""Behaviour: the sections of a dual tube are compared, by the printed limit where there is one.

A section balance of 30 % at 250 V, -8 V is printed on a 6SN7GTB sheet (source: see the type
file); 20 % is a house rule.
"""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.case import Case
from curvelab.health.limits import HOUSE_RULE
from curvelab.health.records import FindingCode, Severity
from curvelab.health.section_balance import find
from curvelab.reference.records import PrintedLimit, Status
from helpers.cases import case_of, constants_of, sweep_of, tube_type
from simulator.tubes import healthy_tube, other_section

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(1))
PRINTED = PrintedLimit(
    "section_balance", "new", None, 0.3, "A printed sheet", Status.VERIFIED, "250 V, -8 V"
)


def pair(stronger: float, **fields: object) -> Case:
    """Return a section whose sibling's perveance is greater by a fraction, exactly."""
    other = other_section(TUBE, np.random.default_rng(5), stronger=stronger)
    return case_of(sweep_of(TUBE), sibling=case_of(sweep_of(other), **fields), **fields)


def test_unequal_sections_are_found_on_both() -> None:
    case = pair(0.35)
    assert case.sibling is not None
    mirrored = case_of(sweep_of(TUBE), constants=case.sibling.constants, sibling=case)
    for seen in (case, mirrored):
        (found,) = find(seen)
        assert (found.code, found.severity) == (FindingCode.SECTION_IMBALANCE, Severity.CAUTION)
        assert (found.limit, found.limit_source) == (20.0, HOUSE_RULE)
        assert found.value == pytest.approx(30, abs=6)


def test_nearly_equal_sections_raise_nothing() -> None:
    assert list(find(pair(0.1))) == []


def test_a_printed_limit_goes_before_the_house_rule() -> None:
    printed = tube_type(TUBE, printed_limits=(PRINTED,))
    assert list(find(pair(0.25, tube_type=printed))) == []
    (found,) = find(pair(0.6, tube_type=printed))
    assert found.limit == pytest.approx(30)
    assert "A printed sheet" in (found.limit_source or "")


def test_sections_at_different_points_are_not_compared() -> None:
    other = case_of(
        sweep_of(TUBE),
        operating_point=(200.0, -6.0),
        constants=constants_of(TUBE, (200.0, -2.0)),
    )
    assert list(find(case_of(sweep_of(TUBE), sibling=other))) == []
    assert list(find(case_of(sweep_of(TUBE)))) == []
