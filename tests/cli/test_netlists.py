"""Behaviour and refusal: netlists from the command line, and the example of the README."""

from __future__ import annotations

import re

import numpy as np
import pytest

from curvelab.cli import main
from helpers.checkout import ROOT
from helpers.ngspice import NGSPICE, WHY_NOT, simulate
from helpers.sweeps import write_log, write_sweep

PAGE = (ROOT / "README.md").read_text(encoding="utf-8")
EXAMPLE = re.search(r"```text\n(\.include .*?)```", PAGE, re.DOTALL)[1]


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main(["netlist", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


def test_a_file_a_tube_is_written_and_named(capsys, tmp_path):
    lot = tmp_path / "lot"
    lot.mkdir()
    for name in ("A17", "A18"):
        write_sweep(lot / f"{name}.csv")
    out = tmp_path / "new" / "folder"
    status, printed, err = run(capsys, lot, "--out", out)
    assert (status, err) == (0, "")
    names = [out / "tube_A17.cir", out / "tube_A18.cir"]
    assert printed.split() == [str(name) for name in names]
    assert all(".subckt tube_A1" in name.read_text(encoding="utf-8") for name in names)


def test_a_log_has_none_and_that_is_said(capsys, tmp_path):
    status, printed, err = run(capsys, write_log(tmp_path / "L1.csv"), "--out", tmp_path)
    assert (status, printed) == (0, "")
    assert "L1 log: no netlist: a drift log holds no family of curves" in err


def test_a_file_that_cannot_be_read_does_not_keep_the_others_from_it(capsys, tmp_path):
    good = write_sweep(tmp_path / "A17.csv")
    status, printed, err = run(capsys, good, tmp_path / "missing.csv", "--out", tmp_path)
    assert status == 3
    assert "missing.csv" in err
    assert printed == f"{tmp_path / 'tube_A17.cir'}\n"


def test_a_folder_that_cannot_be_made_is_told(capsys, tmp_path):
    good = write_sweep(tmp_path / "A17.csv")
    status, printed, err = run(capsys, good, "--out", good / "inside")
    assert (status, printed) == (1, "")
    assert "cannot make the folder" in err


def test_where_to_write_must_be_said(capsys):
    with pytest.raises(SystemExit) as end:
        main(["netlist", "a.csv"])
    assert end.value.code == 2
    assert "--out" in capsys.readouterr().err


@pytest.mark.skipif(NGSPICE is None, reason=WHY_NOT)
def test_the_example_of_the_page_runs(capsys, tmp_path):
    status, _, _ = run(capsys, write_sweep(tmp_path / "PIT-01.csv"), "--out", tmp_path)
    assert status == 0
    head, analysis, _ = EXAMPLE.rpartition(".op")
    assert analysis
    text = f"* page\n{head}.control\nop\nwrdata op v(plate) v(k)\nquit\n.endc\n.end\n"
    (found,) = simulate(tmp_path, text)
    plate, cathode = float(found[0, 1]), float(found[0, 3])
    # One current through both resistors, and it biases the grid.
    assert (250 - plate) / 47e3 == pytest.approx(cathode / 1e3, rel=1e-3)
    assert np.clip(cathode, 1.0, 10.0) == cathode
