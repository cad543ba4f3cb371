"""What the tests of drawing share."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _application(qapp):
    """Let the tests of windows, in the same process, find the application they need."""
    return qapp
