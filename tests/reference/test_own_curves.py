"""Published and refusal: a family from curves that somebody read off a sheet."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.errors import ReferenceDataError
from curvelab.ingest import read_file
from curvelab.reference.loader import load_library
from curvelab.reference.own_curves import family_of_curves
from curvelab.sweep.records import Readings
from simulator.pentode import plan_for, random_pentode, run_pentode_sweep

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


# Accuracies as their files state them: 1 mA, and 0.3 mA with 2 V.
@pytest.mark.parametrize("file", ["C4-EL84-pentode.csv", "D4-6V6-tetrode.csv"])
def test_curves_with_a_screen_make_a_family_of_an_unknown_type(file):
    readings = with_screen(readings_of(file), 250.0)
    own = family_of_curves(readings, "mine", None, "no such tube")
    assert own.family.screen_voltage == 250.0
    assert own.family.origin == f"follows {len(readings)} readings of the curves in mine"
    flowing = readings.plate_current > 0.1 * readings.plate_current.max()
    current = own.family.current(readings.plate_voltage, readings.grid_voltage)
    ratio = (current / readings.plate_current - 1.0)[flowing]
    assert np.sqrt(np.mean(ratio**2)) < 0.02
    assert own.family.covers(readings.plate_voltage, readings.grid_voltage).all()
    there = own.family.at_screen(200.0)
    assert not there.covers(readings.plate_voltage, readings.grid_voltage).any()


def test_points_of_a_known_type_check_its_curves_with_a_screen():
    readings = with_screen(readings_of("C4-EL84-pentode.csv"), 250.0)
    own = family_of_curves(readings, "mine", load_library().types["EL84"], "EL84")
    # Philips EL84: 48 mA at 250 V, -7.3 V, screen 250 V; the drawing reads 3 % more there.
    label = "250 V, -7.3 V, screen 250 V: Ip"
    assert own.family.residual[label] == pytest.approx(0.03, abs=0.02)
    assert "checked by 3 handbook points" in own.family.origin


def test_curves_at_two_screen_voltages_with_the_screens_current_are_followed_at_both():
    tube = random_pentode(np.random.default_rng(11))
    plan = replace(plan_for(tube, screens=(150.0, 250.0)), screen_metered=True)
    readings = run_pentode_sweep(tube, plan, np.random.default_rng(12))
    own = family_of_curves(readings, "mine", None, "no such tube")
    assert [item.screen_voltage for item in own.tube_type.curves] == [150.0, 250.0]
    for screen in (150.0, 200.0, 250.0):
        there = own.family.at_screen(screen)
        volts, bias = np.array([200.0]), np.array([0.4 * plan.grid_voltage[-1] * screen / 250.0])
        assert there.covers(volts, bias).all()
        plate, drawn = tube.currents(volts, bias, screen)
        assert there.current(volts, bias) == pytest.approx(plate, rel=0.05)
        assert there.screen_current(volts, bias) == pytest.approx(drawn, rel=0.15)


def with_screen(readings: Readings, volts: float) -> Readings:
    return replace(readings, screen_voltage=np.full(len(readings), volts))
