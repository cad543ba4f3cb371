"""Behaviour: a log whose plate voltage was raised on the way is judged stretch by stretch.

Simulated tubes: steady at the lower dissipation, then each behaviour at the bogey point.
"""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.ingest import read_file
from curvelab.sweep.records import SweepKind
from curvelab.workbench.type_library import shipped_families
from scorecard.boxes import stepped_log
from simulator.drift import DriftKind
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6DJ8", "2A3", "300B", "211")


@pytest.mark.parametrize("kind", list(DriftKind))
def test_the_behaviour_after_the_step_is_found(kind: DriftKind) -> None:
    rng = np.random.default_rng(31)
    tubes = [healthy_tube(name, rng) for name in TYPES for _ in range(3)]
    sweeps = [as_sweep(stepped_log(tube, kind, rng)[0], kind=SweepKind.DRIFT_LOG) for tube in tubes]
    found = [item.drift.behaviour for item in assess(sweeps, shipped_families()) if item.drift]
    assert sum(str(item) == kind.value for item in found) >= 0.95 * len(tubes)


def test_a_file_with_a_step_is_read_as_a_log(tmp_path) -> None:
    rng = np.random.default_rng(32)
    log, _ = stepped_log(healthy_tube("2A3", rng), DriftKind.RUNS_AWAY, rng)
    rows = zip(log.time, log.plate_voltage, log.grid_voltage, 1e3 * log.plate_current, strict=True)
    path = tmp_path / "log.csv"
    body = "\n".join(f"{t:.1f},{p:.1f},{g:.2f},{i:.4f}" for t, p, g, i in rows)
    path.write_text(f"# type: 2A3\ntime_s,plate_v,grid_v,plate_ma\n{body}\n", encoding="utf-8")
    (sweep,) = read_file(path).sweeps
    assert sweep.kind is SweepKind.DRIFT_LOG
    (found,) = assess([sweep], shipped_families())
    assert "runaway" in {item.code.value for item in found.findings}


def test_a_slow_sweep_with_times_is_no_log(tmp_path) -> None:
    rows = [
        f"{k},{plate},{grid},{max(0.0, 0.2 * (plate / 20 + grid)) ** 1.5:.3f}"
        for k, (grid, plate) in enumerate((g, p) for g in (0, -2, -4) for p in range(20, 260, 10))
    ]
    path = tmp_path / "slow.csv"
    path.write_text("time_s,plate_v,grid_v,plate_ma\n" + "\n".join(rows), encoding="utf-8")
    assert read_file(path).sweeps[0].kind is SweepKind.CURVES
