"""Behaviour: a watched folder in the real window; the bench writes, the table fills."""

from __future__ import annotations

import shutil
import threading
import time
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication

from curvelab.window.intake.arrivals import ArrivalsButton
from curvelab.window.intake.watch_line import WatchLine
from curvelab.workbench.characterize import characterize
from helpers.sweeps import write_sweep


@pytest.fixture
def folder(tmp_path) -> Path:
    made = tmp_path / "bench"
    made.mkdir()
    return made


@pytest.fixture
def watching(qtbot, window, answers, folder):
    """Return the window, watching the folder."""
    answers.paths = [folder]
    with qtbot.waitSignal(window.intake.watch.begun, timeout=10_000):
        window.actions_.watch.trigger()
    return window


def finish(path: Path) -> None:
    """Write the line that says that a file is complete."""
    with path.open("a", encoding="utf-8") as file:
        file.write("# end\n")


def names(window) -> list[str]:
    return [entry.assessment.sweep.tube for entry in window.lot.entries]


def said(window) -> str:
    return window.findChild(WatchLine).words.text()


def test_each_new_sweep_comes_into_the_table_once(qtbot, watching, folder):
    assert watching.actions_.watch.isChecked()
    for seed, name in enumerate(("a", "b"), start=1):
        write_sweep(folder / f"{name}.csv", seed=seed)
        finish(folder / f"{name}.csv")
        qtbot.waitUntil(lambda name=name: name in names(watching), timeout=20_000)
    shutil.copy(folder / "a.csv", folder / "copy.csv")
    with qtbot.waitSignal(watching.intake.watch.looked, timeout=10_000):
        pass
    assert names(watching) == ["a", "b"]
    assert "2 taken in" in said(watching)


def test_a_file_without_an_end_is_taken_when_it_rests(qtbot, watching, folder):
    write_sweep(folder / "slow.csv")
    qtbot.waitUntil(lambda: "1 being written" in said(watching), timeout=10_000)
    assert names(watching) == []
    qtbot.waitUntil(lambda: names(watching) == ["slow"], timeout=20_000)


def test_a_file_written_anew_is_a_second_tube_that_can_be_judged_again(qtbot, watching, folder):
    for seed in (1, 2):
        write_sweep(folder / "sweep.csv", seed=seed)
        finish(folder / "sweep.csv")
        qtbot.waitUntil(lambda seed=seed: len(names(watching)) == seed, timeout=20_000)
    files = [entry.assessment.sweep.source.name for entry in watching.lot.entries]
    assert files == ["sweep.csv", "sweep (2).csv"]
    first = watching.lot.entries[0]
    request = watching.lot.intake.prepared_again(
        watching.lot.session.request_for([first.key], first.wish)
    )
    hashes = {source.sha256 for source in request.sources}
    assert hashes == {entry.assessment.sweep.source.sha256 for entry in watching.lot.entries}
    assert not characterize(request).errors


def test_the_folder_goes_and_comes_back(qtbot, watching, folder):
    shutil.rmtree(folder)
    qtbot.waitUntil(lambda: "not there" in said(watching), timeout=10_000)
    folder.mkdir()
    write_sweep(folder / "a.csv")
    finish(folder / "a.csv")
    qtbot.waitUntil(lambda: names(watching) == ["a"], timeout=20_000)


def test_the_watch_ends_by_its_button_and_by_the_menu(qtbot, watching, folder, answers):
    line = watching.findChild(WatchLine)
    assert line.isVisible()
    line.button.click()
    assert not line.isVisible()
    assert not watching.actions_.watch.isChecked()
    with qtbot.waitSignal(watching.intake.watch.begun, timeout=10_000):
        watching.actions_.watch.trigger()
    assert line.isVisible()
    watching.actions_.watch.trigger()
    assert watching.intake.watch.folder is None
    write_sweep(folder / "late.csv")
    finish(folder / "late.csv")
    QApplication.processEvents()
    assert names(watching) == []


def test_no_folder_chosen_leaves_the_action_unchecked(window, answers):
    answers.paths = []
    window.actions_.watch.trigger()
    assert not window.actions_.watch.isChecked()


def test_another_folder_takes_the_place_of_the_first(qtbot, watching, tmp_path, folder):
    other = tmp_path / "other"
    other.mkdir()
    with qtbot.waitSignal(watching.intake.watch.begun, timeout=10_000):
        watching.intake.watch.start(other)
    write_sweep(folder / "a.csv")
    finish(folder / "a.csv")
    write_sweep(other / "b.csv", seed=3)
    finish(other / "b.csv")
    qtbot.waitUntil(lambda: names(watching) == ["b"], timeout=20_000)
    assert watching.actions_.watch.isChecked()


def come_in(qtbot, window, folder, name, seed) -> None:
    """Let a sweep be written and taken in."""
    count = len(window.lot.entries)
    write_sweep(folder / f"{name}.csv", seed=seed)
    finish(folder / f"{name}.csv")
    qtbot.waitUntil(lambda: len(window.lot.entries) > count and not window.lot.busy, timeout=20_000)


def looked_at(window) -> str:
    return window.lot.session.current.assessment.sweep.tube


def test_what_comes_in_leaves_the_tube_that_is_looked_at(qtbot, watching, folder):
    button = watching.findChild(ArrivalsButton)
    come_in(qtbot, watching, folder, "a", 1)
    assert looked_at(watching) == "a"  # there was none
    assert not button.isVisible()
    come_in(qtbot, watching, folder, "b", 2)
    come_in(qtbot, watching, folder, "c", 3)
    assert looked_at(watching) == "a"
    assert button.isVisible()
    assert button.text() == "2 new tubes"
    watching.tubes.step(1)
    assert looked_at(watching) == "b"
    assert button.text() == "1 new tube"
    come_in(qtbot, watching, folder, "d", 4)
    qtbot.keyClick(watching, Qt.Key.Key_F9)
    assert looked_at(watching) == "d"
    assert not button.isVisible()


def test_with_hands_at_the_bench_each_tube_is_shown_as_it_comes_in(qtbot, watching, folder):
    watching.actions_.at_once.trigger()
    for seed, name in enumerate(("a", "b"), start=1):
        come_in(qtbot, watching, folder, name, seed)
        assert looked_at(watching) == name
    assert watching._settings.at_once


def test_in_a_lot_file_too_a_newcomer_waits_until_it_is_looked_at(
    qtbot, watching, folder, tmp_path, idle
):
    watching.lot.file.create(tmp_path / "spring.lot")
    idle(watching)
    come_in(qtbot, watching, folder, "a", 1)
    come_in(qtbot, watching, folder, "b", 2)
    assert looked_at(watching) == "a"
    watching.findChild(ArrivalsButton).click()
    qtbot.waitUntil(lambda: looked_at(watching) == "b")


def test_the_watch_goes_on_with_the_next_run_and_misses_nothing(
    qtbot, watching, folder, make_window
):
    come_in(qtbot, watching, folder, "a", 1)
    with qtbot.waitSignal(watching.intake.watch.looked, timeout=10_000):
        pass
    watching.close()
    write_sweep(folder / "meanwhile.csv", seed=2)
    finish(folder / "meanwhile.csv")
    again = make_window()
    again.begin([])
    qtbot.waitUntil(lambda: names(again) == ["a", "meanwhile"], timeout=20_000)
    assert again.actions_.watch.isChecked()
    assert again.findChild(WatchLine).isVisible()
    assert looked_at(again) == "a"
    again.findChild(WatchLine).button.click()
    again.close()
    last = make_window()
    last.begin([])
    assert last.intake.watch.folder is None


def test_who_begins_anew_watches_nothing(qtbot, watching, make_window):
    with qtbot.waitSignal(watching.intake.watch.looked, timeout=10_000):
        pass
    watching.actions_.go_on.setChecked(False)
    watching.close()
    again = make_window()
    again.begin([])
    assert again.intake.watch.folder is None


def test_stopping_does_not_wait_for_a_look_at_a_slow_disk_but_closing_does(qtbot, watching):
    watch = watching.intake.watch
    thread, slow = watch._thread, threading.Event()

    def hold() -> None:
        slow.set()
        time.sleep(1.0)

    QTimer.singleShot(0, watch._watcher, hold)  # in the thread of the watch
    assert slow.wait(5.0)
    begun = time.perf_counter()
    watch.stop()
    assert time.perf_counter() - begun < 0.5
    assert watch.folder is None
    assert thread.isRunning()
    watching.close()
    assert thread.isFinished()
