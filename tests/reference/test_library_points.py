"""Closed form and published: printed supply and cathode bias become electrode volts."""

from __future__ import annotations

import pytest

from curvelab.errors import ReferenceDataError
from curvelab.reference.loader import load_library
from curvelab.reference.points import PrintedBias, electrode_volts
from curvelab.reference.records import Status


def test_printed_electrode_volts_are_left_alone():
    volts = electrode_volts(PrintedBias(plate_voltage=250.0, grid_voltage=-8.0), None)
    assert (volts.plate_voltage, volts.grid_voltage, volts.converted) == (250.0, -8.0, None)


def test_ohm_s_law_takes_every_drop_off_the_supply():
    # 300 V - 2 mA x (1 kohm + 50 kohm) = 198 V and 4 V - 2 mA x 1 kohm = 2 V.
    bias = PrintedBias(
        supply_voltage=300.0,
        grid_supply_voltage=4.0,
        cathode_resistance=1e3,
        plate_circuit_resistance=50e3,
    )
    volts = electrode_volts(bias, 2e-3)
    assert volts.plate_voltage == pytest.approx(198.0)
    assert volts.grid_voltage == pytest.approx(2.0)


def test_a_grid_voltage_to_the_cathode_may_stand_beside_a_supply():
    bias = PrintedBias(supply_voltage=100.0, grid_voltage=-1.0, cathode_resistance=1e3)
    volts = electrode_volts(bias, 1e-3)
    assert (volts.plate_voltage, volts.grid_voltage) == (pytest.approx(99.0), -1.0)


@pytest.mark.parametrize(
    ("type_name", "plate_ma", "plate_v", "grid_v", "words"),
    [
        # GE 12AT7 Description and Rating ET-T1440, 2-57: 100 V and 250 V plate to cathode.
        ("12AT7", 3.7, 100.0, -0.999, "3.7 mA x 270 ohm"),
        ("12AT7", 10.0, 250.0, -2.0, "10 mA x 200 ohm"),
        # Philips E88CC / 6922 special-quality tube data, December 1968: supplies.
        ("6922", 15.0, 89.8, -1.2, "9 V - 15 mA x 680 ohm"),
        ("6922", 12.0, 88.56, -1.44, "12 mA x 120 ohm"),
        # RCA 6AS7-G / 6080 handbook sheets, from memory: 135 V supply.
        ("6AS7G", 125.0, 103.75, -31.25, "125 mA x 250 ohm"),
    ],
)
def test_cathode_bias_points_of_the_library(type_name, plate_ma, plate_v, grid_v, words):
    points = load_library().find(type_name)[0].points
    (point,) = (p for p in points if p.plate_current.value == pytest.approx(plate_ma * 1e-3))
    assert point.plate_voltage == pytest.approx(plate_v, abs=1e-9)
    assert point.grid_voltage == pytest.approx(grid_v, abs=1e-9)
    assert words in point.converted


def test_a_converted_point_is_no_better_known_than_what_it_rests_on():
    types = [load_library().find(name)[0] for name in ("6AS7G", "6922")]
    assert [found.bogey.status for found in types] == [Status.FROM_MEMORY, Status.VERIFIED]


@pytest.mark.parametrize(
    ("bias", "current", "wanted"),
    [
        (PrintedBias(grid_voltage=-8.0), 9e-3, "plate voltage or the supply"),
        (PrintedBias(plate_voltage=9.0, supply_voltage=9.0, grid_voltage=-1.0), 1e-3, "either"),
        (PrintedBias(plate_voltage=250.0), 9e-3, "grid voltage or a cathode resistor"),
        (
            PrintedBias(plate_voltage=250.0, grid_voltage=-8.0, cathode_resistance=1e3),
            9e-3,
            "got both",
        ),
        (
            PrintedBias(plate_voltage=250.0, grid_voltage=-8.0, grid_supply_voltage=9.0),
            9e-3,
            "got both",
        ),
        (PrintedBias(plate_voltage=250.0, cathode_resistance=200.0), None, "plate current"),
        (PrintedBias(supply_voltage=250.0, grid_voltage=-1.0), None, "plate current"),
    ],
)
def test_figures_that_make_no_point_are_refused(bias, current, wanted):
    with pytest.raises(ReferenceDataError, match=wanted):
        electrode_volts(bias, current)
