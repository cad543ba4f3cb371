"""Behaviour and identity: what the simulated bench writes is what it says it writes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator.bench import Bench, SimulatedSweep, hand_plan, run_sweep, usual_plan
from simulator.catalogue import PUBLISHED
from simulator.drift import DriftKind, DriftTruth, run_log
from simulator.faults import (
    clip,
    dead,
    drop_contact,
    emitting_grid,
    gassy,
    leaky,
    repeat_grid_step,
    runaway_sweep,
    worn,
)
from simulator.files import Dialect, long_text, wide_text, write
from simulator.records import as_sweep
from simulator.tubes import bogey_tube, healthy_tube


def _sweep(name: str = "6SN7GTB", seed: int = 5) -> SimulatedSweep:
    rng = np.random.default_rng(seed)
    tube = healthy_tube(name, rng)
    return run_sweep(tube, usual_plan(tube), Bench(), rng)


@pytest.mark.parametrize("name", list(PUBLISHED))
def test_usual_plan_covers_the_bogey_point_within_the_overload(name: str) -> None:
    rng = np.random.default_rng(3)
    tube = bogey_tube(name)
    figures = tube.figures
    sweep = run_sweep(tube, usual_plan(tube), Bench(), rng)
    assert 90 <= len(sweep) <= 341
    assert (sweep.true_current * sweep.plate_voltage).max() <= 1.2 * figures.dissipation
    above = sweep.plate_voltage >= figures.plate_voltage
    assert sweep.grid_voltage[above].max() >= figures.grid_voltage
    assert sweep.grid_voltage[above].min() < figures.grid_voltage


def test_noise_has_the_size_it_is_given() -> None:
    sweep = _sweep()
    strong = sweep.true_current > 0.3 * sweep.true_current.max()
    scatter = np.std(sweep.plate_current[strong] / sweep.true_current[strong] - 1.0)
    assert scatter == pytest.approx(0.003, rel=0.25)


def test_same_seed_gives_the_same_sweep() -> None:
    assert np.array_equal(_sweep(seed=9).plate_current, _sweep(seed=9).plate_current)
    assert not np.array_equal(_sweep(seed=9).plate_current, _sweep(seed=10).plate_current)


def test_hand_plan_is_eighteen_readings() -> None:
    plan = hand_plan(bogey_tube("2A3"))
    assert len(plan.plate_voltage) * len(plan.grid_voltage) == 18


def test_each_grid_current_cause_varies_as_its_physics_says() -> None:
    tube = bogey_tube("6SN7GTB")
    cut_off, idle = (250.0, -30.0), (250.0, -8.0)
    gas, leak, cold = gassy(tube), leaky(tube), emitting_grid(tube)
    share = 6e-4 * tube.figures.plate_current
    for faulty, cause in ((gas, "gas"), (leak, "leakage"), (cold, "emission")):
        assert faulty.grid_shares(*idle)[cause] == pytest.approx(-share, rel=0.02)
    assert abs(gas.grid_shares(*cut_off)["gas"]) < 1e-3 * share
    assert abs(gas.grid_shares(5.0, -0.1)["gas"]) < 1e-2 * share
    assert leak.grid_shares(*cut_off)["leakage"] == pytest.approx(-share * 280 / 258, rel=1e-6)
    assert 0.2 * share < -cold.grid_shares(*cut_off)["emission"] < 0.7 * share


def test_worn_cathode_falls_short_most_at_the_top() -> None:
    good = bogey_tube("2A3")
    bad = worn(good)
    ratio = bad.current([60.0, 150.0, 250.0], [-45.0, -30.0, -20.0]) / good.current(
        [60.0, 150.0, 250.0], [-45.0, -30.0, -20.0]
    )
    assert ratio[0] > 0.995
    assert (np.diff(ratio) < 0).all()
    assert dead(good).current(250.0, -45.0) < 1e-3 * good.figures.plate_current


def test_bench_faults_touch_what_they_say() -> None:
    rng, sweep = np.random.default_rng(4), _sweep()
    dropped = drop_contact(sweep, rng)
    assert dropped.touched.size == 5
    assert (
        dropped.plate_current[dropped.touched] < 0.5 * sweep.plate_current[dropped.touched]
    ).all()
    flat = clip(sweep, rng)
    assert np.ptp(flat.plate_current[flat.touched]) < 0.01 * flat.plate_current.max()
    stuck = repeat_grid_step(sweep, Bench(), rng)
    before = np.unique(stuck.grid_voltage)[::-1][2]
    expected = stuck.tube.current(stuck.plate_voltage[stuck.touched], before)
    assert stuck.plate_current[stuck.touched] == pytest.approx(
        expected, rel=0.02, abs=2e-3 * expected.max()
    )
    for faulty, code in ((dropped, "contact"), (flat, "clipped"), (stuck, "grid-step")):
        assert faulty.faults == {code}


def test_runaway_sweep_reads_higher_on_the_way_down() -> None:
    rng = np.random.default_rng(6)
    tube = healthy_tube("211", rng)
    sweep = runaway_sweep(tube, usual_plan(tube), Bench(), rng)
    assert sweep.direction is not None
    ratio = sweep.plate_current / sweep.true_current
    strong = sweep.true_current > 0.3 * sweep.true_current.max()
    up, down = strong & (sweep.direction > 0), strong & (sweep.direction < 0)
    assert np.median(ratio[down]) > np.median(ratio[up]) + 0.02


@pytest.mark.parametrize(
    ("truth", "start", "end"),
    [
        (DriftTruth(DriftKind.STEADY), 1.0, 1.0),
        (DriftTruth(DriftKind.SETTLES, 0.05, 100.0), 0.95, 1.0),
        (DriftTruth(DriftKind.DRIFTS, -0.08), 1.0, 0.92),
        (DriftTruth(DriftKind.RUNS_AWAY, 0.4, 250.0), 1.0, 1.4),
    ],
)
def test_logs_start_and_end_where_the_truth_says(
    truth: DriftTruth, start: float, end: float
) -> None:
    tube = bogey_tube("300B")
    log = run_log(tube, truth, Bench(), np.random.default_rng(8))
    ratio = log.sweep.plate_current / tube.figures.plate_current
    assert ratio[0] == pytest.approx(start, abs=0.015)
    assert ratio[-1] == pytest.approx(end, abs=0.015)


def test_records_and_files_hold_the_same_readings(tmp_path: Path) -> None:
    sweep = _sweep()
    record = as_sweep(sweep, "T-1")
    assert np.array_equal(record.readings.plate_current, sweep.plate_current)
    path = write(tmp_path / "T-1.csv", long_text(sweep, Dialect(digits=6), tube="T-1"))
    rows = [line.split(",") for line in path.read_text("utf-8").splitlines()[3:]]
    assert np.array([float(row[2]) for row in rows]) * 1e-3 == pytest.approx(
        sweep.plate_current, abs=1e-9
    )


def test_wide_file_in_another_dialect(tmp_path: Path) -> None:
    sweep = _sweep()
    dialect = Dialect(separator=";", decimal=",", encoding="utf-16", newline="\r\n")
    path = write(tmp_path / "w.csv", wide_text(sweep, dialect, tube="W"), dialect)
    lines = path.read_bytes().decode("utf-16").split("\r\n")
    assert lines[2].startswith("plate V;Vg=-0,5 V;Vg=-3 V;")
    filled = sum(cell != "" for line in lines[3:] for cell in line.split(";")[1:])
    assert filled == len(sweep)
