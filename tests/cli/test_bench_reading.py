"""Behaviour and refusal: a bench description tells every command how the bench's files are read."""

from __future__ import annotations

import json

import pytest

from curvelab.cli import main

DESCRIPTION = """\
name = "back room"

[reading]
encoding = "cp850"
grid_volts = "positive numbers mean negative bias"
type = "6SN7GTB"

[[reading.columns]]
heading = "chan 1"
holds = "plate voltage"

[[reading.columns]]
heading = "chan 2"
holds = "grid voltage"

[[reading.columns]]
heading = "chan 3"
holds = "plate current"
unit = "mA"
"""


@pytest.fixture
def bench(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(DESCRIPTION, encoding="utf-8")
    return path


@pytest.fixture
def sweep(tmp_path):
    path = tmp_path / "odd.csv"
    rows = [
        f"{plate},{grid},{0.88 * max(-grid + plate / 20 + 0.5, 0.0) ** 1.5:.4f},7"
        for grid in range(0, 11, 2)
        for plate in range(20, 301, 20)
    ]
    lines = ["# operator: Zoë", "chan 1,chan 2,chan 3,spare", *rows]
    path.write_bytes(("\n".join(lines) + "\n").encode("cp850"))
    return path


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main([*map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


def test_without_it_the_file_cannot_be_read(capsys, sweep):
    status, _, err = run(capsys, "characterize", sweep)
    assert status == 3
    assert "no heading that can be understood" in err


def test_characterize_reads_as_it_says_and_the_results_say_so(capsys, sweep, bench):
    status, out, err = run(capsys, "characterize", sweep, "--bench", bench, "--json", "-")
    assert (status, err) == (0, "")
    (tube,) = json.loads(out)["tubes"]
    assert tube["type"] == "6SN7GTB"
    assert tube["bench"] == {"name": "back room", "assumed": True}
    assert any("as 'back room' says" in remark for remark in tube["source"]["remarks"])
    assert tube["constants"]["mu"]["value"] == pytest.approx(20, abs=0.5)


@pytest.mark.parametrize(
    "command", [("constants",), ("identify", "--json"), ("stage", "--load", "20000")]
)
def test_the_other_commands_that_read_sweeps_read_so_too(capsys, sweep, bench, command):
    status, out, err = run(capsys, command[0], sweep, "--bench", bench, *command[1:])
    assert (status, err) == (0, "")
    assert "odd" in out


def test_a_lot_file_takes_such_files_in(capsys, sweep, bench, tmp_path):
    lot = tmp_path / "box.lot"
    assert run(capsys, "lot", "create", lot)[0] == 0
    status, _, err = run(capsys, "lot", "add", lot, sweep, "--bench", bench)
    assert (status, err) == (0, "")
    assert "odd" in run(capsys, "lot", "list", lot)[1]


def test_a_description_that_cannot_be_read_is_wrong_usage(capsys, sweep, bench):
    bench.write_text('[reading]\nencoding = "cp999"\n', encoding="utf-8")
    status, _, err = run(capsys, "characterize", sweep, "--bench", bench)
    assert status == 2
    assert "reading.encoding" in err and str(bench) in err
