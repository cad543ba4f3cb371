"""Refusal: where no window can be shown, a plain line says why."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

from curvelab.paths import sample_folder
from helpers.checkout import ROOT, run_command

WITHOUT = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")


def opened(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    given = {name: value for name, value in os.environ.items() if name not in WITHOUT}
    return subprocess.run(
        [sys.executable, "-m", "curvelab", *arguments],
        cwd=ROOT, env={**given, **environment}, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("arguments", [(), ("window",), ("window", "sample_sweeps")])
def test_without_a_screen_the_command_says_so(arguments):
    result = opened(*arguments)
    assert result.returncode == 1
    (line,) = result.stderr.splitlines()
    assert "there is no screen here" in line


def test_a_screen_that_does_not_answer_is_named():
    result = opened("window", DISPLAY=":4711")
    assert result.returncode == 1
    (line,) = result.stderr.splitlines()
    assert ":4711" in line or "libxcb" in line


needs_x = pytest.mark.skipif(shutil.which("Xvfb") is None, reason="tests/run.sh installs Xvfb")


def on_a_screen(*command: str) -> subprocess.CompletedProcess[str]:
    return run_command(
        "xvfb-run", "-a", *command,
        environment={name: value for name, value in os.environ.items() if name not in WITHOUT},
    )  # fmt: skip


@needs_x
def test_a_screen_that_answers_is_found():
    ask = "from curvelab.cli.screen import why_no_window; print(why_no_window())"
    result = on_a_screen(sys.executable, "-c", ask)
    assert result.stdout == "None\n", result.stderr


@needs_x
def test_on_a_screen_the_window_opens_and_stays():
    command = (sys.executable, "-m", "curvelab", "window", str(sample_folder() / "PIT-01.csv"))
    result = on_a_screen("timeout", "4", *command)
    assert result.returncode == 124, result.stderr  # still there when its time was over
    assert result.stderr == ""
