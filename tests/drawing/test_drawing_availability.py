"""Behaviour and refusal: drawing works without a screen, and says what is missing without Qt."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from curvelab.drawing.availability import DEBIAN_PACKAGES

ROOT = Path(__file__).parents[2]
ASK = """
from curvelab.drawing.availability import require_drawing
from curvelab.errors import DrawingUnavailableError
try:
    require_drawing()
except DrawingUnavailableError as error:
    print("missing:", error)
else:
    from PySide6.QtGui import QGuiApplication
    print("platform:", QGuiApplication.platformName())
"""


def ask(program: str = ASK, first: Path | None = None, **environment: str) -> str:
    hidden = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM", "PYTHONPATH")
    plain = {name: value for name, value in os.environ.items() if name not in hidden}
    plain["PYTHONPATH"] = os.pathsep.join(str(part) for part in (first, ROOT) if part)
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=plain | environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have a screen of their own")
@pytest.mark.parametrize("environment", [{}, {"DISPLAY": ":987"}])
def test_no_screen_and_a_broken_screen_are_no_hindrance(environment):
    assert ask(**environment) == "platform: offscreen\n"


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have a screen of their own")
def test_the_users_choice_of_platform_stands():
    assert ask(QT_QPA_PLATFORM="minimal") == "platform: minimal\n"


def test_a_missing_library_is_named_with_the_packages_to_install(tmp_path):
    package = tmp_path / "PySide6"
    package.mkdir()
    (package / "__init__.py").write_text(
        "raise ImportError('libEGL.so.1: cannot open shared object file')"
    )
    told = ask(first=tmp_path)
    assert told.startswith("missing: nothing can be drawn: libEGL.so.1")
    assert all(name in told for name in DEBIAN_PACKAGES)


def test_a_missing_pyside_is_named():
    told = ask("import sys; sys.modules['PySide6'] = None\n" + ASK)
    assert told.startswith("missing: nothing can be drawn: PySide6 is not installed")


def test_asking_loads_no_qt():
    program = "import curvelab.drawing.availability, sys; print('PySide6' in sys.modules)"
    assert ask(program) == "False\n"
