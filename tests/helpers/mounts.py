"""Disks that are full or may not be written, for one process alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from helpers.checkout import run_command

__all__ = ["mounted"]


def mounted(folder: Path, how: str) -> tuple[str, ...]:
    """Return what starts a command that sees ``folder`` mounted as a line of shell says.

    A mount needs Linux and a kernel that lets this user make one (a container may forbid it).
    Where there is none the test is skipped: no other disk may be filled or locked for a test.
    """
    within = ("unshare", "--mount", "--map-root-user", "sh", "-c", how, "sh", str(folder))
    if shutil.which("unshare") is None:
        pytest.skip("a mount for one process needs unshare (Debian: util-linux)")
    tried = run_command(*within, "true")
    if tried.returncode:
        pytest.skip(f"the system lets nobody mount here: {tried.stderr.strip()}")
    return within
