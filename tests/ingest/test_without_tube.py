"""Behaviour and refusal: sweeps of a resistor or an empty socket, read without guesses on tubes."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.sweep.records import RemarkCode

ROWS = "50{0},5.0\n100{0},10.0\n150{0},15.0\n200{0},20.0\n"


@pytest.mark.parametrize(
    ("content", "grid"),
    [
        ("plate_v,plate_ma\n" + ROWS.format(""), 0.0),
        ("plate_v,grid_v,plate_ma\n" + ROWS.format(",-5"), -5.0),
        ("plate_v,grid_v,plate_ma\n" + ROWS.format(",5"), 5.0),  # no bias to be turned round
        ("plate_v,grid_v,plate_ma\n" + ROWS.format(","), 0.0),  # an empty column
        ("plate_v,plate_ma\nVg = -2\n" + ROWS.format(""), -2.0),
    ],
)
def test_a_grid_voltage_may_be_missing_or_constant(read, content, grid):
    (sweep,) = read(content, tube_in_socket=False).sweeps
    np.testing.assert_allclose(sweep.readings.plate_voltage, [50, 100, 150, 200])
    np.testing.assert_allclose(sweep.readings.grid_voltage, grid)
    np.testing.assert_allclose(sweep.readings.plate_current, [5e-3, 10e-3, 15e-3, 20e-3])
    assert not any(remark.guessed for remark in sweep.remarks)


def test_a_grid_voltage_that_was_filled_in_is_said(read):
    (sweep,) = read("plate_v,plate_ma\n" + ROWS.format(""), tube_in_socket=False).sweeps
    assert any("taken at 0 V" in remark.text for remark in sweep.remarks)
    (stated,) = read("plate_v,grid_v,plate_ma\n" + ROWS.format(",-5"), tube_in_socket=False).sweeps
    assert not any("taken at 0 V" in remark.text for remark in stated.remarks)


def test_with_a_tube_a_missing_grid_voltage_is_refused_as_before(read):
    with pytest.raises(SweepFileError, match="names no grid voltage"):
        read("plate_v,plate_ma\n" + ROWS.format(""))


def test_a_zero_that_lies_below_nothing_keeps_its_sign(read):
    content = "plate_v,grid_v,plate_ua,grid_ua\n" + "".join(
        f"{volt},-5,{-0.01 * volt},{0.001 * volt}\n" for volt in range(0, 301, 50)
    )
    (sweep,) = read(content, tube_in_socket=False).sweeps
    assert sweep.readings.plate_current[-1] == pytest.approx(-3e-6)
    assert sweep.readings.grid_current[-1] == pytest.approx(0.3e-6)
    assert not sweep.has_remark(RemarkCode.REVERSED)
    (as_tube,) = read(content).sweeps
    assert as_tube.has_remark(RemarkCode.REVERSED)  # what a tube would mean by it


def test_the_files_own_word_on_the_sign_of_grid_current_holds(read):
    content = "# grid current sign: reverse positive\nplate_v,plate_ua,grid_ua\n" + "".join(
        f"{volt},0.1,0.02\n" for volt in range(0, 301, 50)
    )
    (sweep,) = read(content, tube_in_socket=False).sweeps
    assert sweep.readings.grid_current[0] == pytest.approx(-0.02e-6)


def test_a_unit_is_asked_for_where_only_a_tube_would_tell_it(read):
    content = "plate_v,Ip\n50,0.001\n100,0.002\n200,0.001\n"
    with pytest.raises(AmbiguousFileError) as error:
        read(content, tube_in_socket=False)
    choice = "plate current in µA"
    assert choice in error.value.choices
    (sweep,) = read(content, tube_in_socket=False, answers=(choice,)).sweeps
    assert sweep.readings.plate_current[1] == pytest.approx(2e-9)


def test_a_resistor_that_is_stated_tells_the_unit(read):
    content = "plate_v,Ip\n50,0.005\n100,0.01\n200,0.02\n"
    (sweep,) = read(
        content,
        tube_in_socket=False,
        type_name="resistor",
        expected_current=lambda _, plate, __: plate / 10e3,
    ).sweeps
    assert sweep.readings.plate_current[1] == pytest.approx(0.01)


def test_resistors_in_the_leads_are_still_taken_off(read):
    content = "# plate resistor: 1000 ohm\nplate_v,plate_ma\n" + ROWS.format("")
    (sweep,) = read(content, tube_in_socket=False).sweeps
    assert sweep.readings.plate_voltage[-1] == pytest.approx(180.0)
