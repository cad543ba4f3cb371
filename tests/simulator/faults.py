"""Faults of moderate size, each put on a healthy tube or on a sweep of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .bench import Bench, SimulatedSweep, SweepPlan, run_sweep, usual_plan
from .tubes import SimulatedTube

__all__ = [
    "clip",
    "dead",
    "drop_contact",
    "emitting_grid",
    "gassy",
    "leaky",
    "mislabel",
    "noisy_bench",
    "overrate",
    "repeat_grid_step",
    "runaway_sweep",
    "worn",
]


def gassy(tube: SimulatedTube, ratio: float = 6e-4) -> SimulatedTube:
    """Return the tube with ``ratio`` of its plate current as ions."""
    return replace(tube, grid_path=replace(tube.grid_path, gas_ratio=ratio))


def leaky(tube: SimulatedTube, share: float = 6e-4, *, to_plate: bool = True) -> SimulatedTube:
    """Return the tube with a leak that carries ``share`` of the bogey current at bogey."""
    figures = tube.figures
    across = -figures.grid_voltage + (figures.plate_voltage if to_plate else 0.0)
    conductance = share * figures.plate_current / across
    changed = {"leak_to_plate" if to_plate else "leak_to_cathode": conductance}
    return replace(tube, grid_path=replace(tube.grid_path, **changed))


def emitting_grid(tube: SimulatedTube, share: float = 6e-4) -> SimulatedTube:
    """Return the tube with a grid that emits ``share`` of the bogey current at bogey."""
    figures, growth = tube.figures, 2.0
    load = figures.plate_voltage * figures.plate_current / figures.dissipation
    cold = share * figures.plate_current / np.exp(growth * load)
    path = replace(tube.grid_path, emission=float(cold), emission_growth=growth)
    return replace(tube, grid_path=path)


def worn(tube: SimulatedTube, emission: float = 1.6, sharpness: float = 1.5) -> SimulatedTube:
    """Return the tube with a cathode that gives ``emission`` times the bogey current."""
    law = replace(tube.law, emission=emission * tube.figures.plate_current, sharpness=sharpness)
    return replace(tube, law=law)


def dead(tube: SimulatedTube) -> SimulatedTube:
    """Return the tube with a cathode that emits almost nothing."""
    return worn(tube, emission=2e-4, sharpness=1.0)


def drop_contact(sweep: SimulatedSweep, rng: np.random.Generator, count: int = 5) -> SimulatedSweep:
    """Return the sweep with isolated readings that fell toward zero."""
    strong = np.flatnonzero(sweep.plate_current > 0.1 * sweep.plate_current.max())
    hit = np.sort(rng.choice(strong, size=count, replace=False))
    current = sweep.plate_current.copy()
    current[hit] *= rng.uniform(0.0, 0.4, count)
    return replace(
        sweep.with_faults("contact"), plate_current=current, touched=np.union1d(sweep.touched, hit)
    )


def clip(sweep: SimulatedSweep, rng: np.random.Generator, share: float = 0.6) -> SimulatedSweep:
    """Return the sweep as a meter shows it whose range ends at ``share`` of the top."""
    top = share * sweep.plate_current.max()
    hit = np.flatnonzero(sweep.plate_current > top)
    current = sweep.plate_current.copy()
    current[hit] = top * (1.0 + rng.normal(0.0, 2e-4, hit.size))
    return replace(
        sweep.with_faults("clipped"), plate_current=current, touched=np.union1d(sweep.touched, hit)
    )


def repeat_grid_step(
    sweep: SimulatedSweep, bench: Bench, rng: np.random.Generator, step: int = 3
) -> SimulatedSweep:
    """Return the sweep with one grid step that never came: the one before it again."""
    steps = list(dict.fromkeys(sweep.grid_voltage.tolist()))
    before = steps[step - 1]
    hit = np.flatnonzero(sweep.grid_voltage == steps[step])
    true = sweep.tube.current(sweep.plate_voltage[hit], before)
    allowed = true * sweep.plate_voltage[hit] <= 1.25 * sweep.tube.figures.dissipation
    keep = np.ones(len(sweep), dtype=bool)
    keep[hit[~allowed]] = False
    current = sweep.plate_current.copy()
    floor = bench.floor * current.max()
    current[hit] = true * (1 + rng.normal(0, bench.noise, hit.size)) + rng.normal(
        0, floor, hit.size
    )
    columns = {
        name: None if (values := getattr(sweep, name)) is None else values[keep]
        for name in (
            "plate_voltage",
            "grid_voltage",
            "true_current",
            "grid_current",
            "heater_voltage",
            "time",
            "direction",
        )
    }
    place = np.flatnonzero(sweep.grid_voltage[keep] == steps[step])
    return replace(
        sweep.with_faults("grid-step"), plate_current=current[keep], touched=place, **columns
    )


def mislabel(sweep: SimulatedSweep, label: str) -> SimulatedSweep:
    """Return the sweep under the label of another type."""
    return replace(sweep.with_faults("off-type"), type_label=label)


def overrate(
    tube: SimulatedTube, bench: Bench, rng: np.random.Generator, overload: float = 1.8
) -> SimulatedSweep:
    """Return a sweep driven to ``overload`` times the rated dissipation."""
    plan = usual_plan(tube, overload=overload)
    return run_sweep(tube, plan, bench, rng).with_faults("over-rating")


def noisy_bench(noise: float = 0.04) -> Bench:
    """Return a bench with bad leads."""
    return Bench(noise=noise, floor=2e-3)


def runaway_sweep(
    tube: SimulatedTube,
    plan: SweepPlan,
    bench: Bench,
    rng: np.random.Generator,
    heating: float = 0.15,
) -> SimulatedSweep:
    """Return an up-and-down sweep of a tube whose current climbs as it warms."""
    both = replace(plan, both_ways=True, plate_voltage=plan.plate_voltage[::2])
    return run_sweep(tube, both, bench, rng, heating=heating).with_faults("runaway")
