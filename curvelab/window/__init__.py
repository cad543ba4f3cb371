"""The window: tubes, curves, findings, for a dealer at the bench."""

from __future__ import annotations

from curvelab.window.application import main

__all__ = ["main"]
