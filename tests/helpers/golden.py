"""Golden readings made by hand: a tube, a day, its two figures."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from curvelab.bench_check.records import GoldenReading, Measured, Standing

__all__ = ["golden", "golden_history"]

FIRST = date(2024, 1, 1)


def golden(
    tube: str = "G1",
    day: int = 0,
    *,
    current: float = 9e-3,
    slope: float = 2.6e-3,
    bench: str = "back room",
    standing: Standing = Standing.COUNTS,
    u95: float = 0.002,
) -> GoldenReading:
    """Return one reading ``day`` days after the first; ``u95`` is a share of each figure."""
    return GoldenReading(
        tube=tube,
        section=None,
        type_name="6SN7GTB",
        bench=bench,
        accuracy_stated=True,
        date=(FIRST + timedelta(days=day)).isoformat(),
        plate_voltage=250.0,
        grid_voltage=-8.0,
        plate_current=Measured(current, u95 * current, 3 * u95 * current),
        transconductance=Measured(slope, u95 * slope, 3 * u95 * slope),
        file=f"{tube}.csv",
        sha256=f"{tube}-{bench}-{day}",
        standing=standing,
    )


def golden_history(
    tubes: tuple[str, ...] = ("G1", "G2"),
    *,
    days: int = 25,
    scatter: float = 0.004,
    seed: int = 3,
    bench: str = "back room",
) -> tuple[GoldenReading, ...]:
    """Return readings of tubes that differ from each other and do not move."""
    rng = np.random.default_rng(seed)
    return tuple(
        golden(
            tube,
            day,
            current=9e-3 * (1 + 0.1 * place) * float(np.exp(rng.normal(0, scatter))),
            slope=2.6e-3 * (1 + 0.05 * place) * float(np.exp(rng.normal(0, scatter))),
            bench=bench,
        )
        for day in range(days)
        for place, tube in enumerate(tubes)
    )
