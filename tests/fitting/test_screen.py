"""Behaviour and refusal: the screening finds bench faults and leaves true readings alone.

The readings come from the simulator of tests/simulator, whose law is none that is fitted; the
faults are invented. The published curves at the end are true curves, so nothing may be found.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.fitting.records import LeftOutReason
from curvelab.fitting.screen import screen
from curvelab.sweep.curves import split_curves
from curvelab.sweep.records import Readings
from helpers.checkout import ROOT
from simulator import faults
from simulator.bench import Bench, hand_plan, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6DJ8", "2A3", "211")


def found(readings: Readings) -> dict[str, set[int]]:
    """Return the positions left out, by reason."""
    left_out = screen(readings, split_curves(readings))
    return {str(item.reason): set(item.readings.tolist()) for item in left_out}


def swept(name: str, seed: int, bench: Bench | None = None, **plan: object):
    """Return a simulated sweep of a healthy tube, its bench and its random source."""
    rng = np.random.default_rng(seed)
    tube = healthy_tube(name, rng)
    bench = bench or Bench()
    return run_sweep(tube, replace(usual_plan(tube), **plan), bench, rng), bench, rng


@pytest.mark.parametrize("noise", [0.0, 0.003, 0.02])
@pytest.mark.parametrize("name", TYPES)
def test_a_healthy_sweep_raises_nothing(name: str, noise: float) -> None:
    for seed in range(4):
        sweep, _, _ = swept(name, seed, Bench(noise=noise))
        assert found(as_sweep(sweep).readings) == {}


@pytest.mark.parametrize("name", TYPES)
def test_up_and_down_passes_without_a_direction_raise_nothing(name: str) -> None:
    sweep, _, _ = swept(name, 3, both_ways=True)
    assert found(replace(as_sweep(sweep).readings, direction=None)) == {}


@pytest.mark.parametrize("name", TYPES)
def test_readings_by_hand_raise_nothing(name: str) -> None:
    rng = np.random.default_rng(5)
    tube = healthy_tube(name, rng)
    assert found(as_sweep(run_sweep(tube, hand_plan(tube), Bench(), rng)).readings) == {}


@pytest.mark.parametrize("name", TYPES)
def test_dropouts_are_found_and_nothing_beside_them(name: str) -> None:
    hit = total = 0
    for seed in range(5):
        sweep, _, rng = swept(name, seed)
        dropped = faults.drop_contact(sweep, rng)
        left_out = found(as_sweep(dropped).readings)
        assert set(left_out) == {LeftOutReason.CONTACT}
        truth = set(dropped.touched.tolist())
        assert left_out[LeftOutReason.CONTACT] <= truth
        hit += len(left_out[LeftOutReason.CONTACT] & truth)
        total += len(truth)
    assert hit >= 0.9 * total


def test_a_fall_near_cut_off_is_no_dropout() -> None:
    sweep, bench, _ = swept("6SN7GTB", 1)
    current = sweep.plate_current.copy()
    weak = (current < 0.01 * current.max()) & (current > bench.floor)
    current[np.flatnonzero(weak)[::3]] = 0.0
    assert found(replace(as_sweep(sweep).readings, plate_current=current)) == {}


@pytest.mark.parametrize("share", [0.5, 0.7])
@pytest.mark.parametrize("name", TYPES)
def test_a_meter_at_the_end_of_its_range_is_clipped(name: str, share: float) -> None:
    sweep, _, rng = swept(name, 2)
    clipped = faults.clip(sweep, rng, share)
    left_out = found(as_sweep(clipped).readings)
    truth = set(clipped.touched.tolist())
    assert set(left_out) == {LeftOutReason.CLIPPED}
    assert truth <= left_out[LeftOutReason.CLIPPED]
    assert len(left_out[LeftOutReason.CLIPPED]) <= len(truth) + 3  # readings just below the limit


def test_a_supply_at_its_current_limit_scatters_and_is_clipped_too() -> None:
    sweep, _, rng = swept("6SN7GTB", 4, Bench(noise=0.0))
    current = np.minimum(sweep.plate_current, 0.6 * sweep.plate_current.max())
    current = current * (1 + rng.normal(0, 0.003, current.size))
    left_out = found(replace(as_sweep(sweep).readings, plate_current=current))
    assert set(left_out) == {LeftOutReason.CLIPPED}


@pytest.mark.parametrize("emission", [1.6, 2.5])
@pytest.mark.parametrize("name", TYPES)
def test_saturation_is_not_clipping(name: str, emission: float) -> None:
    for seed in range(3):
        rng = np.random.default_rng(seed)
        tube = faults.worn(healthy_tube(name, rng), emission, sharpness=2.0)
        sweep = run_sweep(tube, usual_plan(tube), Bench(), rng)
        assert found(as_sweep(sweep).readings) == {}


def test_curves_that_all_stop_at_one_current_are_not_clipped() -> None:
    # An operator who stops each curve on reaching a current makes a natural end.
    sweep, _, _ = swept("12AU7", 6)
    readings = as_sweep(sweep).readings
    below = readings.plate_current < 0.6 * readings.plate_current.max()
    assert found(readings.take(below)) == {}


@pytest.mark.parametrize("step", [2, 4, 6])
@pytest.mark.parametrize("name", TYPES)
def test_the_step_that_did_not_change_is_left_out(name: str, step: int) -> None:
    sweep, bench, rng = swept(name, 8)
    repeated = faults.repeat_grid_step(sweep, bench, rng, step)
    left_out = found(as_sweep(repeated).readings)
    if not left_out:  # both curves near cut-off: there is nothing to compare
        assert repeated.plate_current[repeated.touched].max() < 0.3 * sweep.plate_current.max()
    else:
        assert left_out == {LeftOutReason.GRID_STEP: set(repeated.touched.tolist())}


def test_close_grid_steps_are_not_one_step() -> None:
    sweep, _, _ = swept("6SN7GTB", 9, grid_voltage=(-6.0, -6.5, -7.0, -7.5, -8.0))
    assert found(as_sweep(sweep).readings) == {}


@pytest.mark.parametrize(
    "path", sorted((ROOT / "tests" / "data" / "outside").glob("*.csv")), ids=lambda path: path.stem
)
def test_published_curves_raise_nothing(path: Path) -> None:
    # Each file names the published sheet it was read from.
    rows = [line.split(",") for line in path.read_text().splitlines() if not line.startswith("#")]
    column = {name: k for k, name in enumerate(rows[0])}
    plate, grid, current = (
        np.array([float(row[column[name]]) for row in rows[1:]])
        for name in ("plate_v", "grid_v", "plate_ma")
    )
    assert current.size >= 17
    assert found(Readings(plate, grid, 1e-3 * current, np.arange(current.size))) == {}


@pytest.mark.parametrize("current", [[], [0.0], [0.0] * 9, [1e-3] * 2, [2e-3] * 40])
def test_poor_data_is_no_exception(current: list[float]) -> None:
    size = len(current)
    readings = Readings(np.arange(size) * 10.0, np.zeros(size), current, np.arange(size))
    assert found(readings) == {}
