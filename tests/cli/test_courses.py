"""Behaviour and refusal: constants as functions from the command line."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest

from curvelab.cli import main
from helpers.sweeps import write_log, write_sweep

KEYS = ("plate_ma", "gm_ms", "rp_ohm", "mu")


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main(["constants", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def sweep(tmp_path):
    return write_sweep(tmp_path / "A17.csv")


def test_a_table_is_printed_at_the_operating_point_s_plate_voltage(capsys, sweep):
    status, out, err = run(capsys, sweep)
    assert (status, err) == (0, "")
    assert "A17, plate at 250 V" in out
    assert "mA/V" in out
    assert "±" in out
    assert "Lethal voltage" in out


def test_json_holds_lists_of_equal_length_and_nulls_with_their_outcome(capsys, sweep):
    status, out, _ = run(capsys, sweep, "--plate", 200, "--plane", "--json", "-")
    content = json.loads(out)
    assert (status, content["schema"]) == (0, "curvelab.constants/1")
    (tube,) = content["tubes"]
    assert tube["tube"] == "A17"
    assert len(tube["source"]["sha256"]) == 64
    (course,) = tube["at_constant_plate_v"]
    for found in (course, tube["plane"]):
        size = len(found["plate_v"])
        assert size == len(found["grid_v"]) > 40
        for key in KEYS:
            part = found[key]
            assert {len(part[name]) for name in ("value", "u95", "outcome")} == {size}
            for value, u95, outcome in zip(*part.values(), strict=True):
                assert (value is None) == (u95 is None) == (outcome != "good")
    assert set(course["plate_v"]) == {200.0}
    assert None in tube["plane"]["mu"]["value"]  # the corners that nobody swept


def test_the_law_behind_the_readings_is_found_along_the_current(capsys, sweep):
    # Ip = 0.88 mA (Vg + Vp / 20 + 0.5)^1.5, as `write_sweep` has it: gm = 1.32 mA/V root of it.
    _, out, _ = run(capsys, sweep, "--plate", 200, "--csv", "-")
    rows = [row for row in csv.DictReader(io.StringIO(out)) if row["mu"]]
    assert len(rows) > 30
    assert {row["along"] for row in rows} == {"constant plate voltage"}
    grid, gm, mu = (np.array([float(r[n]) for r in rows]) for n in ("Vg (V)", "gm (mA/V)", "mu"))
    drive = grid + 10.5
    clear = drive > 1.5
    assert gm[clear] == pytest.approx(1.32 * np.sqrt(drive[clear]), rel=0.03)
    assert mu[clear] == pytest.approx(20.0, rel=0.03)


def test_a_plate_voltage_off_the_sweep_is_said(capsys, sweep):
    status, out, _ = run(capsys, sweep, "--plate", 900)
    assert status == 0
    assert "A17: the sweep does not cover that plate voltage" in out


def test_a_log_has_none_and_that_is_said(capsys, tmp_path):
    status, out, err = run(capsys, write_log(tmp_path / "L1.csv"), "--json", "-")
    assert status == 0
    assert "L1 log: no constants: a drift log stays at one point" in err
    assert json.loads(out)["tubes"][0]["reason"] == "a drift log stays at one point"


def test_a_stated_bench_widens_what_is_open(capsys, sweep, tmp_path):
    bench = tmp_path / "bench.toml"
    bench.write_text('name = "b"\n[plate_current]\ngain_pct = 5\n', encoding="utf-8")
    _, plain, _ = run(capsys, sweep, "--json", "-")
    _, wide, _ = run(capsys, sweep, "--bench", bench, "--json", "-")
    narrow, wider = (
        json.loads(out)["tubes"][0]["at_constant_plate_v"][0]["gm_ms"] for out in (plain, wide)
    )
    assert narrow["value"] == wider["value"]
    pairs = [(a, b) for a, b in zip(narrow["u95"], wider["u95"], strict=True) if a and b]
    assert pairs
    assert all(b > a for a, b in pairs)


def test_a_tube_that_calls_itself_a_formula_stays_text(capsys, tmp_path):
    path = write_sweep(tmp_path / "A1.csv")
    text = path.read_text(encoding="utf-8").replace("# tube: A1", "# tube: =1+1")
    path.write_text(text, encoding="utf-8")
    _, out, _ = run(capsys, path, "--csv", "-")
    assert next(csv.DictReader(io.StringIO(out)))["tube"] == "'=1+1"


@pytest.mark.parametrize(
    "arguments", [("--plate", "much"), ("--plate", "nan"), ("--json", "-", "--csv", "-")]
)
def test_wrong_usage(capsys, arguments):
    with pytest.raises(SystemExit) as end:
        main(["constants", "a.csv", *arguments])
    assert end.value.code == 2
    assert capsys.readouterr().err


def test_a_file_that_cannot_be_written_does_not_keep_the_other_from_it(capsys, sweep, tmp_path):
    table = tmp_path / "c.csv"
    status, _, err = run(capsys, sweep, "--json", tmp_path / "no" / "c.json", "--csv", table)
    assert status == 1
    assert "c.json" in err
    assert table.read_text(encoding="utf-8").startswith("tube,section")
