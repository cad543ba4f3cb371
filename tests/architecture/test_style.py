"""Behaviour: style and types as pyproject.toml sets them."""

from __future__ import annotations

import sys

import pytest

from helpers.checkout import run_command

SOURCES = ("curvelab", "tests", "resources", "sample_sweeps")


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "--output-format=concise", "--no-cache", *SOURCES),
        ("ruff", "format", "--check", "--output-format=concise", "--no-cache", *SOURCES),
        ("mypy", "--no-error-summary", "--no-pretty", "curvelab"),
    ],
    ids=["lint", "format", "types"],
)
def test_the_sources_pass(command):
    result = run_command(sys.executable, "-m", *command)
    assert result.returncode == 0, result.stdout + result.stderr
