"""Fixtures of the reader's tests: real files in a temporary folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from curvelab.ingest import FileReading, read_file
from curvelab.sweep import Sweep

PLATE = (50.0, 100.0, 150.0, 200.0, 250.0)
GRID = (0.0, -2.0, -4.0)


def plate_current(plate: float, grid: float) -> float:
    """Return an invented triode's plate current [mA]."""
    return round(0.8 * max(grid + plate / 20.0, 0.0) ** 1.5, 3)


def family() -> list[tuple[float, float, float]]:
    """Return 15 readings (Vp, Vg, Ip in mA), grid step by grid step."""
    return [(vp, vg, plate_current(vp, vg)) for vg in GRID for vp in PLATE]


@pytest.fixture(name="readings")
def fixture_readings() -> list[tuple[float, float, float]]:
    """Return readings (Vp, Vg, Ip in mA) of an invented triode."""
    return family()


@pytest.fixture(name="write")
def fixture_write(tmp_path: Path) -> Callable[..., Path]:
    """Write text or bytes to a file and return its path."""

    def write(content: str | bytes, name: str = "A17.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write


@pytest.fixture(name="read")
def fixture_read(write: Callable[..., Path]) -> Callable[..., FileReading]:
    """Write a file and read it."""

    def read(content: str | bytes, name: str = "A17.csv", **options: object) -> FileReading:
        return read_file(write(content, name), **options)  # type: ignore[arg-type]

    return read


@pytest.fixture(name="same_family")
def fixture_same_family() -> Callable[[Sweep], None]:
    """Assert that a sweep holds the fifteen readings, in whatever order."""

    def check(sweep: Sweep) -> None:
        found = np.column_stack(
            [
                sweep.readings.plate_voltage,
                sweep.readings.grid_voltage,
                sweep.readings.plate_current * 1e3,
            ]
        )
        wanted = np.array(family())
        np.testing.assert_allclose(
            found[np.lexsort((found[:, 0], -found[:, 1]))],
            wanted[np.lexsort((wanted[:, 0], -wanted[:, 1]))],
            rtol=1e-12,
            atol=1e-12,
        )

    return check
