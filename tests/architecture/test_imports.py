"""Behaviour: what an import may pull in, looked at from fresh processes."""

from __future__ import annotations

import pytest

from helpers.checkout import module_names, run_python

PAINTED = ("drawing", "window")
HEAVY = ("pandas", "scipy", "PySide6", "pyqtgraph")
BLOCK_QT = """
import sys
class Blocker:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("PySide6", "pyqtgraph", "shiboken6"):
            raise ModuleNotFoundError(f"{name} is blocked", name=name)
sys.meta_path.insert(0, Blocker())
"""


def loaded_by(code: str) -> set[str]:
    """Return the top-level packages that a fresh process has loaded after ``code``."""
    report = "\nimport sys; sys.stderr.write('|'.join({n.partition('.')[0] for n in sys.modules}))"
    result = run_python(code + report)
    assert result.returncode == 0, result.stderr
    return set(result.stderr.split("|"))


def import_all(names: list[str]) -> str:
    return f"import importlib\nfor name in {names!r}: importlib.import_module(name)\n"


def test_everything_that_paints_nothing_imports_without_qt():
    result = run_python(BLOCK_QT + import_all(module_names(without=PAINTED)))
    assert result.returncode == 0, result.stderr


def test_the_block_is_one():
    result = run_python(BLOCK_QT + "import curvelab.drawing.export")
    assert "PySide6 is blocked" in result.stderr.replace(".QtCore", "")


def test_whether_drawing_is_possible_can_be_asked_without_qt():
    result = run_python(
        BLOCK_QT
        + "from curvelab.drawing.availability import require_drawing\n"
        + "from curvelab.errors import DrawingUnavailableError\n"
        + "try: require_drawing()\n"
        + "except DrawingUnavailableError as error: print(error)\n"
    )
    assert "PySide6 is not installed" in result.stdout, result.stderr


def test_importing_all_that_paints_nothing_loads_numpy_and_nothing_slower():
    assert loaded_by(import_all(module_names(without=PAINTED))).isdisjoint(HEAVY)


def test_importing_the_command_line_loads_not_even_numpy():
    assert loaded_by("import curvelab.cli").isdisjoint({"numpy", *HEAVY})


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["characterize", "--help"], ["types", "--help"]]
)
def test_help_comes_without_numpy(arguments):
    code = f"""
from curvelab.cli import main
try: main({arguments!r})
except SystemExit as end: assert end.code == 0
"""
    assert loaded_by(code).isdisjoint({"numpy", *HEAVY})


def test_opening_the_window_module_loads_neither_pandas_nor_scipy():
    assert loaded_by("import curvelab.window").isdisjoint({"pandas", "scipy"})
