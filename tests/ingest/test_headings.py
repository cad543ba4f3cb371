"""Behaviour: names and units of columns, in the trade's and the standards' symbols."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.ingest.headings import Column, read_heading
from curvelab.ingest.units import find_unit

SYMBOLS = {
    Column.PLATE_VOLTAGE: "Vp Va Ua Eb Ep plate anode plate_v anode_voltage V_a U_{a} Uanode",
    Column.GRID_VOLTAGE: "Vg Vg1 Ug Ug1 Ec Ec1 grid bias grid_v V_g1 grid_bias",
    Column.PLATE_CURRENT: "Ip Ia Ib plate_current anode_current I_a plate_ma anode_mA mA",
    Column.GRID_CURRENT: "Ig Ig1 Ic Ic1 grid_current grid_ua I_g1",
    Column.SCREEN_VOLTAGE: "Vs Vg2 Ug2 Ec2 screen screen_v screen_voltage",
    Column.SCREEN_CURRENT: "Is Ig2 Ic2 screen_ma screen_current",
    Column.HEATER_VOLTAGE: "Vh Vf Ef Uf heater filament heater_v filament_voltage",
    Column.TIME: "t time time_s time_min elapsed",
    Column.DIRECTION: "direction pass",
    Column.TUBE: "tube serial",
    Column.SECTION: "section unit",
    Column.TYPE: "type",
}


@pytest.mark.parametrize(
    ("column", "name"), [(c, name) for c, names in SYMBOLS.items() for name in names.split()]
)
def test_names(column, name):
    for spelling in (name, name.upper(), name.lower(), f" {name} ", f'"{name}"'):
        assert read_heading(spelling).column is column


@pytest.mark.parametrize(
    ("heading", "column", "factor"),
    [
        ("Ua/V", Column.PLATE_VOLTAGE, 1.0),
        ("Eb (kV)", Column.PLATE_VOLTAGE, 1e3),
        ("Ec [mV]", Column.GRID_VOLTAGE, 1e-3),
        ("plate_v", Column.PLATE_VOLTAGE, 1.0),
        ("Plate volts", Column.PLATE_VOLTAGE, 1.0),
        ("Ia (mA)", Column.PLATE_CURRENT, 1e-3),
        ("I_a [mA]", Column.PLATE_CURRENT, 1e-3),
        ("Ib / A", Column.PLATE_CURRENT, 1.0),
        ("plate_a", Column.PLATE_CURRENT, 1.0),
        ("PLATE_MA", Column.PLATE_CURRENT, 1e-3),
        ("Ip in mA", Column.PLATE_CURRENT, 1e-3),
        ("Plate current, mA", Column.PLATE_CURRENT, 1e-3),
        ("anode current Ia (mA)", Column.PLATE_CURRENT, 1e-3),
        ("Ig (uA)", Column.GRID_CURRENT, 1e-6),
        ("Ig1 [\u00b5A]", Column.GRID_CURRENT, 1e-6),
        ("Ig1 [\u03bcA]", Column.GRID_CURRENT, 1e-6),
        ("Ic/nA", Column.GRID_CURRENT, 1e-9),
        ("t/s", Column.TIME, 1.0),
        ("time (min)", Column.TIME, 60.0),
        ("time_ms", Column.TIME, 1e-3),
        ("Vh (V)", Column.HEATER_VOLTAGE, 1.0),
    ],
)
def test_units_beside_the_name(heading, column, factor):
    found = read_heading(heading)
    assert found.column is column
    assert found.unit is not None and found.unit.si == factor


@pytest.mark.parametrize("heading", ["Ia (V)", "Vp (mA)", "Ik (mA)", "reading", "n", ""])
def test_what_is_not_known_stays_unknown(heading):
    assert read_heading(heading).column is None


def test_a_letter_that_could_be_a_unit_belongs_to_the_symbol():
    assert read_heading("I_a").unit is None
    assert read_heading("V_A").column is Column.PLATE_VOLTAGE


@pytest.mark.parametrize(
    ("heading", "step", "column"),
    [
        ("-2 V", -2.0, None),
        ("-2,0", -2.0, None),
        ("Vg=-2", -2.0, None),
        ("Vg -2 V", -2.0, None),
        ("Vg-2", -2.0, None),
        ("Ug1 = -2,5 V", -2.5, None),
        ("Ip @ -500 mV", -0.5, Column.PLATE_CURRENT),
        ("Ig (uA) @ -2 V", -2.0, Column.GRID_CURRENT),
        ("Ia [mA] Vg = -2V", -2.0, Column.PLATE_CURRENT),
        ("Ip (Vg=-2)", -2.0, Column.PLATE_CURRENT),
    ],
)
def test_steps(heading, step, column):
    found = read_heading(heading)
    assert (found.step, found.column) == (step, column)


@pytest.mark.parametrize("heading", ["Vg2", "Ig1", "g2 volts", "Ec2 (V)"])
def test_a_digit_of_an_electrode_is_no_step(heading):
    assert read_heading(heading).step is None


@pytest.mark.parametrize(
    ("spelling", "symbol"),
    [("MA", "mA"), ("\u03a9", "ohm"), ("\u2126", "ohm"), ("k\u2126", "kohm"), ("Vdc", "V")],
)
def test_unit_spellings(spelling, symbol):
    unit = find_unit(spelling)
    assert unit is not None and unit.symbol == symbol


@pytest.mark.parametrize(
    "text",
    [
        "Vp,Vg,Ip\nV,V,mA\n100,-2,5\n150,-2,9\n",
        "Vp;Vg;Ip\n[V];[V];[mA]\n100;-2;5\n150;-2;9\n",
        "Vp\tVg\tIp\nvolts\tvolts\tmA\n100\t-2\t5\n150\t-2\t9\n",
        "Vp,Vg,Ip\n100 V,-2 V,5 mA\n150 V,-2 V,9 mA\n",
        "Vp,Vg,Ip (A)\n100 V,-2 V,5 mA\n150 V,-2 V,9000 uA\n",
        "Vp (V),Vg (V),Ip (kV),Ip (mA)\n100,-2,1,5\n150,-2,1,9\n",
    ],
)
def test_units_below_the_heading_or_in_the_cells(read, text):
    result = read(text)
    np.testing.assert_allclose(result.sweeps[0].readings.plate_current, [5e-3, 9e-3])
    assert not any(item.guessed and "plate current" in item.text for item in result.remarks)


def test_unit_row_under_a_wide_heading(read):
    result = read("Vp;-2 V;-4 V\nV;uA;uA\n100;5000;2000\n150;9000;4000\n")
    np.testing.assert_allclose(result.sweeps[0].readings.plate_current, [5e-3, 9e-3, 2e-3, 4e-3])


def test_a_step_that_stands_twice_keeps_both_columns(read):
    result = read("Vp;-2 V;-2 V\n100;5.0;5.1\n150;9.0;9.1\n", answers=())
    np.testing.assert_allclose(
        result.sweeps[0].readings.plate_current, [5e-3, 9e-3, 5.1e-3, 9.1e-3]
    )


def test_unused_columns_are_named(read):
    result = read("n,Vp,Vg,Ip (mA),room\n1,100,-2,5,21\n2,150,-2,9,22\n")
    (remark,) = [item for item in result.remarks if "not used" in item.text]
    assert "'n'" in remark.text and "'room'" in remark.text
