"""Behaviour: the files that the README shows are read as it says."""

from __future__ import annotations

import re

import pytest

from curvelab.cli.arguments import parse
from curvelab.ingest import read_file
from curvelab.ingest.choices import GridVoltsSign
from curvelab.ingest.headings import Column
from curvelab.quantities import MILLIAMPERE
from curvelab.reference.fields import (
    BIAS_FIELDS,
    CAPACITANCE_FIELDS,
    CONSTANT_FIELDS,
    HEATER_FIELDS,
    LIMIT_FIELDS,
    PENTODE_FIELDS,
    RATING_FIELDS,
)
from curvelab.sweep.bench import MeterAccuracy
from curvelab.sweep.records import SweepKind
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.own_types import check_type_file
from helpers.checkout import ROOT

PAGE = (ROOT / "README.md").read_text(encoding="utf-8")
FILES = re.search(r"## What a file may look like\n(.*?)\n## ", PAGE, re.DOTALL)[1]
EXAMPLES = re.findall(r"```text\n(.*?)```", FILES, re.DOTALL)
LONG, WIDE, BLOCKS, LOG, PENTODE = EXAMPLES


def read(tmp_path, text):
    path = tmp_path / "B02.csv"
    path.write_text(text, encoding="utf-8")
    reading = read_file(path)
    assert reading.set_aside == ()
    (sweep,) = reading.sweeps
    return sweep


def points(sweep) -> list[tuple[float, float, float]]:
    readings = sweep.readings
    columns = (readings.plate_voltage, readings.grid_voltage, 1e3 * readings.plate_current)
    return sorted(
        (round(vp, 6), round(vg, 6), round(ip, 6)) for vp, vg, ip in zip(*columns, strict=True)
    )


def test_the_long_example(tmp_path):
    sweep = read(tmp_path, LONG)
    assert (sweep.tube, sweep.type_label) == ("LOBBY-01", "6SN7GTB")
    assert points(sweep) == [(100, -2, 2.61), (150, -2, 5.93)]
    assert sweep.conditions.heater_voltage == 6.3


def test_the_wide_example(tmp_path):
    sweep = read(tmp_path, WIDE)
    assert sweep.tube == "B02"
    assert len(points(sweep)) == 6
    assert (150, -4, 2.71) in points(sweep)


def test_the_example_in_blocks_says_the_same_as_the_wide_one(tmp_path):
    assert set(points(read(tmp_path, BLOCKS))) < set(points(read(tmp_path, WIDE)))


def test_the_example_of_a_log(tmp_path):
    sweep = read(tmp_path, LOG)
    assert sweep.kind is SweepKind.DRIFT_LOG
    assert list(sweep.readings.time) == [0, 10, 20, 30, 40]


def test_the_example_with_a_screen(tmp_path):
    sweep = read(tmp_path, PENTODE)
    assert sweep.conditions.connection == "pentode"
    assert list(sweep.readings.screen_voltage) == [250, 250, 250]
    assert list(1e3 * sweep.readings.screen_current) == pytest.approx([8.1, 7.4, 7.0])
    once = PENTODE.replace(",screen_v", "").replace(",250,", ",")
    once = once.replace("# connection", "# screen volts: 250\n# connection")
    assert read(tmp_path, once).conditions.screen_voltage == 250


@pytest.mark.parametrize(
    "command",
    ["characterize", "types", "identify", "substitute", "own-types", "samples", "lot", "window"],
)
def test_the_commands_of_the_page_are_there(command):
    assert f"\ncurvelab {command}" in PAGE
    with pytest.raises(SystemExit) as end:
        parse([command, "--help"])
    assert end.value.code == 0


@pytest.mark.parametrize("command", ["characterize", "constants", "netlist", "stage"])
def test_the_page_shows_every_option_of(command, capsys):
    with pytest.raises(SystemExit):
        parse([command, "--help"])
    options = set(re.findall(r"--[a-z]+", capsys.readouterr().out)) - {"--help"}
    shown = re.search(rf"\ncurvelab {command} .*?(?=\ncurvelab )", PAGE, re.DOTALL)[0]
    assert options == set(re.findall(r"--[a-z]+", shown))


def test_the_type_of_the_page_keeps_the_rules(tmp_path):
    text = re.search(r"## Types and curves of your own\n.*?```toml\n(.*?)```", PAGE, re.DOTALL)[1]
    path = tmp_path / "1XY1.toml"
    path.write_text(text, encoding="utf-8")
    found = check_type_file(path)
    assert found.bogey.plate_current.value == pytest.approx(9e-3)
    assert found.rating("plate_voltage").verified
    assert not found.rating("plate_dissipation").verified


def test_the_page_names_every_table_and_only_keys_that_there_are():
    table = re.search(r"\| table \| holds \|\n(.*?)\n\n", PAGE, re.DOTALL)[1]
    named = set(re.findall(r"`\[+(\w+)\]+`", table))
    assert named == {
        *("socket pins heater capacitances ratings points pentode_points cutoffs curves".split()),
        *("limits operation".split()),
    }
    known = {
        key
        for fields in (
            BIAS_FIELDS,
            CAPACITANCE_FIELDS,
            CONSTANT_FIELDS,
            HEATER_FIELDS,
            LIMIT_FIELDS,
            PENTODE_FIELDS,
            RATING_FIELDS,
        )
        for key in fields
    }
    keys = set(re.findall(r"`(\w+_(?:v|ma|w|ohm|umho|pf|a|megohm|g2))`", table))
    assert len(keys) > 20
    assert keys <= known


@pytest.mark.parametrize("command", ["create", "add", "list", "export"])
def test_the_page_shows_every_option_of_a_lot_file(capsys, command):
    with pytest.raises(SystemExit):
        parse(["lot", command, "--help"])
    options = set(re.findall(r"--[a-z-]+", capsys.readouterr().out)) - {"--help"}
    shown = re.search(rf"curvelab lot {command} FILE(.*?)(?:\ncurvelab|\n```)", PAGE, re.DOTALL)[1]
    assert options == set(re.findall(r"--[a-z-]+", shown))


def test_the_bench_of_the_page_is_read(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)[1], encoding="utf-8")
    found = load_description(path)
    bench = found.bench
    assert found.choices.grid_volts is GridVoltsSign.NEGATIVE
    (column,) = found.choices.columns
    assert (column.column, column.unit) == (Column.PLATE_CURRENT, MILLIAMPERE)
    assert (bench.name, bench.assumed) == ("bench in the back room", False)
    assert bench.plate_current == MeterAccuracy(gain=0.005, offset=2e-5, resolution=1e-5)
