"""How long the window's event loop is held up at most, by what a person does to large lots.

Run ``python tests/benchmarks/event_loop.py [TUBES] [ROWS]``: so many made-up tubes on the
list (1,000), then a lot file of so many rows (10,000); last, so many real files are read, and
half as many shown in the import preview. Printed is the longest wait of a timer that is always
due, for each action, as three times: that which passed, in which other programs may have had
their share of the machine; that in which this program was at work in any of its threads, one of
which the window may have waited for; and that of the window's own thread. The second is held
against the limit.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from PySide6.QtCore import QEventLoop, QPointF, QSettings, Qt, QTimer  # noqa: E402
from PySide6.QtGui import QMouseEvent  # noqa: E402
from PySide6.QtTest import QTest  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from curvelab.catalog.records import StoredResult, StoredTube, TubeIdentity  # noqa: E402
from curvelab.fitting.records import Constants  # noqa: E402
from curvelab.sheets.results_json import result_entry, results_text  # noqa: E402
from curvelab.sheets.results_reader import figures_of_result  # noqa: E402
from curvelab.sweep.records import SweepKind  # noqa: E402
from curvelab.window.collector import Collector  # noqa: E402
from curvelab.window.library_names import library_names  # noqa: E402
from curvelab.window.main_window import MainWindow  # noqa: E402
from curvelab.window.settings import Settings  # noqa: E402
from curvelab.window.theme import Scheme, Theme  # noqa: E402
from curvelab.workbench.characterize import Batch, Request  # noqa: E402
from curvelab.workbench.open_lot import OpenLot  # noqa: E402
from helpers import assessments  # noqa: E402
from helpers.sweeps import write_sweep  # noqa: E402

ALLOWED_MS = 50.0
NO_WAIT = (0.0, 0.0, 0.0)
SETTLED_MS = 130  # the mouse must rest on a line for 90
TYPES = ("6SN7GTB", "12AX7A", "2A3")


def tube(number: int):
    """Return one tube of the list."""
    base = (assessments.healthy, assessments.gassy, assessments.drifting)[number % 3]()
    source = replace(base.sweep.source, path=f"lot/{number}.csv", sha256=str(number))
    return replace(base, sweep=replace(base.sweep, tube=f"T{number:05d}", source=source))


def stored(count: int) -> list[StoredTube]:
    """Return the tubes of a lot file, with constants and findings that differ."""
    documents = [results_text(result_entry(tube(kind))) for kind in range(3)]
    figures = [figures_of_result(text) for text in documents]
    now = datetime(2031, 3, 1, tzinfo=UTC)
    made = []
    for number in range(count):
        of = figures[number % 3]
        current = of.constants.plate_current
        constants = of.constants
        if current.value is not None:
            factor = 0.7 + (number * 7919 % 600) / 1000
            shown = replace(current, value=current.value * factor)
            constants = Constants(
                **{
                    **{name: getattr(constants, name) for name in Constants.__slots__},
                    "plate_current": shown,
                }
            )
        result = StoredResult(
            key=number + 1,
            named=f"T{number:05d}",
            section=None,
            kind=SweepKind.CURVES,
            file=f"{number}.csv",
            sha256=f"{number:064x}",
            made_at=now,
            made_with="curvelab",
            bench="bench",
            figures=replace(of, constants=constants, type_name=TYPES[number % 3]),
        )
        identity = TubeIdentity(f"T{number:05d}", box=f"B {number % 40}")
        made.append(StoredTube(number + 1, identity, (result,)))
    return made


class Watch:
    """Runs the event loop with a timer that is always due, and notes how long it had to wait."""

    def __init__(self) -> None:
        self.worst: dict[str, tuple[float, ...]] = {}
        self._loop = QEventLoop()
        self._timer = QTimer()
        self._timer.timeout.connect(self._tick)
        self._last = _now()
        self._longest = NO_WAIT

    def __call__(
        self, what: str, action: Callable[[], object], done: Callable[[], bool] | None = None
    ) -> None:
        """Do something within the loop and go on until all that came of it is done."""
        self._longest = NO_WAIT
        self._last = _now()
        self._timer.start(0)
        QTimer.singleShot(2, action)
        looks = QTimer()
        looks.timeout.connect(lambda: self._loop.quit() if done is None or done() else None)
        looks.start(SETTLED_MS)
        self._loop.exec()
        looks.stop()
        self._timer.stop()
        self.worst[what] = tuple(map(max, self._longest, self.worst.get(what, NO_WAIT)))

    def _tick(self) -> None:
        now = _now()
        passed, program, thread = (new - old for new, old in zip(now, self._last, strict=True))
        waited = tuple(1e3 * time for time in (passed, min(passed, program), thread))
        self._longest = tuple(map(max, self._longest, waited))
        self._last = now


def _now() -> tuple[float, float, float]:
    """Return the time, and the times that this program and this thread have been at work."""
    return time.perf_counter(), time.process_time(), time.thread_time()


def use_table(window: MainWindow, watch: Watch, size: str) -> None:
    """Scroll, sort, filter, hover and choose."""
    view, tubes = window.tubes.view, window.tubes
    bar = view.verticalScrollBar()
    for step in range(20):
        watch(f"{size}: scroll", lambda step=step: bar.setValue(bar.maximum() * step // 20))
    for column in (0, 1, 2, 6, 7, 8):
        for order in (Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder):
            watch(f"{size}: sort", lambda c=column, o=order: view.sortByColumn(c, o))
    for text in ("t", "t0", "t00", "gas", "gas 12ax", "zzz", ""):
        watch(f"{size}: filter by text", lambda text=text: tubes.filter_field.setText(text))
    for place in (1, 2, 3, 0):
        watch(f"{size}: filter by verdict", lambda p=place: tubes.verdict_box.setCurrentIndex(p))
    port = view.viewport()
    for y in range(4, 200, 7):
        place = QPointF(40, y)
        move = QMouseEvent(
            QMouseEvent.Type.MouseMove, place, port.mapToGlobal(place), Qt.MouseButton.NoButton,
            Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
        )  # fmt: skip
        watch(f"{size}: hover", lambda move=move: QApplication.sendEvent(port, move))
    view.setFocus()
    for _ in range(10):
        watch(f"{size}: step to the next tube", lambda: QTest.keyClick(view, Qt.Key.Key_Down))
    watch(f"{size}: hide and show a column", lambda: tubes._switch_column("file", True))
    watch(f"{size}: hide and show a column", lambda: tubes._switch_column("file", False))
    watch(f"{size}: choose all", window.actions_.choose_all.trigger)
    watch(f"{size}: step to the next tube", lambda: QTest.keyClick(view, Qt.Key.Key_Down))


def take_off_all(window: MainWindow) -> None:
    """Begin anew with an empty list."""
    window.lot.session.remove([entry.key for entry in window.lot.entries])
    window.lot.tell_all()


def read_files(window: MainWindow, watch: Watch, folder: Path, count: int) -> None:
    """Open real files; then import half as many with the preview."""
    lot, intake = window.lot, window.intake
    for number in range(count):
        write_sweep(folder / f"T{number:05d}.csv", seed=number)
    few = sorted(folder.iterdir())[: count // 2]
    watch(f"{count} files: read", lambda: lot.open([folder]), lambda: not lot.busy)
    take_off_all(window)
    preview = intake.preview
    watch(
        f"{len(few)} files: preview",
        lambda: intake.import_paths(few),
        lambda: not preview.tasks.busy,
    )
    watch(f"{len(few)} files: take in from there", preview.take_in, lambda: not lot.busy)
    take_off_all(window)


def made_beside(window: MainWindow, watch: Watch, size: str, path: Path, rows: int) -> OpenLot:
    """Return a lot file of many rows, made in the thread where one is read.

    What it is made of is collected while it comes, as when one is read: made between two
    turns, all of it would be looked through in the first turn that shows it.
    """
    made: list[OpenLot] = []

    def work(*_: object) -> OpenLot:
        return OpenLot(path, stored(rows), frozenset(), newer=False)

    watch(f"{size}: read", lambda: window.tasks.start(work, made.append), lambda: bool(made))
    return made[0]


def main() -> None:
    """Run both lots and the files, and print the longest waits."""
    tubes = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    rows = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    application = QApplication(["event loop"])
    watch = Watch()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder
        store = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        theme = Theme(application)
        window = MainWindow(theme, Settings(store))
        window.resize(1280, 800)
        window.show()
        Collector(window)
        lot = window.lot
        library_names()  # where files are read in the background, that has read the library
        batch = Batch(tuple(map(tube, range(tubes))), (), ())
        small = f"{tubes} tubes"
        watch(f"{small}: take in", lambda: lot.take_in(Request(()), batch))
        use_table(window, watch, small)
        watch(f"{small}: take off and undo", window.actions_.remove.trigger)
        watch(f"{small}: take off and undo", window.actions_.undo.trigger)
        watch(f"{small}: autosave", window.recovery.write)
        watch(f"{small}: dark", lambda: theme.use(Scheme.DARK))
        take_off_all(window)
        sweeps = Path(folder) / "sweeps"
        sweeps.mkdir()
        read_files(window, watch, sweeps, tubes)
        large = f"{rows} rows"
        kept = made_beside(window, watch, large, Path(folder) / "none.lot", rows)
        lot._judge_next = lambda: None  # there is no file to judge from
        watch(f"{large}: show", lambda: lot.keep(kept))
        use_table(window, watch, large)
        window.close()
    sys.stdout.write(f"{'longest wait in the event loop [ms]':44s}   passed  program   thread\n")
    for what, times in watch.worst.items():
        mark = "" if times[1] < ALLOWED_MS else "  <-- above 50 ms"
        shown = " ".join(f"{time:8.1f}" for time in times)
        sys.stdout.write(f"{what:44s} {shown}{mark}\n")


if __name__ == "__main__":
    main()
