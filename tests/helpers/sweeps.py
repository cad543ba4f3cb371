"""Sweep files of a tube that follows the three-halves law (Child 1911, Langmuir 1913)."""

from __future__ import annotations

from pathlib import Path

import numpy as np

__all__ = ["write_log", "write_sweep"]


def write_sweep(
    path: Path,
    *,
    type_name: str = "6SN7GTB",
    seed: int = 5,
    extra: str = "",
    strength: float = 1.0,
) -> Path:
    """Write a long file of six curves near a 6SN7's figures, so many times as strong.

    ``extra`` goes below them.
    """
    noise = np.random.default_rng(seed)
    lines = [f"# tube: {path.stem}", f"# type: {type_name}", "plate_v,grid_v,plate_ma"]
    for grid in range(-10, 1, 2):
        for plate in range(20, 301, 20):
            drive = max(grid + plate / 20 + 0.5, 0.0)
            current = strength * 0.88 * drive**1.5 * (1 + noise.normal(0, 0.002))
            lines.append(f"{plate},{grid},{current:.4f}")
    path.write_text("\n".join([*lines, extra]) + "\n", encoding="utf-8")
    return path


def write_log(path: Path) -> Path:
    """Write a drift log of a tube that is steady but for noise."""
    noise = np.random.default_rng(7)
    rows = [f"{10 * step},250,-8,{9 * (1 + noise.normal(0, 2e-4)):.4f}" for step in range(60)]
    head = [f"# tube: {path.stem}", "# type: 6SN7GTB", "time_s,plate_v,grid_v,plate_ma"]
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    return path
