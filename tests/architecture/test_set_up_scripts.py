"""Behaviour: the set-up scripts on machines made of a few small stand-in commands.

The real thing, a bare Debian with nothing on it, is what `.ci/run` is for.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
from pathlib import Path

import pytest

from curvelab.cli.screen import DEBIAN_PACKAGES as SCREEN_PACKAGES
from curvelab.drawing.availability import DEBIAN_PACKAGES as DRAWING_PACKAGES
from helpers.checkout import ROOT, run_command

COMMON = ROOT / "resources" / "setup" / "common.sh"
SCRIPTS = sorted([*ROOT.glob("resources/setup/*.sh"), *ROOT.glob("tests/*.sh")])
SHELL = shutil.which("dash") or shutil.which("sh")


class Machine:
    """A folder of commands that is the whole PATH."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "bin with blanks"
        self.folder.mkdir()
        for name in ("tr", "sh", "env", "cat"):
            (self.folder / name).symlink_to(shutil.which(name))

    def add(self, name: str, body: str) -> None:
        path = self.folder / name
        path.write_text(f"#!/bin/sh\n{body}\n", encoding="utf-8")
        path.chmod(0o755)

    def run(self, code: str):
        script = f". {shlex.quote(str(COMMON))}\n{code}"
        return run_command(
            str(SHELL), "-c", script, folder=self.folder, environment={"PATH": str(self.folder)}
        )


@pytest.fixture
def machine(tmp_path):
    return Machine(tmp_path)


@pytest.fixture
def debian(machine, tmp_path):
    """Return a Debian run by root whose apt knows every name that ends in 0."""
    machine.add("id", "echo 0")
    machine.add("apt-cache", 'case "$2" in *0) exit 0;; *) exit 100;; esac')
    machine.add("apt-get", f'echo "$*" >>{shlex.quote(str(tmp_path / "log"))}')
    return machine


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_a_script_is_sound_posix_shell(script):
    result = run_command(str(SHELL), "-n", str(script))
    assert result.returncode == 0, result.stderr


def test_without_apt_the_packages_are_named_and_nothing_else_happens(machine):
    machine.add("id", "echo 0")
    result = machine.run("install_packages 'libnew|libold0' libgl1")
    assert result.returncode == 1
    assert "apt-get install libold0 libgl1\n" in result.stdout


def test_without_root_the_packages_are_named(debian, tmp_path):
    debian.add("id", "echo 1000")
    result = debian.run("install_packages libegl0")
    assert result.returncode == 1
    assert "libegl0" in result.stdout
    assert not (tmp_path / "log").exists()


def test_sudo_is_used_where_it_asks_nothing(debian, tmp_path):
    debian.add("id", "echo 1000")
    debian.add("sudo", '[ "$1" = -n ] && shift; "$@"')
    assert debian.run("install_packages libegl0").returncode == 0
    assert "libegl0" in (tmp_path / "log").read_text()


def test_of_several_names_the_one_that_apt_knows_is_installed(debian, tmp_path):
    result = debian.run("install_packages 'libglib2.0-0t64|libglib2.0-0' libegl0 && "
                        "install_packages libfoo0")  # fmt: skip
    assert result.returncode == 0, result.stdout + result.stderr
    update, first, second = (tmp_path / "log").read_text().splitlines()
    assert update.startswith("update")
    assert first.endswith(" libglib2.0-0 libegl0")
    assert second.endswith(" libfoo0")


def test_a_python_that_is_too_old_is_passed_over(machine):
    machine.add("python3", "exit 1")
    machine.add("python3.12", "exit 0")
    assert machine.run('find_python && say "$python"').stdout == "python3.12\n"


def test_without_any_python_the_reason_is_said(machine):
    machine.add("id", "echo 1000")
    result = machine.run("make_venv")
    assert result.returncode == 1
    assert "Python 3.11 or newer is needed" in result.stderr


def test_scripts_and_messages_name_the_same_packages():
    text = COMMON.read_text(encoding="utf-8")
    drawing, screen = (re.search(rf"^{name}='(.*)'$", text, re.MULTILINE)[1].split()
                       for name in ("drawing_packages", "screen_packages"))  # fmt: skip
    oldest_names = [word.split("|")[-1] for word in drawing]
    assert set(DRAWING_PACKAGES) <= set(oldest_names)
    assert screen == list(SCREEN_PACKAGES)


def test_the_page_gives_the_two_commands():
    page = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = [line for line in page.splitlines() if line.startswith("sh ")]
    assert commands == ["sh resources/setup/try.sh", "sh tests/run.sh"]
    assert all((ROOT / command.split()[1]).is_file() for command in commands)


def test_the_check_of_every_change_can_be_run_as_it_is():
    check = ROOT / ".ci" / "run"
    assert os.access(check, os.X_OK)
    assert "sh tests/run.sh" in check.read_text(encoding="utf-8")
