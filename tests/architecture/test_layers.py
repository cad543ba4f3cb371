"""Behaviour: nothing imports upwards, and Qt stays in the rooms that paint and show."""

from __future__ import annotations

import os
import shutil
import sys
import tomllib
from pathlib import Path

import pytest

from helpers.checkout import PACKAGE, ROOT, run_command


def check_contracts(folder: Path, cache: Path) -> tuple[int, str]:
    """Return exit status and report of the contracts of pyproject.toml for a source tree."""
    command = Path(sys.executable).with_name("lint-imports")
    result = run_command(
        str(command), "--config", str(ROOT / "pyproject.toml"), "--cache-dir", str(cache),
        folder=folder, environment={**os.environ, "PYTHONPATH": str(folder)},
    )  # fmt: skip
    return result.returncode, result.stdout + result.stderr


def test_every_import_keeps_the_contracts(tmp_path):
    status, report = check_contracts(ROOT, tmp_path)
    assert status == 0, report


def test_the_database_is_forbidden_to_every_room_but_its_own():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = settings["tool"]["importlinter"]["contracts"]
    (contract,) = (item for item in contracts if item["name"].startswith("No database"))
    rooms = {f"curvelab.{path.parent.name}" for path in PACKAGE.glob("*/__init__.py")}
    modules = {f"curvelab.{path.stem}" for path in PACKAGE.glob("[a-z]*.py")}
    assert set(contract["source_modules"]) == (rooms | modules) - {"curvelab.catalog"}


@pytest.mark.parametrize(
    ("module", "planted", "broken"),
    [
        ("sweep/curves.py", "import curvelab.fitting.laws", "A room imports only"),
        ("window/__init__.py", "import curvelab.cli", "A room imports only"),
        ("grading/grade.py", "import curvelab.sheets.text", "A room imports only"),
        ("sheets/text.py", "import PySide6", "Qt only where"),
        ("drawing/ink.py", "import pyqtgraph", "The plotting library only"),
        ("ingest/decode.py", "import sqlite3", "No database"),
    ],
)
def test_the_contracts_see_a_planted_import(tmp_path, module, planted, broken):
    copy = shutil.copytree(PACKAGE, tmp_path / "tree" / "curvelab")
    with (copy / module).open("a", encoding="utf-8") as file:
        file.write(f"\n{planted}\n")
    status, report = check_contracts(copy.parent, tmp_path / "cache")
    assert status == 1
    assert any(broken in line and "BROKEN" in line for line in report.splitlines()), report
