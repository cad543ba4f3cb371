"""Running netlists through ngspice, an independent circuit simulator."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np

__all__ = ["WHY_NOT", "deck", "simulate"]

NGSPICE = shutil.which("ngspice")
WHY_NOT = "ngspice is not installed (Debian package ngspice)"
_LONGEST_S = 60


def deck(subcircuit: str, circuit: Sequence[str], analyses: Sequence[str]) -> str:
    """Return a whole input: a circuit about a subcircuit, and what to do with it."""
    return "\n".join(
        ["* referee", subcircuit, *circuit, ".control", *analyses, "quit", ".endc", ".end", ""]
    )


def simulate(folder: Path, text: str) -> tuple[np.ndarray, ...]:
    """Run a deck and return what its ``wrdata`` lines wrote, file by file in their order."""
    folder.mkdir(exist_ok=True)
    source = folder / "deck.cir"
    source.write_text(text, encoding="utf-8")
    result = subprocess.run(
        [NGSPICE or "ngspice", "-n", "-b", source.name],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=_LONGEST_S,
        check=False,
    )
    said = result.stdout + result.stderr
    assert "rror" not in said, said
    names = [line.split()[1] for line in text.splitlines() if line.startswith("wrdata ")]
    assert names
    return tuple(np.loadtxt(folder / name, ndmin=2) for name in names)
