"""Take pictures of the real window on the sample lot, at two sizes, light and dark.

Run ``python tests/screenshots/take.py FOLDER``; it uses the screen there is, so under
``xvfb-run`` the pictures are made without one. Each picture is named by what it shows.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from PySide6.QtCore import QPointF, QSettings  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from curvelab.paths import sample_folder  # noqa: E402
from curvelab.window.main_window import MainWindow  # noqa: E402
from curvelab.window.plots.cursor_plot import CursorPlot  # noqa: E402
from curvelab.window.settings import Settings  # noqa: E402
from curvelab.window.theme import Scheme, Theme  # noqa: E402
from curvelab.workbench.views import View  # noqa: E402

SIZES = ((1280, 800), (1920, 1080))
LONGEST_READ_S = 300.0
SETTLE_S = 0.4


def main() -> None:
    """Open the lot once, then walk through it for every size and scheme."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication(["curvelab"])
    with tempfile.TemporaryDirectory() as scratch:
        store = QSettings(str(Path(scratch) / "settings.ini"), QSettings.Format.IniFormat)
        theme = Theme(application)
        window = MainWindow(theme, Settings(store))
        window.show()

        def shoot(what: str) -> None:
            for width, height in SIZES:
                for scheme in (Scheme.LIGHT, Scheme.DARK):
                    theme.use(scheme)
                    window.resize(width, height)
                    wait(application, SETTLE_S)
                    window.grab().save(str(folder / f"{what}-{width}x{height}-{scheme.value}.png"))

        shoot("start")
        window.open_paths([sample_folder()])
        wait(application, LONGEST_READ_S, until=lambda: not window.tasks.busy)
        walk(window, shoot)
        window.close()


def walk(window: MainWindow, shoot: Callable[[str], None]) -> None:
    """Show what a newcomer should see: a good tube, a bad one, a log, several, the problems."""
    lot = window.lot
    curves = [entry for entry in lot.entries if entry.assessment.drift is None]
    logs = [entry for entry in lot.entries if entry.assessment.drift is not None]
    good = next(entry for entry in curves if entry.assessment.verdict.value == "accept")
    lot.choose([good.key])
    point(window, 0.6, 0.4)
    shoot("good")
    bad = [entry for entry in curves if entry.assessment.verdict.value == "reject"]
    for entry in [one for one in bad if one.assessment.findings[0].readings][:2]:
        lot.choose([entry.key])
        lot.point_out(0)
        shoot(f"reject-{entry.assessment.sweep.tube}")
    for entry in logs:
        lot.choose([entry.key])
        shoot(f"log-{entry.assessment.sweep.tube}")
    same = [e.key for e in curves if e.assessment.type_name == good.assessment.type_name]
    lot.choose([good.key, *same])
    shoot("several")
    if lot.session.problems:
        window.actions_.problems.setChecked(True)
        shoot("problems")
        window.actions_.problems.setChecked(False)
    walk_views(window, shoot)


def walk_views(window: MainWindow, shoot: Callable[[str], None]) -> None:
    """Show each view of tubes that have something to show in it, and of some that have not."""
    lot, views = window.lot, window.actions_.views
    named = {entry.assessment.sweep.title: entry.key for entry in lot.entries}
    sections = ("PIT-04 section 1", "PIT-04 section 2")
    for view, *shown in (
        (View.TRANSFER, ("PIT-01",), ("PIT-01", "PIT-03", "PIT-02")),
        (View.CONSTANT_CURRENT, ("PIT-01",)),
        (View.CONSTANTS, ("PIT-01",), ("STAGE-03 log",)),
        (View.DEVIATION, ("PIT-01",), ("PIT-03",), ("STAGE-02",)),
        (View.GRID_CURRENT, ("BOOTH-02",), ("BALCONY-02",), ("PIT-06",)),
        (View.PASSES, ("BALCONY-05",), ("PIT-01",)),
        (View.LOG, ("STAGE-04 log",)),
        (View.PLATE, sections),
        (View.DIFFERENCE, sections[:1], ("PIT-01",)),
    ):
        views[view].trigger()
        for titles in shown:
            lot.choose([named[title] for title in titles])
            point(window, 0.6, 0.4)
            shoot(f"{view.value}-{'+'.join(titles)}".replace(" ", "-"))
    views[View.PLATE].trigger()


def point(window: MainWindow, across: float, up: float) -> None:
    """Put the cursor of the plot that is shown at shares of its width and height."""
    plots = [plot for plot in window.findChildren(CursorPlot) if plot.isVisible()]
    for plot in plots[:1]:
        (left, right), (low, high) = plot.plotItem.viewRange()
        plot.point_at(QPointF(left + across * (right - left), low + up * (high - low)))


def wait(
    application: QApplication, seconds: float, until: Callable[[], bool] = lambda: False
) -> None:
    """Let the window live for some time, or until something is so."""
    end = time.monotonic() + seconds
    while time.monotonic() < end and not until():
        application.processEvents()
        time.sleep(0.01)


if __name__ == "__main__":
    main()
