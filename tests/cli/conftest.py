"""What the tests of the command line share."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress

import pytest


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
