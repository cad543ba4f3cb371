"""Refusal: what may not be read or written is one plain line, and the rest is done.

Root may do anything on an ordinary file system, so the tests take that right away from the
process they start: a mount of its own that is read-only, or no capabilities at all.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from helpers.checkout import run_command
from helpers.mounts import mounted
from helpers.sweeps import write_sweep

MOUNT = (
    'mount -t tmpfs tmpfs "$1" && touch "$1/old.csv" && mount -o remount,ro "$1" && '
    'shift && exec "$@"'
)
POWERLESS = ("setpriv", "--bounding-set=-all", "--inh-caps=-all")


def run_read_only(mount: Path, *arguments: object) -> subprocess.CompletedProcess[str]:
    """Run the command where ``mount`` is a read-only file system that holds ``old.csv``."""
    return run_command(
        *mounted(mount, MOUNT),
        sys.executable, "-m", "curvelab", "characterize", *map(str, arguments),
    )  # fmt: skip


@pytest.fixture
def read_only(tmp_path) -> Path:
    folder = tmp_path / "read-only"
    folder.mkdir()
    return folder


def test_a_read_only_folder_keeps_nothing_else_from_being_written(read_only, tmp_path):
    sweep = write_sweep(tmp_path / "A17.csv")
    found = run_read_only(
        read_only, sweep, "--json", tmp_path / "r.json", "--csv", read_only / "r.csv",
        "--sheets", read_only,
    )  # fmt: skip
    assert found.returncode == 1
    assert found.stderr.splitlines() == [
        f"curvelab: cannot write {read_only / 'r.csv'}: read-only file system",
        f"curvelab: cannot write {read_only / 'A17.pdf'}: read-only file system",
    ]
    assert "A17" in found.stdout
    assert (tmp_path / "r.json").stat().st_size > 0


def test_a_file_and_a_folder_on_a_read_only_system_are_named(read_only, tmp_path):
    sweep = write_sweep(tmp_path / "A17.csv")
    found = run_read_only(
        read_only, sweep, "--csv", read_only / "old.csv", "--sheets", read_only / "sheets"
    )
    assert found.returncode == 1
    assert found.stderr.splitlines() == [
        f"curvelab: cannot write {read_only / 'old.csv'}: read-only file system",
        f"curvelab: cannot make the folder {read_only / 'sheets'}: read-only file system",
    ]


def test_what_may_not_be_read_is_named_and_the_rest_is_done(tmp_path):
    if shutil.which("setpriv") is None:
        pytest.skip("taking rights from root needs setpriv (Debian: util-linux)")
    sweep, locked = write_sweep(tmp_path / "A17.csv"), write_sweep(tmp_path / "B02.csv")
    folder, closed = tmp_path / "folder", tmp_path / "closed"
    for one in (folder, closed):
        one.mkdir()
    locked.chmod(0)
    folder.chmod(0)
    closed.chmod(0o500)
    try:
        found = run_command(
            *POWERLESS, sys.executable, "-m", "curvelab", "characterize",
            str(sweep), str(locked), str(folder), "--csv", str(closed / "r.csv"),
        )  # fmt: skip
    finally:
        folder.chmod(0o700)
        closed.chmod(0o700)
    if "curvelab: " not in found.stderr:
        pytest.skip(f"no process without rights can be started here: {found.stderr.strip()}")
    assert found.returncode == 1
    assert found.stderr.splitlines() == [
        f"curvelab: {folder}: the folder cannot be opened: permission denied",
        f"curvelab: {locked}: the file may not be read: permission is refused",
        f"curvelab: cannot write {closed / 'r.csv'}: permission denied",
    ]
    assert "A17" in found.stdout
