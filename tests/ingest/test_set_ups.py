"""Behaviour: readings of one tube under two set-ups keep their own grid resistor and heater."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.ingest import read_file, write_sweep

ROWS = "250,-8,9.0\n250,-6,12.9\n200,-6,8.1\n"


def test_a_resistor_stated_before_the_second_block_is_that_blocks_alone(read):
    (sweep,) = read(
        f"# tube: A17\nplate_v,grid_v,plate_ma\n{ROWS}"
        f"# grid resistor: 470k\nplate_v,grid_v,plate_ma\n{ROWS}"
    ).sweeps
    assert sweep.readings.grid_resistor.tolist() == [0, 0, 0, 470e3, 470e3, 470e3]
    assert sweep.conditions.grid_resistor is None


@pytest.mark.parametrize(
    "heading", ["Rg (kohm)", "grid_resistor_kohm", "grid resistor [kohm]", "Rg/kohm"]
)
def test_a_column_of_resistors_is_read(read, heading):
    (sweep,) = read(
        f"plate_v,grid_v,plate_ma,{heading}\n250,-8,9.0,0\n250,-8,9.4,470\n200,-8,5,\n"
    ).sweeps
    assert sweep.readings.grid_resistor.tolist() == [0, 470e3, 0]


def test_one_resistor_throughout_is_a_condition(read):
    for text in (
        f"# grid resistor: 100k\nplate_v,grid_v,plate_ma\n{ROWS}",
        f"plate_v,grid_v,plate_ma\n{ROWS}# grid resistor: 100k\n",
    ):
        (sweep,) = read(text).sweeps
        assert sweep.readings.grid_resistor is None
        assert sweep.conditions.grid_resistor == 100e3


def test_heater_volts_of_two_blocks_are_kept_apart(read):
    (sweep,) = read(
        f"# heater volts: 6.3\nplate_v,grid_v,plate_ma\n{ROWS}"
        f"# heater volts: 5.7\nplate_v,grid_v,plate_ma\n{ROWS}"
    ).sweeps
    assert sweep.readings.heater_voltage.tolist() == [6.3] * 3 + [5.7] * 3


def test_a_mixed_sweep_is_written_and_read_back(read, tmp_path):
    (sweep,) = read(
        f"plate_v,grid_v,plate_ma\n{ROWS}# grid resistor: 470k\nplate_v,grid_v,plate_ma\n{ROWS}"
    ).sweeps
    path = tmp_path / "out.csv"
    path.write_text(write_sweep(sweep), encoding="utf-8")
    (again,) = read_file(path).sweeps
    np.testing.assert_array_equal(again.readings.grid_resistor, sweep.readings.grid_resistor)
    assert again.conditions == sweep.conditions
