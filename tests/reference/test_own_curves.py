"""Published and refusal: a family from curves that somebody read off a sheet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curvelab.errors import ReferenceDataError
from curvelab.ingest import read_file
from curvelab.reference.loader import load_library
from curvelab.reference.own_curves import family_of_curves
from curvelab.sweep.records import Readings

_DATA = Path(__file__).parents[1] / "data" / "outside"


def readings_of(file: str) -> Readings:
    return read_file(_DATA / file).sweeps[0].readings


# Sources in the files. Accuracies: 2 V and 0.01 mA; 0.15 mA; 3 V and 0.05 mA; 1 V and 0.05 mA.
@pytest.mark.parametrize(
    "file",
    [
        "C1-12AX7-triode.csv",
        "C3-EL84-triode.csv",
        "C5-12AU7-triode.csv",
        "C6-6SL7GT-triode.csv",
        "D1-6SN7GT-triode.csv",
    ],
)
def test_the_family_follows_the_readings_of_an_unknown_type(file):
    readings = readings_of(file)
    own = family_of_curves(readings, "mine", None, "no such tube")
    assert own.family.type_name == own.tube_type.name == "no such tube"
    assert own.family.origin == f"follows {len(readings)} readings of the curves in mine"
    flowing = readings.plate_current > 0.1 * readings.plate_current.max()
    current = own.family.current(readings.plate_voltage, readings.grid_voltage)
    ratio = (current / readings.plate_current - 1.0)[flowing]
    assert np.sqrt(np.mean(ratio**2)) < 0.04
    assert own.family.covers(readings.plate_voltage, readings.grid_voltage).all()


def test_the_points_of_a_known_type_become_the_check():
    twelve = load_library().types["12AX7"]
    own = family_of_curves(readings_of("C1-12AX7-triode.csv"), "mine", twelve, "12AX7")
    assert own.tube_type.bogey is twelve.bogey
    # RCA 12AX7-A: 1.2 mA at 250 V, -2 V; the drawing reads 1.25 mA there.
    assert own.family.residual["250 V, -2 V: Ip"] == pytest.approx(0.04, abs=0.02)
    assert "checked by 2 handbook points" in own.family.origin


@pytest.mark.parametrize(
    ("plate", "grid", "current"),
    [
        ([100, 150, 200, 250, 300, 350], [-2] * 6, [1, 2, 3, 4, 5, 6]),
        ([100, 150, 200], [-2, -2, -4], [1, 2, 1]),
        ([100, 150, 200, 250, 300, 350], [-2, -2, -2, -4, -4, -4], [0.0] * 6),
    ],
)
def test_readings_that_make_no_family_are_refused(plate, grid, current):
    readings = Readings(
        plate_voltage=np.array(plate, dtype=float),
        grid_voltage=np.array(grid, dtype=float),
        plate_current=np.array(current) * 1e-3,
        line=np.arange(len(plate)),
    )
    with pytest.raises(ReferenceDataError, match="make no reference family"):
        family_of_curves(readings, "mine", None, "x")
