"""Identity and behaviour: a tube against a reference family, at a point and over the plane."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting import constants_at, fit_sweep
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.reference.compare import compare, reference_constants
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.sweep.records import Readings

AT = (250.0, -8.0)
PLATE, GRID = (
    item.ravel() for item in np.meshgrid(np.linspace(20, 350, 23), np.linspace(-14, 0, 8))
)


@pytest.fixture(scope="module")
def library():
    return family_library(load_library())


@pytest.fixture(scope="module")
def own(library):
    """Return the type 6SN7GT and its family."""
    return library.find("6SN7GT")[0], library.families["6SN7GT"]


def fitted(family, scale: float = 1.0):
    """Return fit and constants of a tube that is ``scale`` times a family, free of noise."""
    readings = Readings(PLATE, GRID, scale * family.current(PLATE, GRID), np.arange(PLATE.size))
    fit = fit_sweep(readings)
    return fit, constants_at(fit, readings, AT)


def test_at_a_handbook_point_the_reference_is_what_is_printed(own):
    tube_type, family = own
    found = reference_constants(family, tube_type, AT)
    point = tube_type.bogey
    assert (point.plate_voltage, point.grid_voltage) == AT
    assert found.plate_current.value == point.plate_current.value
    assert found.transconductance.value == point.transconductance.value
    assert found.plate_current.u95 is None


def test_elsewhere_it_is_the_familys_own(own):
    tube_type, family = own
    found = reference_constants(family, tube_type, (200.0, -5.0))
    by_plate, by_grid = family.slopes(np.array([200.0]), np.array([-5.0]))
    assert found.plate_current.value == pytest.approx(float(family.current(200.0, -5.0)))
    assert found.plate_resistance.value == pytest.approx(1 / by_plate[0])
    assert found.amplification_factor.value == pytest.approx(by_grid[0] / by_plate[0])


def test_what_a_sheet_does_not_print_is_the_familys_own(own):
    tube_type, family = own
    bare = replace(tube_type.bogey, transconductance=None)
    found = reference_constants(family, replace(tube_type, points=(bare,)), AT)
    _, by_grid = family.slopes(np.array([250.0]), np.array([-8.0]))
    assert found.transconductance.value == pytest.approx(by_grid[0])


def test_where_the_family_has_no_current_there_is_no_reference(own):
    tube_type, family = own
    found = reference_constants(family, tube_type, (250.0, -1e4))
    assert found.plate_current.value is None
    assert found.plate_current.outcome is Outcome.NOT_COVERED


@pytest.mark.parametrize("scale", [0.6, 1.0, 1.3])
def test_a_scaled_family_lies_by_its_scale_from_it(own, scale):
    tube_type, family = own
    fit, constants = fitted(family, scale)
    reference = reference_constants(family, replace(tube_type, points=()), AT)
    found = compare(family, "same", fit.family, constants, reference, at=AT)
    assert found.of_bogey["plate_current"] == pytest.approx(scale, rel=0.01)
    assert found.of_bogey["transconductance"] == pytest.approx(scale, rel=0.01)
    assert found.of_bogey["plate_resistance"] == pytest.approx(1 / scale, rel=0.01)
    assert found.of_bogey["amplification_factor"] == pytest.approx(1.0, rel=0.01)
    assert found.family_deviation == pytest.approx(abs(scale - 1.0), abs=0.01)
    assert (found.type_name, found.why) == ("6SN7GT", "same")
    assert found.family_residual == family.residual


def test_only_what_is_covered_and_flows_is_compared(own):
    _, family = own
    fit, constants = fitted(family)
    found = compare(family, "same", fit.family, constants, constants, at=AT)
    assert fit.family.covers(found.plate_voltage, found.grid_voltage).all()
    current = family.current(found.plate_voltage, found.grid_voltage)
    assert current.min() > 0.02 * current.max() * 0.99
    with pytest.raises(ValueError, match="read-only"):
        found.deviation[0] = 0.0


def test_without_a_family_the_constants_alone_are_compared(own):
    tube_type, family = own
    reference = reference_constants(family, tube_type, AT)
    missing = Constant.missing(Outcome.NOT_COVERED, "one grid curve")
    partly = Constants(Constant(9e-3, 1e-5), missing, Constant(7700.0, 10.0), missing)
    found = compare(family, "stand-in", None, partly, reference, at=AT)
    assert set(found.of_bogey) == {"plate_current", "plate_resistance"}
    assert found.family_deviation is None
    assert found.deviation.size == 0
