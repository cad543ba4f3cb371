"""Simulated logs at fixed bias: what a tube does while it soaks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from .bench import Bench, SimulatedSweep
from .law import FloatArray
from .tubes import SimulatedTube

__all__ = ["DriftKind", "DriftTruth", "SimulatedLog", "random_log", "run_log"]


class DriftKind(StrEnum):
    """How the current of a log moves."""

    STEADY = "steady"
    SETTLES = "settles"
    DRIFTS = "drifts"
    RUNS_AWAY = "runs away"


@dataclass(frozen=True, slots=True)
class DriftTruth:
    """The exact course of a log.

    Attributes
    ----------
    kind : DriftKind
    amount : float
        Fraction of the current: the approach of a settling log (either sign), the whole
        creep of a drifting one, the growth by the end of one that runs away.
    time_constant : float
        Of the approach or of the growth [s].
    """

    kind: DriftKind
    amount: float = 0.0
    time_constant: float = 120.0

    def factor(self, time: FloatArray) -> FloatArray:
        """Return current over the starting (settling: final) current at ``time`` [s]."""
        past = time - time[0]
        if self.kind is DriftKind.SETTLES:
            return 1.0 - self.amount * np.exp(-past / self.time_constant)
        if self.kind is DriftKind.DRIFTS:
            return 1.0 + self.amount * past / past[-1]
        if self.kind is DriftKind.RUNS_AWAY:
            grown = np.expm1(past / self.time_constant) / np.expm1(past[-1] / self.time_constant)
            return 1.0 + self.amount * grown
        return np.ones_like(past)


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedLog:
    """A log as the bench wrote it, a sweep whose set-points stand still."""

    sweep: SimulatedSweep
    truth: DriftTruth


def run_log(
    tube: SimulatedTube,
    truth: DriftTruth,
    bench: Bench,
    rng: np.random.Generator,
    *,
    seconds: float = 900.0,
    interval: float = 10.0,
    grid_current: bool = False,
) -> SimulatedLog:
    """Log a tube at its bogey point."""
    figures = tube.figures
    time = np.arange(0.0, seconds + 0.5 * interval, interval)
    plate = np.full(time.size, figures.plate_voltage)
    grid = np.full(time.size, figures.grid_voltage)
    base = tube.current(plate, grid)
    flowing = base * truth.factor(time)
    # A log is one range of one meter: the floor is that of the range, not of the reading.
    read = flowing * (1.0 + rng.normal(0.0, bench.noise, time.size))
    read = read + rng.normal(0.0, bench.floor * flowing.max(), time.size)
    reverse = None
    if grid_current:
        # What makes a current grow is reverse grid current through the grid resistor.
        reverse = tube.grid_current(plate, grid) - 5e-6 * (truth.factor(time) - 1.0)
        reverse = reverse + rng.normal(0.0, bench.grid_floor, time.size)
    sweep = SimulatedSweep(
        tube=tube,
        plate_voltage=plate,
        grid_voltage=grid,
        plate_current=read,
        true_current=flowing,
        type_label=figures.name,
        grid_current=reverse,
        time=time,
    )
    code = {DriftKind.RUNS_AWAY: "runaway", DriftKind.DRIFTS: "bias-drift"}.get(truth.kind)
    return SimulatedLog(sweep.with_faults(code) if code else replace(sweep), truth)


def random_log(
    tube: SimulatedTube, kind: DriftKind, bench: Bench, rng: np.random.Generator
) -> SimulatedLog:
    """Return a log of moderate size: 6 to 20 minutes, a reading each 5 to 15 s."""
    seconds = float(rng.uniform(360, 1200))
    sign = float(rng.choice((-1.0, 1.0)))
    truths = {
        DriftKind.STEADY: DriftTruth(kind),
        DriftKind.SETTLES: DriftTruth(
            kind, sign * float(rng.uniform(0.02, 0.12)), float(rng.uniform(0.07, 0.18) * seconds)
        ),
        DriftKind.DRIFTS: DriftTruth(kind, sign * float(rng.uniform(0.05, 0.15))),
        DriftKind.RUNS_AWAY: DriftTruth(
            kind, float(rng.uniform(0.12, 0.6)), float(rng.uniform(0.2, 0.45) * seconds)
        ),
    }
    return run_log(
        tube,
        truths[kind],
        bench,
        rng,
        seconds=seconds,
        interval=float(rng.uniform(5, 15)),
    )
