"""Speed as ratios within one run: ``python tests/benchmarks/speed.py [files]``.

Prints the fit of one 300-point sweep against ``scipy.optimize.curve_fit`` of the same law
without a Jacobian; reading, fitting and judging a folder against bare ``pandas.read_csv`` of the
same files; and ``curvelab --help`` against ``python -c pass``. Nothing here is a test.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line sets it

import numpy as np
import pandas as pd
from scipy.optimize import curve_fit

sys.path.insert(0, str(Path(__file__).parents[1]))

from curvelab.fitting import fit_sweep
from curvelab.fitting.laws import KOREN
from curvelab.fitting.starts import starting_values
from curvelab.sweep import Readings
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.type_library import shipped_families
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

_TYPES = ("6SN7GTB", "12AX7", "2A3", "300B", "12AU7")


def _median_seconds(action: Callable[[], object], runs: int = 7) -> float:
    taken = []
    for _ in range(runs):
        begin = time.perf_counter()
        action()
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def _readings(seed: int) -> Readings:
    rng = np.random.default_rng(seed)
    tube = healthy_tube(_TYPES[seed % len(_TYPES)], rng)
    return as_sweep(run_sweep(tube, usual_plan(tube), Bench(), rng)).readings


def one_fit() -> tuple[float, float]:
    """Return seconds of (our fit with law choice and uncertainty, one law by curve_fit)."""
    readings = _readings(0)
    volts = np.stack([readings.plate_voltage, readings.grid_voltage])
    counted = np.ones((1, len(readings)))
    start = starting_values(KOREN, volts[:1], volts[1:], readings.plate_current[None], counted)[0]

    def law(both: np.ndarray, *internal: float) -> np.ndarray:
        return KOREN.evaluate(both[:1], both[1:], np.array(internal)[None])[0][0]

    ours = _median_seconds(lambda: fit_sweep(readings))
    theirs = _median_seconds(
        lambda: curve_fit(law, volts, readings.plate_current, p0=start, maxfev=20000)
    )
    return ours, theirs


def folder(count: int) -> tuple[float, float]:
    """Return seconds of (characterising a folder, bare read_csv of the same files)."""
    with tempfile.TemporaryDirectory() as name:
        for seed in range(count):
            readings = _readings(seed)
            table = pd.DataFrame(
                {
                    "plate_v": readings.plate_voltage.round(3),
                    "grid_v": readings.grid_voltage.round(3),
                    "plate_ma": (readings.plate_current * 1e3).round(5),
                }
            )
            path = Path(name) / f"T{seed:05d}.csv"
            head = f"# type: {_TYPES[seed % len(_TYPES)]}\n"
            path.write_text(head + table.to_csv(index=False), encoding="utf-8")
        paths = sorted(Path(name).iterdir())
        shipped_families()
        request = Request((Path(name),), workers=None)  # as the command line does by default
        ours = _median_seconds(lambda: characterize(request), runs=3)
        bare = _median_seconds(lambda: [pd.read_csv(path, comment="#") for path in paths], runs=3)
    return ours, bare


def start() -> tuple[float, float]:
    """Return seconds of (``curvelab --help``, ``python -c pass``)."""

    def run(*arguments: str) -> None:
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)

    return (
        _median_seconds(lambda: run("-m", "curvelab", "--help")),
        _median_seconds(lambda: run("-c", "pass")),
    )


def _report(title: str, pair: tuple[float, float]) -> None:
    ours, other = pair
    line = f"{title}: {1e3 * ours:.1f} ms against {1e3 * other:.1f} ms, ratio {ours / other:.2f}\n"
    sys.stdout.write(line)


if __name__ == "__main__":
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    _report("one fit against curve_fit of one law", one_fit())
    _report(f"read, fit and judge {files} files against read_csv", folder(files))
    _report("curvelab --help against python -c pass", start())
