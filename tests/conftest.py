"""What every test stands on: no screen, and folders of its own."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

# The same examples in every run, and no clock that a busy machine could fail by.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")

# Before anything imports Qt: the tests must run where there is no screen.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
# Before numpy is imported: as the command line sets it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


@pytest.fixture(autouse=True)
def _own_user_folders(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch):
    """Keep settings and data of the person who runs the tests out of them, and theirs whole."""
    home: Path = tmp_path_factory.mktemp("home")
    for kind in ("CACHE", "CONFIG", "DATA", "STATE"):
        monkeypatch.setenv(f"XDG_{kind}_HOME", str(home / kind.lower()))


@pytest.fixture(autouse=True, scope="session")
def _one_application(qapp: object) -> None:
    """Start Qt's application once, with widgets, before a test that only draws starts a lesser one.

    Qt holds one application for the life of the process.
    """
