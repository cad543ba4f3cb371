"""Published: families from handbook points and published curves, against both."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.ingest import read_file
from curvelab.reference.families import family_library
from curvelab.reference.identity import rank_types
from curvelab.reference.loader import load_library
from curvelab.reference.solve import is_solvable, solve_families

_DATA = Path(__file__).parents[1] / "data" / "outside"
# The types every workshop meets; each must have a family.
_WANTED = (
    "12AX7 12AU7 12AT7 6SN7GTB 6SL7GT 6DJ8 6922 12BH7A 5687 6J5 6AS7G 6SN7GT 27 10 801A 2A3 "
    "300B 45 211 845"
).split()


@pytest.fixture(scope="module")
def library():
    return family_library(load_library())


def test_forty_types_have_a_family(library):
    assert len(library.types.names) >= 45
    assert len(library.families) >= 40


@pytest.mark.parametrize("name", _WANTED)
def test_the_family_meets_the_printed_figures(library, name):
    family = library.families[name]
    # Published curves lead, and a sheet's drawing and its table differ: the widest gap is the
    # 12AX7's at 100 V, -1 V (gm 1250 umho printed, 1045 drawn). The residual is the result.
    loose = 0.15 if family.followed is None else 0.20
    for label, residual in family.residual.items():
        tube_type, _ = library.find(name)
        volts = [f"{p.plate_voltage:.4g} V, {p.grid_voltage:.4g} V" for p in tube_type.points]
        if label.rsplit(":", 1)[0] not in volts:
            assert abs(np.log10(1 + residual)) < 1.0, label  # a cut-off: within a decade
        elif label.endswith("Ip"):
            assert abs(residual) < 0.05, label
        else:
            assert abs(residual) < loose, label


# Readings of the published average curves (sources in the files) against the family solved
# from the printed table alone. The 1945 sheet's curve and table differ among themselves.
_CURVES = [
    ("C1-12AX7-triode.csv", "12AX7", 0.10, 0.015),
    ("C5-12AU7-triode.csv", "12AU7", 0.10, 0.03),
    ("C6-6SL7GT-triode.csv", "6SL7GT", 0.10, 0.03),
    ("D1-6SN7GT-triode.csv", "6SN7GT", 0.22, 0.025),
]


def _deviation(family, file):
    readings = read_file(_DATA / file).sweeps[0].readings
    flowing = readings.plate_current > 0.1 * readings.plate_current.max()
    current = family.current(readings.plate_voltage[flowing], readings.grid_voltage[flowing])
    ratio = current / readings.plate_current[flowing] - 1.0
    return np.sqrt(np.mean(ratio**2))


@pytest.mark.parametrize(("file", "name", "most", "_"), _CURVES)
def test_a_family_of_points_alone_lies_near_the_published_curves(library, file, name, most, _):
    (family,) = solve_families([replace(library.types.types[name], curves=())])
    assert _deviation(family, file) < most


@pytest.mark.parametrize(("file", "name", "_", "most"), _CURVES)
def test_a_family_with_curves_follows_them_to_their_accuracy(library, file, name, _, most):
    assert _deviation(library.families[name], file) < most


def test_a_triode_connected_pentode_has_its_published_curves(library):
    # Philips EL84 data sheets 1-6, A-M, page D: read to about 0.7 mA, drawn to about 1 mA.
    readings = read_file(_DATA / "C3-EL84-triode.csv").sweeps[0].readings
    current = library.families["EL84"].current(readings.plate_voltage, readings.grid_voltage)
    assert np.sqrt(np.mean((current - readings.plate_current) ** 2)) < 1e-3


@pytest.mark.parametrize("name", ["12AX7", "12AU7", "6SN7GT"])
def test_beyond_its_curves_a_family_goes_on_as_physics_has_it(library, name):
    # Along Vg = 0 a triode's current rises with about the 3/2 power (Child 1911); a law fitted
    # to the 12AX7's curves alone would take the power 2.1.
    family = library.families[name]
    plate = family.region.most_voltage * np.array([1.0, 1.4])
    assert not family.covers(plate, np.zeros(2)).any()
    low, high = family.current(plate, np.zeros(2))
    assert 1.0 < np.log(high / low) / np.log(1.4) < 1.7


def test_points_that_leave_mu_open_make_no_family(library):
    # Tung-Sol 6550 data sheet, from memory: one point with plate and screen at 250 V.
    assert not is_solvable(library.types.types["6550"])
    assert "6550" not in library.families


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("C1-12AX7-triode.csv", "12AX7"),
        ("C5-12AU7-triode.csv", "12AU7"),
        ("C6-6SL7GT-triode.csv", "6SL7GT"),
        ("D1-6SN7GT-triode.csv", "6SN7GT"),
        ("C3-EL84-triode.csv", "EL84"),
    ],
)
def test_published_curves_are_ranked_as_their_own_type(library, file, name):
    readings = read_file(_DATA / file).sweeps[0].readings
    found = rank_types(
        library.families,
        library.classes,
        readings.plate_voltage,
        readings.grid_voltage,
        readings.plate_current,
    )
    assert name in found.candidates[0].type_names
    assert sum(candidate.odds for candidate in found.candidates) == pytest.approx(1.0)


def test_types_of_one_electrode_system_are_one_class(library):
    # GE Five-Star data sheets (5751, 5814A), from memory: a 5814A is a ruggedised 12AU7.
    for together in ({"12AU7", "5814A"}, {"6SN7GT", "6SN7GTB", "6J5"}, {"2A3", "6B4G"}):
        assert any(together <= set(group) for group in library.classes)
    for apart in ({"12AX7", "6SL7GT"}, {"12AX7", "12AU7"}, {"2A3", "300B"}, {"211", "845"}):
        assert not any(apart <= set(group) for group in library.classes)


def test_a_family_says_where_it_extrapolates(library):
    family = library.families["6SN7GT"]
    assert family.covers(np.array([250.0]), np.array([-8.0]))[0]
    assert not family.covers(np.array([800.0]), np.array([-8.0]))[0]
    assert family.origin.startswith("follows 139 readings of the curves in Tung-Sol 6SN7GT")
    points = library.families["6SN7GTB"]
    assert points.covers(np.array([250.0]), np.array([-8.0]))[0]
    assert not points.covers(np.array([800.0]), np.array([-8.0]))[0]
    assert points.origin.startswith("solved from 2 handbook points")
