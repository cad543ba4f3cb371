"""Closed form and behaviour: a tube that comes back, against its own earlier results.

E_n is the number of ISO 13528:2015, clause 9.7: the difference over the root of the sum of
the squares of both expanded uncertainties.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.assessment.records import BenchUsed, OperatingPoint
from curvelab.catalog.listing import list_tubes, tube_history
from curvelab.catalog.retest import compare_retests
from curvelab.fitting.records import Constant
from curvelab.health.limits import HouseLimits
from helpers import assessments, lots


def retest(lot, **later: object):
    lots.file_tube(lot, "A1", "sold")
    lots.file_tube(lot, "A1", "back", made_at=lots.LATER, **later)
    (tube,) = list_tubes(lot)
    (found,) = compare_retests(tube_history(lot, tube.key), HouseLimits())
    return found


def change(found, name: str):
    return next(item for item in found.changes if item.name == name)


def test_a_tube_that_aged_is_told_from_its_own_figures(lot):
    found = retest(lot, constants=assessments.constants(0.9))
    current = change(found, "plate_current")
    assert current.share == pytest.approx(-0.1)
    # 1.24 mA and 1.116 mA, each with an uncertainty of 0.012 mA
    assert current.normalised == pytest.approx(-0.124 / (2 * 0.012**2) ** 0.5)
    assert not found.another_tube
    assert (found.same_point, found.same_bench) == (True, True)
    assert (found.earlier_at, found.later_at) == (lots.EARLY, lots.LATER)
    assert found.curve_distance == pytest.approx(0.0, abs=1e-9)


def test_another_amplification_factor_is_hardly_the_same_tube(lot):
    other = replace(assessments.constants(), amplification_factor=Constant(70.0, 1.2))
    assert retest(lot, constants=other).another_tube


def test_a_vague_amplification_factor_accuses_nobody(lot):
    vague = replace(assessments.constants(), amplification_factor=Constant(70.0, 40.0))
    assert not retest(lot, constants=vague).another_tube


def test_constants_of_two_points_are_not_compared(lot):
    point = OperatingPoint(100.0, -1.0, None, "handbook")
    found = retest(lot, operating_point=point)
    assert not found.same_point
    assert found.changes == ()
    assert found.curve_distance is not None


def test_findings_that_came_and_went(lot):
    found = retest(lot, findings=assessments.SIX_FINDINGS, bench=BenchUsed("another", False))
    assert len(found.new_findings) == len({(f.code, f.severity) for f in assessments.SIX_FINDINGS})
    assert found.gone_findings == ()
    assert not found.same_bench


def test_one_sweep_alone_is_compared_with_nothing(lot):
    lots.file_tube(lot, "A1")
    (tube,) = list_tubes(lot)
    assert compare_retests(tube_history(lot, tube.key), HouseLimits()) == ()
