"""Sweeps of a bench without a tube: a resistor in its place, an empty socket. Seeded, invented."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

__all__ = ["empty_socket_text", "resistor_currents", "resistor_text"]


def resistor_currents(
    voltage: np.ndarray,
    resistance: float,
    rng: np.random.Generator,
    *,
    gain: float = 1.0,
    offset: float = 0.0,
    warming: float = 0.0,
    noise: float = 5e-4,
    floor: float = 2e-6,
) -> np.ndarray:
    """Return what an ammeter reads [A].

    Parameters
    ----------
    warming : float
        Fraction by which the resistance has grown at the highest power.
    noise, floor : float
        Scatter of a reading: of the reading, and always [A].
    """
    power = voltage**2 / resistance
    hot = resistance * (1 + warming * power / max(float(power.max()), 1e-12))
    read = gain * voltage / hot + offset
    return read * (1 + rng.normal(0, noise, read.size)) + rng.normal(0, floor, read.size)


def resistor_text(
    resistance: float,
    rng: np.random.Generator,
    *,
    voltages: Sequence[float] = tuple(range(20, 301, 20)),
    grid: float | None = None,
    **errors: float,
) -> str:
    """Return a sweep file of a resistor, with or without a grid column."""
    volts = np.array(voltages, dtype=float)
    current = resistor_currents(volts, resistance, rng, **errors)
    head = "plate_v,plate_ma" if grid is None else "plate_v,grid_v,plate_ma"
    middle = "" if grid is None else f",{grid:g}"
    rows = [f"{v:g}{middle},{1e3 * i:.5f}" for v, i in zip(volts, current, strict=True)]
    return "\n".join(["# tube: power resistor", head, *rows]) + "\n"


def empty_socket_text(
    rng: np.random.Generator,
    *,
    plate_zero: float = 0.0,
    plate_leads: float = 0.0,
    grid_zero: float = 0.0,
    grid_leads: float = 0.0,
    noise: float = 1e-6,
    grid_noise: float = 2e-9,
) -> str:
    """Return a sweep file of an empty socket with a grid current; SI arguments."""
    rows = ["# tube: empty socket", "plate_v,grid_v,plate_ua,grid_ua"]
    for grid in (0.0, -5.0, -10.0):
        for plate in range(0, 301, 30):
            current = plate_zero + plate_leads * plate + rng.normal(0, noise)
            reverse = grid_zero + grid_leads * (grid - plate) + rng.normal(0, grid_noise)
            rows.append(f"{plate},{grid:g},{1e6 * current:.4f},{1e6 * reverse:.5f}")
    return "\n".join(rows) + "\n"
