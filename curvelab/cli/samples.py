"""Where the sample sweeps are."""

from __future__ import annotations

from argparse import Namespace

from curvelab.cli.console import show
from curvelab.paths import sample_folder

__all__ = ["run"]


def run(arguments: Namespace) -> int:
    """Print the folder of the sample sweeps."""
    show(f"{sample_folder()}\n")
    return 0
