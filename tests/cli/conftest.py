"""What the tests of the command line share."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from helpers.boxes_of_tubes import Box, write_box
from helpers.lot_commands import copy_of, fill


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    """Yield the two ends of a terminal: what is read from the first was said on the second."""
    try:
        ends = os.openpty()
    except OSError as error:  # a bare chroot has none
        pytest.skip(f"this machine has no terminals to give: {error}")
    yield ends
    for end in ends:
        with suppress(OSError):  # the second is closed by then
            os.close(end)


@pytest.fixture(scope="session")
def day(tmp_path_factory) -> tuple[Box, Path, dict]:
    """Return a box, its lot file, filled and graded once, and the results of adding it."""
    folder = tmp_path_factory.mktemp("day")
    (folder / "box").mkdir()
    box, path = write_box(folder / "box"), folder / "spring.lot"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(folder / "data"))
        added = fill(path, box)
    return box, path, added


@pytest.fixture
def filled(day, tmp_path) -> Path:
    """Return a copy of the lot file of the box, to be changed."""
    return copy_of(day[1], tmp_path)
