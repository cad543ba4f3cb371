"""Behaviour: windows closed too early, two of them on one lot file, a file gone, a full disk.

Nothing of what a person did is lost, and no traceback is seen (pytest-qt fails a test for one).
"""

from __future__ import annotations

import os
import shutil
import sys
import threading
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot, list_lot
from curvelab.workbench.lot_upkeep import kept_records, overrule_verdict
from helpers.checkout import ROOT, run_command
from helpers.mounts import mounted
from helpers.sweeps import write_sweep

NOW = datetime(2031, 3, 1, 9, tzinfo=UTC)


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    folder.mkdir()
    for number in range(12):
        write_sweep(folder / f"A{number:02}.csv", seed=number)
    return folder


@pytest.fixture
def lot_path(tmp_path, bench):
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=tuple(sorted(bench.iterdir())[:3]))))
    return path


@pytest.fixture
def on_lot(make_window, lot_path, idle):
    """Return a function that shows a window on the lot file."""

    def make():
        window = make_window()
        window.lot.file.open(lot_path)
        idle(window)
        return window

    return make


def stored(path) -> dict:
    return {tube.identity.serial: tube for tube in list_lot(path).tubes}


def press(window, words: str) -> None:
    next(one for one in window.notice.buttons if words in one.text().replace("&", "")).click()


def test_a_window_closed_while_files_are_read_closes_at_once(make_window, bench, idle):
    window = make_window()
    window.open_paths([bench])
    assert window.close()
    again = make_window()
    again.open_paths([bench])
    idle(again)
    assert len(again.lot.entries) == 12


def test_a_window_closed_while_a_lot_is_filled_asks_and_finishes(on_lot, lot_path, bench, qtbot):
    window = on_lot()
    window.open_paths([bench])
    assert not window.close()
    assert window.isVisible()
    press(window, "Close when it is done")
    qtbot.waitUntil(lambda: not window.isVisible(), timeout=60_000)
    assert len(stored(lot_path)) == 12


def test_filling_that_is_stopped_by_closing_leaves_a_sound_file(on_lot, lot_path, bench):
    window = on_lot()
    window.open_paths([bench])
    assert not window.close()
    press(window, "Stop it and close")
    assert not window.isVisible()
    found = stored(lot_path)
    assert 3 <= len(found) <= 12
    assert all(tube.results for tube in found.values())


def test_who_stays_goes_on(on_lot, lot_path, bench, idle):
    window = on_lot()
    window.open_paths([bench])
    assert not window.close()
    press(window, "Stay here")
    idle(window)
    assert window.isVisible()
    assert window.notice.isHidden()
    assert len(window.lot.rows) == 12


def test_sheets_that_are_being_saved_are_all_there_after_closing(
    make_window, bench, answers, idle, tmp_path, qtbot
):
    window = make_window()
    window.open_paths([bench])
    idle(window)
    window.tubes.view.selectAll()
    target = tmp_path / "sheets"
    target.mkdir()
    answers.paths = [target]
    window.actions_.save_sheets.trigger()
    assert not window.close()
    press(window, "Close when it is done")
    qtbot.waitUntil(lambda: not window.isVisible(), timeout=60_000)
    assert len(list(target.glob("*.pdf"))) == 12


def grade(window, bench) -> None:
    window.actions_.grade.trigger()


def check_bench(window, bench) -> None:
    form = window.tools.bench.dialog.form
    form.take_golden(sorted(bench.glob("*.csv"))[:2])
    form.check.click()


@pytest.mark.parametrize("begin", [grade, check_bench])
def test_a_window_closed_while_a_lot_is_judged_asks_and_keeps_what_comes_of_it(
    on_lot, lot_path, bench, begin, qtbot
):
    kind = "grade" if begin is grade else "bench-check"
    window = on_lot()
    before = len(kept_records(lot_path, kind))
    begin(window, bench)
    assert not window.close()
    assert "still being written" in window.notice.words.text()
    press(window, "Close when it is done")
    qtbot.waitUntil(lambda: not window.isVisible(), timeout=60_000)
    assert len(kept_records(lot_path, kind)) > before


def test_a_window_closed_while_sets_or_mates_are_sought_closes_at_once(on_lot):
    for action in ("sets", "mate"):
        window = on_lot()
        window.lot.choose_rows([window.lot.rows[0].key])
        if action == "sets":
            window.tools.matching.find_sets()
        else:
            window.actions_.mate.trigger()
        assert window.tasks.busy
        assert window.close()
        assert not window.isVisible()


def test_a_verdict_set_just_before_closing_is_in_the_file(on_lot, lot_path):
    window = on_lot()
    window.lot.choose_rows([row.key for row in window.lot.rows])  # they are judged first
    window.lot.overrule(Overrule(NOW, Verdict.REJECT, "cracked base", "Ada"))
    window.close()
    assert all(tube.overrule.reason == "cracked base" for tube in stored(lot_path).values())


def test_what_is_being_brought_back_when_the_window_closes_comes_back_the_next_time(
    make_window, bench, idle
):
    first = make_window()
    first.open_paths([bench])
    idle(first)
    first.lot.choose([first.lot.entries[0].key])
    first.lot.overrule(Overrule(NOW, Verdict.HOLD, "hums", "Ada"))
    first.close()
    hasty = make_window()
    hasty.begin([])
    hasty.close()
    last = make_window()
    last.begin([])
    idle(last)
    assert len(last.lot.entries) == 12
    assert [entry.overrule.reason for entry in last.lot.entries if entry.overrule] == ["hums"]


def test_a_lot_file_that_is_back_first_takes_nothing_from_the_tubes_that_are_not_yet(
    make_window, lot_path, bench, idle
):
    first = make_window()
    first.open_paths([bench])
    idle(first)
    first.lot.file.open(lot_path)
    idle(first)
    loose = len(first.lot.loose)
    assert loose == 9
    first.close()
    hasty = make_window()
    hasty.lot.lot_file_changed.connect(hasty.close)
    hasty.begin([])
    idle(hasty)
    last = make_window()
    last.begin([])
    idle(last)
    assert last.lot.kept.path == lot_path
    assert len(last.lot.loose) == loose


def change(window, serial: str, **fields) -> None:
    row = next(row for row in window.lot.rows if row.title == serial)
    window.lot.choose_rows([row.key])
    (tube,) = window.lot.chosen_tubes
    window.lot.file.change_identity(tube, replace(tube.identity, **fields), "fields")


def test_two_windows_on_one_lot_file_lose_nothing_of_each_other(on_lot, lot_path, idle):
    one, two = on_lot(), on_lot()
    change(one, "A00", box="B 7")
    idle(one)
    change(two, "A00", price=Decimal("12.50"))  # it knows nothing of the box yet
    idle(two)
    identity = stored(lot_path)["A00"].identity
    assert (identity.box, identity.price) == ("B 7", Decimal("12.50"))
    two.actions_.undo.trigger()
    idle(two)
    identity = stored(lot_path)["A00"].identity
    assert (identity.box, identity.price) == ("B 7", None)


def test_a_window_come_back_to_shows_what_another_has_written(on_lot, bench, idle, qtbot):
    one, two = on_lot(), on_lot()
    before = two.lot.chosen_rows
    one.open_paths([bench])
    idle(one)
    two._file_look.look()
    qtbot.waitUntil(lambda: len(two.lot.rows) == 12 and not two.lot.busy, timeout=20_000)
    assert two.lot.chosen_rows == before
    assert "changed elsewhere" in two.statusBar().currentMessage()


def test_a_window_come_back_to_reads_nothing_again_of_its_own(on_lot, idle):
    window = on_lot()
    change(window, "A00", box="B 7")
    idle(window)
    held = window.lot.kept
    window._file_look.look()
    idle(window)
    idle(window)
    assert window.lot.kept is held


def test_a_dialog_that_closes_while_its_change_is_written_is_nobody_else(on_lot, idle):
    window = on_lot()
    held = window.lot.kept
    change(window, "A00", box="B 7")
    QApplication.sendEvent(window, QEvent(QEvent.Type.WindowActivate))
    idle(window)
    window.actions_.matching.trigger()
    window.tools.matching.find_sets()  # work after which what was missed is looked for
    idle(window)
    idle(window)
    assert window.lot.kept is held
    assert "elsewhere" not in window.statusBar().currentMessage()


def test_whoever_comes_from_another_program_sees_what_was_written_meanwhile(
    on_lot, lot_path, qapp, qtbot
):
    window = on_lot()
    overrule_verdict(lot_path, "A00", Overrule(NOW, Verdict.HOLD, "hums", "Ada"))
    qapp.applicationStateChanged.emit(Qt.ApplicationState.ApplicationActive)
    qtbot.waitUntil(lambda: window.lot.rows[0].overrule is not None, timeout=10_000)


def test_what_this_window_has_written_without_showing_it_is_its_own_too(on_lot, lot_path, idle):
    window = on_lot()
    held = window.lot.kept
    wrong = Overrule(NOW, Verdict.HOLD, "hums", "Ada")
    window.tasks.start(lambda *_: overrule_verdict(lot_path, "A00", wrong), lambda _: None)
    idle(window)
    window._file_look.look()
    idle(window)
    idle(window)
    assert window.lot.kept is held


def test_who_comes_back_while_the_window_is_at_work_sees_the_others_afterwards(
    on_lot, lot_path, idle, qtbot
):
    window = on_lot()
    going_on = threading.Event()
    window.tasks.start(lambda *_: going_on.wait(20), lambda _: None)
    overrule_verdict(lot_path, "A00", Overrule(NOW, Verdict.HOLD, "hums", "Ada"))  # by another
    window._file_look.look()
    going_on.set()
    idle(window)
    qtbot.waitUntil(lambda: window.lot.rows[0].overrule is not None, timeout=10_000)


def test_a_lot_file_that_goes_while_it_is_open_is_told_and_works_again_once_it_is_back(
    on_lot, lot_path, idle, tmp_path
):
    window = on_lot()
    away = tmp_path / "away.lot"
    shutil.move(lot_path, away)
    window._file_look.look()
    idle(window)
    problems = window.lot.session.problems
    assert [one.file for one in problems] == ["spring.lot"]
    assert "not where it was" in problems[0].reason
    assert len(window.lot.rows) == 3
    window.lot.choose_rows([window.lot.rows[2].key])  # it is judged from the file
    window.lot.overrule(Overrule(NOW, Verdict.REJECT, "cracked base", "Ada"))
    idle(window)
    assert not lot_path.exists()  # no empty one is made in its place
    assert len(window.lot.session.problems) > 1
    assert not window.actions_.undo.isEnabled()
    assert [row.overrule for row in window.lot.rows] == [None] * 3
    shutil.move(away, lot_path)
    window.lot.overrule(Overrule(NOW, Verdict.REJECT, "cracked base", "Ada"))
    idle(window)
    assert stored(lot_path)["A02"].overrule.reason == "cracked base"


FULL = """
import os, sys
from pathlib import Path
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication
from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.window.main_window import MainWindow
from curvelab.window.settings import Settings
from curvelab.window.theme import Theme
from curvelab.workbench.lot_file import list_lot
from helpers.sweeps import write_sweep
from datetime import datetime, UTC

disk, elsewhere = Path(sys.argv[1]), Path(sys.argv[2])

class Answers:
    def ask_target(self, title, name, filters, receive): receive([disk / name])
    def ask_folder(self, title, receive): receive([disk / "sheets"])

def shown(*paths):
    settings = QSettings(str(elsewhere / "settings.ini"), QSettings.Format.IniFormat)
    window = MainWindow(theme, Settings(settings), Answers())
    window.show()
    window.open_paths(paths)
    rest(window)
    return window

def rest(window):
    while window.lot.busy:
        application.processEvents()
    application.processEvents()

application = QApplication(["full"])
theme = Theme(application)
sweeps = [write_sweep(elsewhere / f"A{number}.csv", seed=number) for number in range(3)]
window = shown()
window.lot.file.create(disk / "spring.lot")
rest(window)
window.open_paths(sweeps)
rest(window)
(disk / "sheets").mkdir()
ballast = os.open(disk / "ballast", os.O_WRONLY | os.O_CREAT)
try:
    while True:
        os.write(ballast, bytes(4096))
except OSError as error:
    print("full|" + error.strerror)
os.close(ballast)
window.tubes.view.selectAll()
rest(window)
for action in (window.actions_.save_plot, window.actions_.save_lot, window.actions_.save_sheets):
    action.trigger()
    rest(window)
window.lot.overrule(Overrule(datetime(2031, 3, 1, tzinfo=UTC), Verdict.REJECT, "x" * 9000, "Ada"))
rest(window)
for problem in window.lot.session.problems:
    print("told|" + problem.file + "|" + problem.reason)
def left():
    return ",".join(sorted(path.name for path in disk.rglob("*") if path.is_file()))

print("left|" + left())
(disk / "ballast").unlink()
window.actions_.save_lot.trigger()
window.lot.overrule(Overrule(datetime(2031, 3, 1, tzinfo=UTC), Verdict.REJECT, "leaks", "Ada"))
rest(window)
print("later|" + left())
print("kept|" + ",".join(str(tube.overrule and tube.overrule.reason)
                        for tube in list_lot(disk / "spring.lot").tubes))
window.close()
"""
SMALL_DISK = 'mount -t tmpfs -o size=1500k tmpfs "$1" && shift && exec "$@"'


def test_on_a_full_disk_each_saving_is_told_and_nothing_half_written_stays(tmp_path):
    pytest.importorskip("resource")
    disk, elsewhere = tmp_path / "disk", tmp_path / "elsewhere"
    disk.mkdir()
    elsewhere.mkdir()
    found = run_command(
        *mounted(disk, SMALL_DISK), sys.executable, "-c", FULL, str(disk), str(elsewhere),
        environment={
            **os.environ,
            "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "tests"))),
            "XDG_DATA_HOME": str(elsewhere / "data"),
        },
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    assert "Traceback" not in found.stderr + found.stdout
    lines = [line.split("|") for line in found.stdout.splitlines()]
    told = {line[1] for line in lines if line[0] == "told"}
    assert {"A0.png", "lot.csv", "sheets", "spring.lot"} <= told
    (left,) = (line[1] for line in lines if line[0] == "left")
    # The database keeps files of its own beside it until there is room again.
    assert {*left.split(",")} - {"spring.lot-shm", "spring.lot-wal"} == {"ballast", "spring.lot"}
    assert ["later", "lot.csv,spring.lot"] in lines
    assert ["kept", "leaks,leaks,leaks"] in lines
