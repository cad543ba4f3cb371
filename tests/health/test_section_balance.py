"""Behaviour: the sections of a dual tube are compared, by the printed limit where there is one.

A section balance of 30 % at 250 V, -8 V is printed on a 6SN7GTB sheet (source: see the type
file); 20 % is a house rule.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting import constants_at, fit_sweep
from curvelab.health.case import Case
from curvelab.health.limits import HOUSE_RULE
from curvelab.health.records import FindingCode, Severity
from curvelab.health.section_balance import find
from curvelab.reference.records import PrintedLimit, Status
from helpers.cases import case_of, sweep_of, tube_type
from simulator.bench import usual_plan
from simulator.records import as_sweep
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


def fitted_pair(stronger: float, highest: float) -> tuple[Case, Case]:
    """Return two fitted sections, the second swept only up to ``highest`` times the bogey point."""
    other = other_section(TUBE, np.random.default_rng(5), stronger=stronger)
    cases = []
    for tube, share in ((TUBE, 9.0), (other, highest)):
        plates = [v for v in usual_plan(tube).plate_voltage if v < share * 250]
        swept = sweep_of(tube, plate_voltage=tuple(plates))
        record = as_sweep(swept)
        fit = fit_sweep(record.readings)
        at = (250.0, -8.0) if share > 1 else (150.0, -4.0)
        cases.append(
            case_of(
                swept,
                sweep=record,
                fit=fit,
                operating_point=at,
                constants=constants_at(fit, record.readings, at),
            )
        )
    return cases[0], cases[1]


@pytest.mark.parametrize(("stronger", "expected"), [(-0.45, True), (0.05, False)])
def test_sections_at_different_points_are_compared_where_both_were_swept(
    stronger: float, expected: bool
) -> None:
    first, second = fitted_pair(stronger, 0.8)
    found = [
        list(find(replace(mine, sibling=other)))
        for mine, other in ((first, second), (second, first))
    ]
    assert [bool(item) for item in found] == [expected, expected]
    assert len({round(item.value, 6) for pair in found for item in pair}) <= 1


def test_sections_that_share_no_point_are_not_compared() -> None:
    high, low = (
        sweep_of(TUBE, plate_voltage=tuple(v for v in usual_plan(TUBE).plate_voltage if keep(v)))
        for keep in (lambda v: v > 200, lambda v: v < 150)
    )
    other = case_of(low, operating_point=(120.0, -2.0))
    assert list(find(case_of(high, sibling=other))) == []
    assert list(find(case_of(sweep_of(TUBE)))) == []


def test_sections_that_differ_by_nature_are_not_compared() -> None:
    case = pair(0.35)
    assert case.sibling is not None
    assert list(find(case))
    names = ("1XA1 unit 1", "1XA1 unit 2")
    one, two = (
        replace(item, tube_type=tube_type(TUBE, name=name))
        for item, name in zip((case, case.sibling), names, strict=True)
    )
    assert not list(find(replace(one, sibling=two)))
    same = replace(two, tube_type=one.tube_type)
    assert list(find(replace(one, sibling=same)))
