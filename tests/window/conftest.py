"""The real window for tests: settings of its own, nothing that blocks, no thread left over."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QSettings, Qt, QThreadPool
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QMessageBox

from curvelab.window.lot import Lot
from curvelab.window.main_window import MainWindow
from curvelab.window.settings import Settings
from curvelab.window.tasks import TaskQueue
from curvelab.window.theme import Scheme, Theme
from curvelab.window.types_dialog import TypesDialog
from curvelab.workbench.characterize import Batch
from helpers import assessments


class Answers:
    """Stands where a person would pick file names in a dialog."""

    def __init__(self) -> None:
        self.paths: list[Path] = []
        self.asked: list[str] = []

    def ask_files(self, receive) -> None:
        self._answer("files", receive)

    def ask_some(self, title, filters, receive) -> None:
        self._answer("some files", receive)

    def ask_folder(self, title, receive) -> None:
        self._answer("folder", receive)

    def ask_file(self, title, filters, receive) -> None:
        self._answer(title, receive)

    def ask_target(self, title, name, filters, receive) -> None:
        self._answer(name, receive)

    def _answer(self, what, receive) -> None:
        self.asked.append(what)
        if self.paths:
            receive(self.paths)


@pytest.fixture(autouse=True)
def _nothing_blocks(monkeypatch):
    """Fail where a modal dialog is opened: it would hang, and the window must open none."""

    def refuse(*_args, **_keywords):
        pytest.fail("a modal dialog was opened")

    monkeypatch.setattr(QDialog, "exec", refuse)
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: False)  # no other program either
    for kind in ("information", "question", "warning", "critical", "about"):
        monkeypatch.setattr(QMessageBox, kind, refuse)
    for kind in ("getOpenFileName", "getOpenFileNames", "getSaveFileName", "getExistingDirectory"):
        monkeypatch.setattr(QFileDialog, kind, refuse)
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda _: True)  # no other program starts


@pytest.fixture
def theme(qapp):
    made = Theme(qapp)
    made.use(Scheme.LIGHT)
    yield made
    made.grow(0)
    made.deleteLater()


@pytest.fixture
def settings_file(tmp_path) -> Path:
    return tmp_path / "settings" / "curvelab.ini"


@pytest.fixture
def lot(qapp):
    tasks = TaskQueue()
    yield Lot(tasks)
    tasks.close()


@pytest.fixture
def answers() -> Answers:
    return Answers()


@pytest.fixture
def make_window(qtbot, theme, settings_file, answers):
    """Return a function that shows the real window; all are closed with their threads."""
    made: list[MainWindow] = []
    before = threading.active_count()

    def make() -> MainWindow:
        store = QSettings(str(settings_file), QSettings.Format.IniFormat)
        window = MainWindow(theme, Settings(store), answers)
        made.append(window)
        with qtbot.waitExposed(window):
            window.show()
        qtbot.keyRelease(window, Qt.Key.Key_Control)  # a test before may have left it held down
        return window

    yield make
    for window in made:
        window.close()
        window.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert QThreadPool.globalInstance().waitForDone(5000)
    assert threading.active_count() <= before


@pytest.fixture
def window(make_window) -> MainWindow:
    return make_window()


@pytest.fixture
def idle(qtbot):
    """Return a function that waits until a window has nothing left to do."""

    def wait(window: MainWindow, timeout: int = 60_000) -> None:
        qtbot.waitUntil(lambda: not window.lot.busy, timeout=timeout)
        QApplication.processEvents()

    return wait


def made_lot() -> Batch:
    """Return four tubes made by hand, each of a file of its own."""
    tubes = [
        assessments.healthy(),
        assessments.gassy(),
        assessments.without_constants(),
        assessments.drifting(),
    ]
    tubes = [
        replace(
            tube,
            sweep=replace(
                tube.sweep,
                source=replace(tube.sweep.source, path=f"lot/{number}.csv", sha256=str(number)),
            ),
        )
        for number, tube in enumerate(tubes)
    ]
    return Batch(tuple(tubes), tuple(row for tube in tubes for row in tube.sweep.set_aside), ())


@pytest.fixture
def filled(lot) -> Lot:
    """Return a lot of four tubes, the first chosen."""
    fill(lot)
    return lot


def fill(lot: Lot) -> tuple[int, ...]:
    keys = lot.session.take_in(made_lot())
    lot.tell_all()
    lot.choose(keys[:1])
    return keys


@pytest.fixture
def fill_lot():
    """Return the function that puts the four tubes into a lot and gives their keys."""
    return fill


@pytest.fixture
def types(qtbot, theme, answers):
    made = TypesDialog(theme, answers)
    made.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    qtbot.addWidget(made)
    made.show()
    return made
