"""How long it takes to step from tube to tube, everything on screen drawn anew.

Run ``python tests/benchmarks/redraw.py``: 200 made-up tubes of 10 curves x 100 readings over a
reference family. Printed are the milliseconds of work in one step, from the key to the last
pixel, against one frame of a 60 Hz screen, and the share of the parts.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402
from PySide6.QtCore import QSettings  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from curvelab.assessment.records import Assessment  # noqa: E402
from curvelab.sweep.records import Readings  # noqa: E402
from curvelab.window.main_window import MainWindow  # noqa: E402
from curvelab.window.settings import Settings  # noqa: E402
from curvelab.window.theme import Theme  # noqa: E402
from curvelab.workbench.characterize import Batch  # noqa: E402
from curvelab.workbench.views import View  # noqa: E402
from helpers import assessments  # noqa: E402

FRAME_MS = 1000 / 60
TUBES, CURVES, POINTS = 200, 10, 100
VIEWED = 60  # tubes stepped through in each view, every one for the first time


def tube(number: int) -> Assessment:
    """Return one of the lot: a few findings, ten curves of a hundred readings."""
    base = assessments.gassy()
    grid = np.repeat(np.linspace(-4.5, 0.0, CURVES), POINTS)
    plate = np.tile(np.linspace(5.0, 300.0, POINTS), CURVES)
    family = assessments.AnalyticFamily(mu=90.0 + number % 20, kg=1010.0)
    noise = np.random.default_rng(number).normal(0.0, 3e-6, grid.size)
    readings = Readings(plate, grid, family.current(plate, grid) + noise, np.arange(grid.size))
    source = replace(base.sweep.source, path=f"lot/{number}.csv", sha256=str(number))
    down = np.where(np.arange(grid.size) % POINTS < POINTS // 2, 1, -1)
    readings = replace(readings, grid_current=-1e-4 * readings.plate_current, direction=down)
    sweep = replace(base.sweep, tube=f"T{number:03d}", readings=readings, source=source)
    return replace(base, sweep=sweep, fit=assessments.make_fit(sweep))


def milliseconds(work: Callable[[], object]) -> float:
    """Return how long this thread is at work for a call, whatever else the machine does."""
    start = time.thread_time()
    work()
    return 1e3 * (time.thread_time() - start)


def main() -> None:
    """Step through the lot twice and print the medians."""
    application = QApplication(["redraw"])
    with tempfile.TemporaryDirectory() as folder:
        store = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        window = MainWindow(Theme(application), Settings(store))
        window.resize(1280, 800)
        window.show()
        keys = window.lot.session.take_in(Batch(tuple(map(tube, range(TUBES))), (), ()))
        window.lot.tell_all()
        window.lot.choose(keys[:1])
        application.processEvents()

        paint = application.processEvents  # what was asked to be painted is painted

        def step(key: int) -> None:
            window.lot.choose([key])
            paint()

        first = [milliseconds(lambda key=key: step(key)) for key in keys[1:]]
        again = [milliseconds(lambda key=key: step(key)) for key in keys]
        several = milliseconds(lambda: (window.lot.choose(keys[:20]), application.processEvents()))
        views = {}
        for view in (view for view in View if view not in (View.LOG, View.DIFFERENCE)):
            window.actions_.views[view].trigger()
            views[f"step in the view: {view.value}"] = [
                milliseconds(lambda key=key: step(key)) for key in keys[:VIEWED]
            ]
        window.actions_.views[View.DIFFERENCE].trigger()
        views[f"two tubes: {View.DIFFERENCE.value}"] = [
            milliseconds(lambda at=at: (window.lot.choose(keys[at : at + 2]), paint()))
            for at in range(VIEWED)
        ]
        window.actions_.views[View.PLATE].trigger()
        application.processEvents()
        plot = window.curves.plot
        hover = [
            milliseconds(lambda x=x: (plot.pointed.emit(float(x), 2.0), plot.grab()))
            for x in np.linspace(20.0, 290.0, 30)
        ]
        window.close()
    for what, times in (
        ("step to a tube, first time", first),
        ("step to a tube, again", again),
        ("20 tubes over each other", [several]),
        ("read under the cursor, plot drawn", hover),
        *views.items(),
    ):
        middle = statistics.median(times)
        worst = max(times)
        line = f"{what:36s} {middle:6.1f} ms  {middle / FRAME_MS:5.2f} frames  worst {worst:.1f} ms"
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
