"""Behaviour: key and value lines, and the conditions they state."""

from __future__ import annotations

import pytest

from curvelab.ingest.metadata import read_assignments, read_conditions, read_pair
from curvelab.sweep import RemarkCode

ROWS = "plate_v,grid_v,plate_ma\n100,-2,5\n150,-2,9\n"


@pytest.mark.parametrize(
    "line",
    [
        "# lot: 7",
        "#lot: 7",
        "# lot = 7",
        "# lot;7",
        "lot: 7",
        "lot = 7",
        "lot;7",
        "lot,7",
        "lot\t7",
        '"lot","7"',
        "# lot: 7,,",
        '"# lot: 7",,',
        "% lot: 7",
    ],
)
def test_forms_of_a_line(read, line):
    result = read(line + "\n" + ROWS)
    assert result.sweeps[0].metadata == {"lot": "7"}
    assert result.set_aside == ()


def test_the_first_separator_splits():
    assert read_pair("date: 2026-11-03 12:30:00") == ("date", "2026-11-03 12:30:00")
    assert read_pair("note = a: b; c") == ("note", "a: b; c")
    assert read_pair("connection: pentode, vg2 = 250 V") == ("connection", "pentode, vg2 = 250 V")


def test_unknown_keys_are_kept(read):
    metadata = read("# colour of the getter: silver\nshelf = 4\n" + ROWS).sweeps[0].metadata
    assert metadata == {"colour of the getter": "silver", "shelf": "4"}


def test_a_known_column_before_the_equals_sign_is_a_set_point(read):
    (sweep,) = read("# grid_v = -3\nVp,Ip (mA)\n100,5\n150,9\n").sweeps
    assert sweep.readings.grid_voltage.tolist() == [-3, -3]
    assert "grid_v" not in sweep.metadata


def test_several_set_points_in_a_line():
    assert read_assignments("Vp = 250 V; Vg = -8,5 V") == {
        "plate voltage": 250.0,
        "grid voltage": -8.5,
    }
    assert read_assignments("Vg: 500 mV") == {"grid voltage": 0.5}
    assert read_assignments("grid: gold plated") is None
    assert read_assignments("Vg: 5 mA") is None


def test_every_key(read):
    (sweep,) = read(
        "# tube: A17\n# type: 2A3\n# connection: triode\n# section: 1\n# lot: 4\n"
        "# date: 2026-11-03\n# bench: north\n# operator: M\n# warm-up minutes: 5\n"
        "# heater volts: 2.5\n# heater amps: 2.4\n# filament: AC\n# return: centre tap\n"
        "# screen volts: 90\n# grid resistor: 470k\n# shorts: none\n# tap test: quiet\n"
        "# heater-cathode leakage: 12 uA at 100 V\n# source: bench\n# accuracy: 1 %\n"
        "# note: second hand\n" + ROWS
    ).sweeps
    conditions = sweep.conditions
    assert (sweep.tube, sweep.type_label, sweep.section) == ("A17", "2A3", "1")
    assert conditions.connection == "triode"
    assert conditions.warm_up == 300
    assert conditions.heater_voltage == 2.5 and conditions.heater_current == 2.4
    assert conditions.filament == "AC" and conditions.filament_return == "centre tap"
    assert conditions.screen_voltage == 90 and conditions.grid_resistor == 470e3
    assert conditions.shorts == "none" and conditions.tap_test == "quiet"
    assert conditions.heater_cathode_leakage == pytest.approx(12e-6)
    assert conditions.heater_cathode_voltage == 100
    for key in ("lot", "date", "bench", "operator", "source", "accuracy", "note"):
        assert key in sweep.metadata


@pytest.mark.parametrize(
    ("key", "value", "field", "expected"),
    [
        ("warm_up", "5", "warm_up", 300.0),
        ("warm-up", "90 s", "warm_up", 90.0),
        ("warm_up_s", "90", "warm_up", 90.0),
        ("warm_up", "5 min", "warm_up", 300.0),
        ("heater_v", "6,3 V", "heater_voltage", 6.3),
        ("heater_ma", "600", "heater_current", 0.6),
        ("Rk", "1k5", "cathode_resistor", 1500.0),
        ("plate resistor", "100 k\u03a9", "plate_resistor", 1e5),
        ("anode resistor (kohm)", "10", "plate_resistor", 1e4),
        ("grid resistor", "1 M", "grid_resistor", 1e6),
        ("grid resistor", "none", "grid_resistor", 0.0),
        ("heater-cathode leakage (uA)", "3", "heater_cathode_leakage", 3e-6),
        ("heater-cathode leakage", "2,5 uA", "heater_cathode_leakage", 2.5e-6),
        ("heater-cathode leakage", "2,5 uA, 100 V", "heater_cathode_voltage", 100.0),
        ("heater-cathode leakage", "20 uA,100 V", "heater_cathode_leakage", 20e-6),
        ("filament", "DC", "filament", "DC"),
        ("filament", "AC, centre tap", "filament_return", "centre tap"),
        ("return", "negative end", "filament_return", "negative end"),
        ("return", "midpoint", "filament_return", "midpoint"),
        ("shorts", "No", "shorts", "none"),
        ("shorts", "g-k", "shorts", "g-k"),
    ],
)
def test_values_and_units(key, value, field, expected):
    conditions, _ = read_conditions({key: value})
    found = getattr(conditions, field)
    assert found == (pytest.approx(expected) if isinstance(expected, float) else expected)


@pytest.mark.parametrize(
    ("text", "connection", "screen"),
    [
        ("triode", "triode", None),
        ("Triode", "triode", None),
        ("triode (g2 to plate)", "triode-connected", None),
        ("triode-connected", "triode-connected", None),
        ("triode strapped", "triode-connected", None),
        ("screen tied to anode", "triode-connected", None),
        ("pentode, vg2 = 250 V", "pentode", 250.0),
        ("tetrode, screen 250 V", "pentode", 250.0),
        ("pentode", "pentode", None),
        ("something else", None, None),
    ],
)
def test_connection(text, connection, screen):
    conditions, _ = read_conditions({"connection": text})
    assert (conditions.connection, conditions.screen_voltage) == (connection, screen)


def test_a_value_that_is_not_understood_is_kept_and_said(read):
    (sweep,) = read("# warm-up: a while\n" + ROWS).sweeps
    assert sweep.conditions.warm_up is None
    assert sweep.metadata["warm-up"] == "a while"
    (remark,) = [item for item in sweep.remarks if item.code is RemarkCode.METADATA]
    assert "a while" in remark.text


def test_a_title_line_is_remarked(read):
    result = read("Readings of the north bench\n" + ROWS)
    assert any("Readings of the north bench" in item.text for item in result.remarks)
    assert result.set_aside == ()


def test_pairs_between_and_below_the_rows(read):
    result = read(
        "plate_v,grid_v,plate_ma\n100,-2,5\nnote: bought, 1987\n150,-2,9\ntap test = quiet\n"
    )
    (sweep,) = result.sweeps
    assert sweep.metadata == {"note": "bought, 1987", "tap test": "quiet"}
    assert len(sweep.readings) == 2 and result.set_aside == ()


def test_plate_resistance_of_the_tube_is_no_resistor_of_the_bench(read):
    (sweep,) = read("# rp: 7.7k\n" + ROWS).sweeps
    assert sweep.conditions.plate_resistor is None
    assert sweep.readings.plate_voltage.tolist() == [100, 150]


def test_two_notes_are_both_kept_and_the_last_figure_counts(read):
    (sweep,) = read(
        "# note: first\n# heater volts: 6.0\n# note: second\n# heater volts: 6.3\n" + ROWS
    ).sweeps
    assert sweep.metadata["note"] == "first; second"
    assert sweep.conditions.heater_voltage == 6.3
