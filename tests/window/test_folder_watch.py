"""Behaviour: a watched folder in the real window; the bench writes, the table fills."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

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
