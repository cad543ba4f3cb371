"""Refusal: whatever goes wrong is one plain line, and never a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from curvelab import __version__
from curvelab.cli import main
from curvelab.paths import sample_folder
from helpers.checkout import ROOT, run_python

BREAKING = """
import sys, types
from curvelab.cli import main
def run(arguments): raise {error}
sys.modules["curvelab.cli.library"] = module = types.ModuleType("library")
module.run = run
import curvelab.cli
curvelab.cli.library = module
sys.exit(main(["types"]))
"""


def test_the_version_is_printed():
    result = run_python("import sys; from curvelab.cli import main; main(['--version'])")
    assert (result.returncode, result.stdout) == (0, f"curvelab {__version__}\n")


def test_the_package_runs_as_a_module():
    result = subprocess.run(
        [sys.executable, "-m", "curvelab", "samples"],
        capture_output=True, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    assert result.stdout == f"{sample_folder()}\n"


def test_an_unexpected_error_is_one_line_with_a_hint():
    result = run_python(BREAKING.format(error="ZeroDivisionError('of all things')"))
    assert result.returncode == 1
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    assert "ZeroDivisionError: of all things" in line
    assert "CURVELAB_TRACE=1" in line


def test_the_hint_holds():
    code = BREAKING.format(error="ZeroDivisionError('of all things')")
    assert "Traceback" in run_python(code, CURVELAB_TRACE="1").stderr


def test_an_interrupt_is_one_line():
    result = run_python(BREAKING.format(error="KeyboardInterrupt"))
    assert (result.returncode, result.stderr) == (130, "curvelab: interrupted\n")


def test_a_real_interrupt_ends_the_work(tmp_path, terminal):
    lot = tmp_path / "lot"
    lot.mkdir()
    for number in range(400):
        (lot / f"{number}.csv").symlink_to(sample_folder() / "PIT-01.csv")
    leader, follower = terminal
    process = subprocess.Popen(
        [sys.executable, "-m", "curvelab", "characterize", str(lot), "--csv", "-"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=follower,
        # A shell starts what it runs beside itself deaf to interrupts, and so would we be.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    os.close(follower)
    said = os.read(leader, 1000)  # the counter: the work has begun
    assert b"of 400" in said
    process.send_signal(signal.SIGINT)
    results, _ = process.communicate(timeout=60)
    said = os.read(leader, 10_000)
    assert process.returncode == 130, said
    assert results == b""
    assert said.endswith(b"curvelab: interrupted\r\n")
    assert b"Traceback" not in said


def test_a_reader_who_leaves_early_is_no_error_message():
    reading, writing = os.pipe()
    os.close(reading)
    process = subprocess.run(
        [sys.executable, "-m", "curvelab", "types"],
        cwd=ROOT, stdout=writing, stderr=subprocess.PIPE, check=False,
    )  # fmt: skip
    os.close(writing)
    assert (process.returncode, process.stderr) == (1, b"")


def test_a_message_with_line_breaks_stays_one_line(capsys):
    assert main(["types", "6SN7\nGT\x1b[31m"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "\x1b" not in said


def test_text_is_printed_where_the_terminal_knows_little():
    code = "import sys; from curvelab.cli import main; sys.exit(main(['types', '6922']))"
    result = run_python(code, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert result.returncode == 0
    assert "0.1 ?A" in result.stdout


@pytest.mark.parametrize(("given", "kept"), [(None, "1"), ("2", "2")])
def test_linear_algebra_has_one_thread_where_nobody_says_otherwise(monkeypatch, given, kept):
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    if given is not None:
        monkeypatch.setenv("OPENBLAS_NUM_THREADS", given)
    found = run_python(
        "import os, sys\n"
        "from curvelab.cli import main\n"
        "assert 'numpy' not in sys.modules\n"  # it would have read the setting already
        "main(['samples'])\n"
        "print(os.environ['OPENBLAS_NUM_THREADS'])"
    )
    assert found.stdout.split()[-1] == kept
