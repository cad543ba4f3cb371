"""The command line: arguments in, files and a table out, never a traceback."""

from __future__ import annotations

from curvelab.cli.entry import main

__all__ = ["main"]
