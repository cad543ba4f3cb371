"""Behaviour and refusal: units that a file does not state."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.errors import AmbiguousFileError
from curvelab.sweep import RemarkCode


def family(type_name, plate_voltage, grid_voltage):
    """Return an invented type's current [A]: 9 mA at 250 V, -8 V."""
    if type_name != "T9":
        return None
    drive = np.maximum(np.asarray(grid_voltage) + np.asarray(plate_voltage) / 20.0, 0.0)
    return 9e-3 * (drive / 4.5) ** 1.5


def rows(scale, heading="plate_v,grid_v,plate_current", type_name="T9"):
    plate, grid = np.meshgrid([150.0, 200.0, 250.0], [-4.0, -6.0, -8.0])
    current = family("T9", plate, grid) * scale
    lines = [f"# type: {type_name}", heading]
    table = zip(plate.flat, grid.flat, current.flat, strict=True)
    return "\n".join([*lines, *(f"{a},{b},{c:.9g}" for a, b, c in table)])


@pytest.mark.parametrize("scale", [1.0, 1e3, 1e6])
@pytest.mark.parametrize("strength", [1 / 6, 1.0, 4.0])
def test_the_type_decides(read, scale, strength):
    result = read(rows(scale * strength), expected_current=family)
    expected = family("T9", 250.0, -8.0) * strength
    np.testing.assert_allclose(result.sweeps[0].readings.plate_current[-1], expected, rtol=1e-6)
    (remark,) = [item for item in result.remarks if item.code is RemarkCode.UNITS_GUESSED]
    assert remark.guessed and "handbook" in remark.text


def test_the_type_given_by_hand_goes_before_the_files(read):
    text = rows(1.0, type_name="T0")
    with pytest.raises(AmbiguousFileError):
        read(text.replace("0.00", "0.9"), expected_current=family)
    result = read(rows(1e3, type_name="T0"), type_name="T9", expected_current=family)
    np.testing.assert_allclose(result.sweeps[0].readings.plate_current[-1], 9e-3)
    assert result.sweeps[0].type_label == "T0"


def test_a_type_that_agrees_with_no_unit_falls_back_to_the_range(read):
    result = read(rows(1e3 * 20), expected_current=family)
    assert result.sweeps[0].readings.plate_current.max() < 1.0


@pytest.mark.parametrize(
    ("largest", "amperes"), [(0.05, 0.05), (9.0, 9e-3), (2.5, 2.5e-3), (450.0, 0.45)]
)
def test_the_range_decides_without_a_type(read, largest, amperes):
    result = read(f"Vp,Vg,Ip\n100,-2,{largest / 3}\n150,-2,{largest}\n")
    assert result.sweeps[0].readings.plate_current.max() == pytest.approx(amperes)
    assert any(item.code is RemarkCode.UNITS_GUESSED and item.guessed for item in result.remarks)


@pytest.mark.parametrize("largest", [0.5, 1.2, 900.0])
def test_where_the_range_cannot_decide_the_reader_asks(read, largest):
    text = f"Vp,Vg,Ip\n100,-2,{largest / 3}\n150,-2,{largest}\n"
    with pytest.raises(AmbiguousFileError) as caught:
        read(text)
    assert len(caught.value.choices) == 2 and "A17.csv" in str(caught.value)
    for choice, factor in zip(caught.value.choices, (1.0, 1e-3), strict=True):
        if largest == 900.0:
            factor *= 1e-3
        result = read(text, answers=(choice,))
        assert result.sweeps[0].readings.plate_current.max() == pytest.approx(largest * factor)


def test_a_stated_unit_is_never_second_guessed(read):
    result = read(rows(1.0, "plate_v,grid_v,plate_ma"), expected_current=family)
    assert result.sweeps[0].readings.plate_current.max() < 1e-4
    assert not any(item.code is RemarkCode.UNITS_GUESSED for item in result.remarks)


def test_a_unit_in_one_block_serves_the_others(read):
    result = read("Vg = -2\nVp;Ip (uA)\n100;500\n150;900\nVg = -4\nVp;Ip\n100;300\n150;500\n")
    np.testing.assert_allclose(result.sweeps[0].readings.plate_current, [5e-4, 9e-4, 3e-4, 5e-4])


def test_small_plate_voltage_is_asked_for(read):
    text = "Vp,Vg,Ip (mA)\n0.1,-2,5\n0.25,-2,9\n"
    with pytest.raises(AmbiguousFileError) as caught:
        read(text)
    assert caught.value.choices == ("plate voltage in V", "plate voltage in kV")
    (sweep,) = read(text, answers=("plate voltage in kV",)).sweeps
    assert sweep.readings.plate_voltage.tolist() == [100, 250]


@pytest.mark.parametrize(
    ("largest", "amperes"), [(2e-6, 2e-6), (0.3, 3e-7), (20.0, 2e-5), (1e-4, 1e-4)]
)
def test_grid_current_without_a_unit(read, largest, amperes):
    result = read(f"Vp,Vg,Ip (mA),Ig\n100,-2,5,{-largest / 2}\n150,-2,9,{-largest}\n")
    assert result.sweeps[0].readings.grid_current.min() == pytest.approx(-amperes)


def test_grid_current_that_cannot_be_told_is_asked_for(read):
    with pytest.raises(AmbiguousFileError, match="grid current"):
        read("Vp,Vg,Ip (mA),Ig\n100,-2,5,-0.004\n150,-2,9,-0.008\n")


def test_grid_millivolts_and_log_milliseconds(read):
    result = read("t,Vp,Vg,Ip (mA)\n0,250,-8000,9\n30000,250,-8000,9.1\n60000,250,-8000,9.1\n")
    readings = result.sweeps[0].readings
    assert readings.grid_voltage.tolist() == [-8, -8, -8]
    assert readings.time.tolist() == [0, 30, 60]


def test_two_columns_of_the_same_are_asked_for(read):
    text = "Vp,Vg,Ip (mA),Ia (mA)\n100,-2,5,6\n150,-2,9,10\n"
    with pytest.raises(AmbiguousFileError) as caught:
        read(text)
    (sweep,) = read(text, answers=(caught.value.choices[1],)).sweeps
    np.testing.assert_allclose(sweep.readings.plate_current, [6e-3, 10e-3])
