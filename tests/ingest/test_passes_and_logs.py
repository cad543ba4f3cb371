"""Behaviour: up and down passes, time columns and drift logs."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.sweep import SweepKind


def sweep_text(passes):
    rows = [f"{vp},{vg},{max(vp / 20 + vg, 0):g}" for vg, vps in passes for vp in vps]
    return "plate_v,grid_v,plate_ma\n" + "\n".join(rows)


UP, DOWN = [50, 100, 150, 200], [200, 150, 100, 50]


def test_direction_from_the_order_of_plate_voltage(read):
    text = sweep_text([(-1, UP + DOWN), (-2, UP + DOWN)])
    direction = read(text).sweeps[0].readings.direction
    assert direction.tolist() == ([1] * 4 + [1] + [-1] * 3) * 2


def test_direction_of_whole_passes(read):
    text = sweep_text([(-1, UP), (-2, UP), (-2, DOWN), (-1, DOWN)])
    direction = read(text).sweeps[0].readings.direction
    assert direction[:8].tolist() == [1] * 8
    assert direction[-4:].tolist() == [-1] * 4


@pytest.mark.parametrize("passes", [[(-1, UP), (-2, UP)], [(-1, DOWN), (-2, DOWN)],
                                    [(-1, [50, 200, 100, 150, 75, 180, 60, 190])]])  # fmt: skip
def test_no_direction_without_both_passes(read, passes):
    assert read(sweep_text(passes)).sweeps[0].readings.direction is None


@pytest.mark.parametrize(
    ("up", "down"), [("up", "down"), ("Up", "DOWN"), ("+", "-"), ("1", "-1"), ("rise", "fall")]
)
def test_direction_column(read, up, down):
    text = f"Vp,Vg,Ip (mA),direction\n100,-2,5,{up}\n150,-2,9,{down}\n120,-2,6,\n"
    assert read(text).sweeps[0].readings.direction.tolist() == [1, -1, 0]


LOG = [(0, 9.0), (60, 8.9), (120, 8.85), (180, 8.83)]


@pytest.mark.parametrize(
    ("heading", "scale"),
    [("time_s", 1.0), ("t", 1.0), ("time (min)", 1 / 60), ("time_ms", 1e3), ("t/s", 1.0)],
)
def test_drift_log(read, heading, scale):
    rows = [f"{seconds * scale:.12g},250,-8,{ip}" for seconds, ip in LOG]
    (sweep,) = read(f"{heading},plate_v,grid_v,plate_ma\n" + "\n".join(rows)).sweeps
    assert sweep.kind is SweepKind.DRIFT_LOG
    np.testing.assert_allclose(sweep.readings.time, [0, 60, 120, 180])


@pytest.mark.parametrize(
    "times",
    [
        ["14:03:00", "14:04:00", "14:05:00", "14:06:00"],
        ["23:58:30", "23:59:30", "00:00:30", "00:01:30"],
        ["2026-11-03T14:03:00", "2026-11-03T14:04:00", "2026-11-03 14:05:00", "2026-11-03 14:06"],
        ["0:00", "1:00", "2:00", "3:00"],
        ["00:00.0", "01:00.0", "02:00.0", "03:00.0"],
    ],
)
def test_clock_times(read, times):
    rows = [f"{time},250,-8,{ip}" for time, (_, ip) in zip(times, LOG, strict=True)]
    result = read("time,plate_v,grid_v,plate_ma\n" + "\n".join(rows))
    np.testing.assert_allclose(result.sweeps[0].readings.time, [0, 60, 120, 180])
    assert result.set_aside == ()


def test_log_with_set_points_in_the_head(read):
    rows = "\n".join(f"{seconds};{ip}" for seconds, ip in LOG)
    (sweep,) = read(f"# plate_v: 250\n# grid_v: -8\ntime_s;plate_ma\n{rows}").sweeps
    assert sweep.kind is SweepKind.DRIFT_LOG
    assert sweep.readings.plate_voltage.tolist() == [250] * 4
    assert sweep.readings.grid_voltage.tolist() == [-8] * 4


def test_log_whose_supply_sags_and_wanders(read):
    rng = np.random.default_rng(2)
    rows = [
        f"{t},{250 - 2 * t / 600 + rng.normal():.2f},{-8 + 0.01 * rng.normal():.3f},{9 + t / 900}"
        for t in range(0, 600, 10)
    ]
    (sweep,) = read("time_s,plate_v,grid_v,plate_ma\n" + "\n".join(rows)).sweeps
    assert sweep.kind is SweepKind.DRIFT_LOG


def test_a_sweep_with_a_time_column_stays_curves(read):
    rows = [f"{i},{vp},-2,{vp / 20}" for i, vp in enumerate(range(0, 300, 10))]
    (sweep,) = read("time_s,plate_v,grid_v,plate_ma\n" + "\n".join(rows)).sweeps
    assert sweep.kind is SweepKind.CURVES
    assert sweep.readings.time is not None


def test_readings_at_one_point_without_time_are_no_log(read):
    (sweep,) = read("plate_v,grid_v,plate_ma\n250,-8,9\n250,-8,9\n250,-8,9\n").sweeps
    assert sweep.kind is SweepKind.CURVES


def test_numbered_passes_are_no_directions(read):
    text = "Vp,Vg,Ip (mA),pass\n100,-2,5,1\n150,-2,9,1\n120,-2,6,2\n"
    assert read(text).sweeps[0].readings.direction is None
