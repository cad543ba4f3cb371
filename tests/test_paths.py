"""Behaviour: the shipped folders are found in a checkout and in the layout of a wheel."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from curvelab import paths

CHECKOUT = Path(__file__).parents[1]


def installed_copy(site: Path) -> Path:
    """Lay the locator and what it imports into ``site`` as an installer would."""
    package = site / "curvelab"
    package.mkdir(parents=True)
    for name in ("__init__.py", "errors.py", "paths.py"):
        shutil.copy(CHECKOUT / "curvelab" / name, package)
    return package


def ask(site: Path, expression: str) -> str:
    """Evaluate ``expression`` in a fresh interpreter that sees only ``site``."""
    code = (
        "from curvelab import paths\n"
        "from curvelab.errors import CurvelabError\n"
        f"try:\n    print({expression})\n"
        "except CurvelabError as error:\n    print('refused:', error)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(site), "PYTHONIOENCODING": "utf-8"},
        cwd=site,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    )
    return done.stdout.strip()


def test_a_checkout_keeps_its_folders_beside_the_package():
    assert paths.resource_folder() == CHECKOUT / "resources"
    assert (paths.resource_folder() / "types" / "12AX7.toml").is_file()
    assert paths.sample_folder() == CHECKOUT / "sample_sweeps"


@pytest.mark.parametrize(
    ("call", "name"), [("resource_folder", "resources"), ("sample_folder", "sample_sweeps")]
)
def test_a_wheel_carries_its_folders_inside_the_package(tmp_path, call, name):
    site = tmp_path / "site päckages"
    carried = installed_copy(site) / "_data" / name
    carried.mkdir(parents=True)
    assert Path(ask(site, f"paths.{call}()")).samefile(carried)


def test_a_stranger_s_folder_beside_an_installed_package_is_not_taken(tmp_path):
    installed_copy(tmp_path)
    (tmp_path / "resources").mkdir()
    answer = ask(tmp_path, "paths.resource_folder()")
    assert answer.startswith("refused:")
    assert "'resources'" in answer
    assert "install" in answer


def test_importing_the_locator_creates_nothing(tmp_path):
    site = tmp_path / "site"
    installed_copy(site)
    home = tmp_path / "home"
    answer = ask(site, f"paths.user_data_folder({{'HOME': {str(home)!r}}}, 'linux')")
    assert Path(answer) == home / ".local" / "share" / "curvelab"
    assert not home.exists()


@pytest.mark.parametrize(
    ("environment", "platform", "parts"),
    [
        ({"HOME": "/home/ada"}, "linux", ".local/share/curvelab"),
        ({"HOME": "/home/ada", "XDG_DATA_HOME": "/home/ada/kept"}, "linux", "kept/curvelab"),
        # XDG Base Directory Specification, version 0.8: a relative path is invalid, ignore it.
        ({"HOME": "/home/ada", "XDG_DATA_HOME": "kept"}, "linux", ".local/share/curvelab"),
        ({"HOME": "/home/ada", "XDG_DATA_HOME": ""}, "linux", ".local/share/curvelab"),
        ({"HOME": "/home/ada"}, "darwin", "Library/Application Support/curvelab"),
        ({"USERPROFILE": "/home/ada"}, "win32", "AppData/Local/curvelab"),
        ({"LOCALAPPDATA": "/home/ada/Local"}, "win32", "Local/curvelab"),
    ],
)
def test_the_user_s_data_go_where_the_platform_keeps_them(environment, platform, parts):
    assert paths.user_data_folder(environment, platform) == Path("/home/ada") / parts


def test_the_process_environment_is_the_default(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert paths.user_data_folder() == tmp_path / "curvelab"
