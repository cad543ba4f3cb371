"""Behaviour: bench faults on tubes with a screen grid, few readings a curve or many (simulated).

A pentode's curves are flat by nature: a meter at the end of its range shows only against a family.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment.parts import fit_parts
from curvelab.sweep.records import Conditions, SourceFile, Sweep, SweepKind
from simulator.pentode import plan_for, random_pentode, run_pentode_sweep

FAULTS = ("contact", "clipped", "grid-step")
PLATES = {
    "6 a curve": (50.0, 100.0, 150.0, 200.0, 250.0, 300.0),
    "8 a curve": (20.0, 50.0, 80.0, 120.0, 160.0, 200.0, 250.0, 300.0),
    "24 a curve": (10.0, 20.0, 30.0, 45.0, 60.0, *np.arange(80.0, 351.0, 15.0).tolist()),
}


def spoilt(fault, plates, screens, rng, *, beam):
    """Return the sweep of a tube with a fault, and the readings that it touched."""
    tube = random_pentode(rng, beam=beam)
    plan = plan_for(tube, screens=screens)
    steps = np.linspace(0.0, plan.grid_voltage[-1], 7).round(1)
    plan = replace(plan, plate_voltage=plates, grid_voltage=tuple(steps.tolist()))
    readings = run_pentode_sweep(tube, plan, rng)
    current, hit = readings.plate_current.copy(), np.empty(0, dtype=int)
    if fault == "contact":
        strong = np.flatnonzero(current > 0.1 * current.max())
        hit = rng.choice(strong, 3, replace=False)
        current[hit] *= rng.uniform(0.0, 0.4, 3)
    elif fault == "clipped":
        top = 0.6 * current.max()
        hit = np.flatnonzero(current > top)
        current[hit] = top * (1.0 + rng.normal(0.0, 2e-4, hit.size))
    elif fault == "grid-step":
        step = int(rng.integers(2, 5))
        hit = np.flatnonzero(readings.grid_voltage == steps[step])
        at = readings.plate_voltage[hit], steps[step - 1], readings.screen_voltage[hit]
        current[hit] = tube.plate_current(*at) * (1.0 + rng.normal(0.0, 0.003, hit.size))
    return as_sweep(replace(readings, plate_current=current)), hit


def as_sweep(readings):
    return Sweep(
        tube="SIM-1",
        section=None,
        type_label=None,
        kind=SweepKind.CURVES,
        readings=readings,
        source=SourceFile("SIM-1.csv", "SIM-1.csv", "0" * 64, b""),
        conditions=Conditions(connection="pentode"),
    )


def fitted(fault, plates, screens, count, seed):
    rng = np.random.default_rng(seed)
    box = [spoilt(fault, plates, screens, rng, beam=bool(k % 2)) for k in range(count)]
    return list(zip(fit_parts([sweep for sweep, _ in box]), [hit for _, hit in box], strict=True))


def left_out(fit):
    return {item.reason.value: item.readings for item in fit.left_out}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("screens", [(250.0,), (200.0, 250.0)], ids=["one screen", "two"])
@pytest.mark.parametrize("plates", PLATES.values(), ids=PLATES.keys())
def test_faults_are_found_and_nothing_else_is_left_out(plates, screens, fault):
    found, wrong, touched = [], 0, 0
    for fit, hit in fitted(fault, plates, screens, 6, 71):
        told = left_out(fit).get(fault, np.empty(0, dtype=int))
        found.append(float(np.isin(hit, told).mean()))
        wrong += sum(int((~np.isin(rows, hit)).sum()) for rows in left_out(fit).values())
        touched += hit.size
    assert np.mean(np.array(found) > 0.5) > 0.8
    assert np.mean(found) > 0.8
    assert wrong <= 0.1 * touched


@pytest.mark.parametrize("screens", [(250.0,), (200.0, 250.0)], ids=["one screen", "two"])
@pytest.mark.parametrize("plates", PLATES.values(), ids=PLATES.keys())
def test_sound_sweeps_lose_no_reading(plates, screens):
    assert not any(left_out(fit) for fit, _ in fitted("", plates, screens, 8, 72))
