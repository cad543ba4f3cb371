"""Behaviour: the installed Qt binding keeps its reference counts.

PySide6 6.12.0 loses one reference to None with each call that returns nothing on Python
3.11, and the interpreter aborts after some thousands of them (measured; no report found).
"""

from __future__ import annotations

import sys

import pytest
from PySide6.QtGui import QPen

CALLS = 1000


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is immortal from Python 3.12 on")
def test_a_call_that_returns_nothing_keeps_the_references_to_none():
    pen = QPen()
    before = sys.getrefcount(None)
    for _ in range(CALLS):
        pen.setWidthF(1.5)
    assert abs(sys.getrefcount(None) - before) < CALLS / 10
