"""Behaviour and refusal: tubes tried in a stage from the command line."""

from __future__ import annotations

import pytest

from curvelab.cli import main
from curvelab.paths import sample_folder
from helpers.sweeps import write_log, write_sweep


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main(["stage", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def sweep(tmp_path):
    return write_sweep(tmp_path / "A17.csv")


def test_power_and_harmonics_are_printed(capsys, sweep):
    # Ip = 0.88 mA (Vg + Vp / 20 + 0.5)^1.5 at 200 V, -5 V: 11.4 mA, gm 3.1 mA/V, rp 6.5 kohm, so
    # two volts of signal into 10 kohm give about 12.1 times as much: 29 mW.
    status, out, err = run(capsys, sweep, "--at", "200,-5", "--load", 10000, "--signal", 2)
    assert (status, err) == (0, "")
    row = next(line.split() for line in out.splitlines() if line.startswith("A17"))
    name, plate, grid, current, rest, signal, power, gain, *_ = row
    assert (name, plate, grid, signal.rstrip("*")) == ("A17", "200,", "-5", "2")
    assert float(current) == pytest.approx(0.88 * 5.5**1.5, rel=0.02)
    assert float(rest) == pytest.approx(0.2 * float(current), rel=0.01)
    assert float(gain) == pytest.approx(20 * 10 / (10 + 20 / 1.32 / 5.5**0.5), rel=0.02)
    assert float(power) == pytest.approx((float(gain) * 2) ** 2 / 2e4, rel=0.03)
    assert "Lethal voltage" in out


def test_above_a_rating_there_is_the_rating_and_no_figure(capsys, sweep):
    status, out, err = run(capsys, sweep, "--at", "300,0", "--load", 10000)
    assert status == 0
    assert "A17: no stage: plate dissipation at rest is" in err
    assert "limit 5" in err
    assert not [line for line in out.splitlines() if line.startswith("A17")]


def test_a_log_has_no_stage(capsys, tmp_path):
    status, _, err = run(capsys, write_log(tmp_path / "L1.csv"), "--load", 1000)
    assert status == 0
    assert "L1 log: no stage: a drift log stays at one point" in err


@pytest.mark.parametrize("load", [[], ["--load", "0"], ["--load", "-5"], ["--load", "x"]])
def test_a_load_above_zero_must_be_said(capsys, load):
    with pytest.raises(SystemExit) as end:
        main(["stage", "a.csv", *load])
    assert end.value.code == 2
    assert "--load" in capsys.readouterr().err


def test_the_table_fits_a_narrow_terminal(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["stage", str(sample_folder() / "BALCONY-01.csv"), "--load", "3500"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    assert "\n\nLethal voltage: " in out
