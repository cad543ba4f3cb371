"""Behaviour: every shape of file a bench writes holds the same readings."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.sweep import RemarkCode, SweepKind

PLATE = (50, 100, 150, 200, 250)
GRID = (0, -2, -4)


def long_text(readings, heading="plate_v,grid_v,plate_ma"):
    return heading + "\n" + "".join(f"{vp},{vg},{ip}\n" for vp, vg, ip in readings)


def current(readings, vp, vg):
    return next(ip for a, b, ip in readings if (a, b) == (vp, vg))


def wide_text(readings, headings, corner="Vp", separator=","):
    rows = [separator.join([corner, *headings])]
    for vp in PLATE:
        cells = [str(vp), *(str(current(readings, vp, vg)) for vg in GRID)]
        rows.append(separator.join(cells))
    return "\n".join(rows) + "\n"


def test_long_file_with_every_column(read):
    result = read(
        "plate_v,grid_v,plate_ma,grid_ua,screen_v,screen_ma,heater_v,direction,time_s,section,tube\n"
        "100,-2,5.5,-0.1,90,0.5,6.3,up,0,1,B4\n"
        "150,-2,9.5,-0.2,90,0.6,6.3,up,1,1,B4\n"
        "150,-2,9.4,-0.3,90,0.7,6.2,down,2,1,B4\n"
    )
    (sweep,) = result.sweeps
    readings = sweep.readings
    assert (sweep.tube, sweep.section, sweep.kind) == ("B4", "1", SweepKind.CURVES)
    assert readings.line.tolist() == [2, 3, 4]
    np.testing.assert_allclose(readings.plate_current, [5.5e-3, 9.5e-3, 9.4e-3])
    np.testing.assert_allclose(readings.grid_current, [-1e-7, -2e-7, -3e-7])
    np.testing.assert_allclose(readings.screen_voltage, 90)
    np.testing.assert_allclose(readings.screen_current, [5e-4, 6e-4, 7e-4])
    np.testing.assert_allclose(readings.heater_voltage, [6.3, 6.3, 6.2])
    np.testing.assert_allclose(readings.time, [0, 1, 2])
    assert readings.direction.tolist() == [1, 1, -1]
    assert result.set_aside == ()


def test_long_file_says_what_it_understood(read, readings, same_family):
    result = read(long_text(readings))
    same_family(result.sweeps[0])
    (layout,) = [item for item in result.remarks if item.code is RemarkCode.LAYOUT]
    assert "long" in layout.text and "commas" in layout.text and not layout.guessed
    (columns,) = [item for item in result.remarks if item.code is RemarkCode.COLUMNS]
    assert "plate current from 'plate_ma'" in columns.text
    assert result.sweeps[0].readings.grid_current is None


@pytest.mark.parametrize(
    "headings",
    [
        ("0 V", "-2 V", "-4 V"),
        ("Vg=0", "Vg=-2", "Vg=-4"),
        ("Vg = 0 V", "Vg = -2 V", "Vg = -4 V"),
        ("0", "-2", "-4"),
        ("Ip @ 0 V", "Ip @ -2 V", "Ip @ -4 V"),
        ("Ia(0V)", "Ia(-2V)", "Ia(-4V)"),
        ("Ug1: 0", "Ug1: -2", "Ug1: -4"),
        ("Ip (mA) Vg=0", "Ip (mA) Vg=-2", "Ip (mA) Vg=-4"),
        ("0V (mA)", "-2V (mA)", "-4V (mA)"),
        ("0 V", "\u22122 V", "\u22124 V"),
    ],
)
def test_wide_file(read, readings, same_family, headings):
    result = read(wide_text(readings, headings))
    (sweep,) = result.sweeps
    same_family(sweep)
    assert sorted(sweep.readings.line) == sorted([2, 3, 4, 5, 6] * 3)


def test_wide_file_with_decimal_comma_steps(read, readings):
    text = wide_text(readings, ("-0,0", "-2,0", "-4,5"), "Ua/V", ";").replace(".", ",")
    (sweep,) = read(text).sweeps
    assert sorted(set(sweep.readings.grid_voltage)) == [-4.5, -2.0, 0.0]
    assert len(sweep.readings) == 15


@pytest.mark.parametrize("corner", ["Vp\\Vg", "Va/Vg", "", "Vp (V) \\ Ip (mA)", "Ip (mA)"])
def test_wide_file_with_a_corner(read, readings, same_family, corner):
    same_family(read(wide_text(readings, ("0", "-2", "-4"), corner, ";")).sweeps[0])


@pytest.mark.parametrize(
    ("corner", "headings"),
    [
        ("Vg", [f"{vp}" for vp in PLATE]),
        ("Vg (V)", [f"Vp={vp}" for vp in PLATE]),
        ("", [f"{vp} V" for vp in PLATE]),
        ("Vg\\Vp", [f"{vp}" for vp in PLATE]),
        ("Vg", [f"Ip @ {vp} V" for vp in PLATE]),
    ],
)
def test_transposed_wide_file(read, readings, same_family, corner, headings):
    rows = [";".join([corner, *headings])]
    for vg in GRID:
        rows.append(";".join([str(vg), *(str(current(readings, vp, vg)) for vp in PLATE)]))
    result = read("\n".join(rows))
    same_family(result.sweeps[0])
    assert "transposed" in result.remarks[0].text


def test_wide_file_with_holes_counts_filled_cells_only(read):
    result = read("Vp,0 V,-2 V,-4 V\n50,3.1,,\n100,9.0,4.2,\n150,,9.4,5.0\n")
    assert len(result.sweeps[0].readings) == 5
    assert result.set_aside == ()


def test_wide_file_with_grid_current_columns(read):
    result = read(
        "Vp;Ip(mA) @ -2 V;Ig(uA) @ -2 V;Ip(mA) @ -4 V;Ig(uA) @ -4 V\n"
        "100;4;-0.04;2;-0.02\n150;8;-0.08;4;-0.04\n"
    )
    readings = result.sweeps[0].readings
    np.testing.assert_allclose(readings.plate_current, [4e-3, 8e-3, 2e-3, 4e-3])
    np.testing.assert_allclose(readings.grid_current, [-4e-8, -8e-8, -2e-8, -4e-8])


@pytest.mark.parametrize(
    "line",
    [
        "Curve 3: Vg = {} V",
        "step 3, Vg = {} V",
        "grid_v = {}",
        "Vg: {} V",
        "# Vg = {} V",
        "Ug1;{}",
        "grid voltage = {}",
        "Vg={}V,,",
    ],
)
def test_blocks(read, readings, same_family, line):
    separator = ";" if ";" in line else ","
    parts = []
    for vg in GRID:
        parts.append(line.format(vg))
        parts.append(separator.join(("Va", "Ia (mA)")))
        parts += [f"{vp}{separator}{current(readings, vp, vg)}" for vp in PLATE]
        parts.append("")
    result = read("\n".join(parts))
    same_family(result.sweeps[0])
    assert "3 blocks" in result.remarks[0].text


def test_blocks_with_one_heading_for_all(read, readings, same_family):
    parts = ["Vp;Ip (mA)"]
    for vg in GRID:
        parts += [f"Vg = {vg}"] + [f"{vp};{current(readings, vp, vg)}" for vp in PLATE]
    same_family(read("\n".join(parts)).sweeps[0])


def test_blocks_at_constant_plate_voltage(read, readings, same_family):
    parts = []
    for vp in PLATE:
        parts += [f"plate_v = {vp}", "grid_v,plate_ma"]
        parts += [f"{vg},{current(readings, vp, vg)}" for vg in GRID]
    same_family(read("\n".join(parts)).sweeps[0])


def test_blocks_of_screen_voltage_keep_each_reading_with_its_own(read):
    result = read(
        "screen_v = 200\nVp,Vg,Ip (mA)\n100,-2,20\n150,-2,21\n"
        "screen_v = 250\nVp,Vg,Ip (mA)\n100,-2,30\n150,-2,31\n"
    )
    assert result.sweeps[0].readings.screen_voltage.tolist() == [200, 200, 250, 250]


def test_constant_screen_voltage_above_the_rows_is_a_condition(read):
    (sweep,) = read("screen_v = 250\nVp,Vg,Ip (mA)\n100,-2,20\n150,-2,21\n").sweeps
    assert sweep.conditions.screen_voltage == 250
    assert sweep.readings.screen_voltage is None


def test_several_tubes_by_column(read, readings):
    rows = "".join(f"{tube},{vp},{vg},{ip}\n" for vp, vg, ip in readings for tube in ("A1", "A2"))
    result = read("tube,plate_v,grid_v,plate_ma\n" + rows)
    assert [sweep.tube for sweep in result.sweeps] == ["A1", "A2"]
    assert [len(sweep.readings) for sweep in result.sweeps] == [15, 15]
    assert result.sweeps[1].readings.line.tolist() == list(range(3, 33, 2))


def test_sections_by_column(read, readings):
    rows = "".join(f"{vp},{vg},{ip},{s}\n" for vp, vg, ip in readings for s in (1, 2))
    result = read("# tube: C9\nplate_v,grid_v,plate_ma,section\n" + rows)
    assert [(sweep.tube, sweep.section) for sweep in result.sweeps] == [("C9", "1"), ("C9", "2")]


def test_tubes_by_repeated_metadata(read):
    result = read(
        "# bench: north\n# type: 6SN7GTB\n# tube: A1\n# section: 1\n# shorts: g-k\n"
        "plate_v,grid_v,plate_ma\n100,-2,5\n150,-2,9\n"
        "# section: 2\nplate_v,grid_v,plate_ma\n100,-2,5.1\n150,-2,9.1\n"
        "# date: 2026-11-03\n# tube: A2\n100,-2,5.2\n150,-2,9.2\n"
        "# note: last of the box\n"
    )
    titles = [(sweep.tube, sweep.section, sweep.type_label) for sweep in result.sweeps]
    assert titles == [("A1", "1", "6SN7GTB"), ("A1", "2", "6SN7GTB"), ("A2", None, "6SN7GTB")]
    first, second, third = result.sweeps
    assert first.conditions.shorts == "g-k"
    assert second.conditions.shorts is None and third.conditions.shorts is None
    assert "date" not in second.metadata and third.metadata["date"] == "2026-11-03"
    assert third.metadata["note"] == "last of the box"
    assert third.metadata["bench"] == "north"
    assert third.readings.line.tolist() == [15, 16]


def test_second_heading_with_other_columns(read):
    result = read(
        "plate_v,grid_v,plate_ma\n100,-2,5\n150,-2,9\n"
        "grid_v,plate_ua,plate_v,grid_ua\n-8,50,150,-0.1\n-9,5,150,-0.1\n"
    )
    (sweep,) = result.sweeps
    np.testing.assert_allclose(sweep.readings.plate_current, [5e-3, 9e-3, 5e-5, 5e-6])
    assert np.isnan(sweep.readings.grid_current).tolist() == [True, True, False, False]


def test_file_name_is_the_tube_when_nothing_else_says(read, readings):
    assert read(long_text(readings), "box 3 no 7.csv").sweeps[0].tube == "box 3 no 7"
    assert read("# tube: X1\n" + long_text(readings)).sweeps[0].tube == "X1"


def test_columns_without_a_heading(read, readings, same_family):
    rows = "".join(f"{vg},{ip},{vp}\n" for vp, vg, ip in readings)
    result = read(rows)
    same_family(result.sweeps[0])
    guess = [item for item in result.remarks if item.code is RemarkCode.COLUMNS]
    assert guess[0].guessed and "grid voltage, plate current, plate voltage" in guess[0].text


def test_heading_in_a_comment(read, readings, same_family):
    same_family(read(long_text(readings, "# plate_v,grid_v,plate_ma")).sweeps[0])


def test_measured_column_goes_before_a_demanded_one(read):
    result = read("Vp set (V),Vp meas (V),Vg,Ip (mA)\n100,99.5,-2,5\n150,149.2,-2,9\n")
    assert result.sweeps[0].readings.plate_voltage.tolist() == [99.5, 149.2]
    assert any("Vp set (V)" in item.text for item in result.remarks)


def test_second_heading_in_a_comment(read):
    result = read(
        "# plate_v,grid_v,plate_ma\n100,-2,5\n150,-2,9\n# grid_v,plate_v,plate_ma\n-4,150,3\n"
    )
    assert result.sweeps[0].readings.plate_voltage.tolist() == [100, 150, 150]
    assert result.sweeps[0].readings.grid_voltage.tolist() == [-2, -2, -4]


def test_wide_heading_with_an_empty_corner_repeated(read):
    result = read(";0;-2\n100;9;5\n;0;-2\n150;15;9\n")
    np.testing.assert_allclose(
        sorted(result.sweeps[0].readings.plate_current), [5e-3, 9e-3, 9e-3, 15e-3]
    )
    assert result.set_aside == ()
