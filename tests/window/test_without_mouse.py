"""Behaviour: everything in the real window is done, and every part of it reached, by keys alone."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QApplication, QDialog, QMenu, QWidget

from curvelab.window.action_list import ActionList, words_of
from curvelab.window.dividers import Divider
from curvelab.window.main_window import MainWindow
from curvelab.window.plots.cursor_plot import CursorPlot
from curvelab.workbench.views import View
from helpers.sweeps import write_log, write_sweep


@pytest.fixture
def used(window, tmp_path, idle) -> MainWindow:
    """Return the window on a lot file in which every action has something to work on."""
    bench = tmp_path / "bench"
    bench.mkdir()
    write_sweep(bench / "A17.csv")
    write_sweep(bench / "A18.csv", seed=6)
    write_log(bench / "D01.csv")
    (bench / "bad.csv").write_text("no sweep", encoding="utf-8")
    window.lot.file.create(tmp_path / "spring.lot")
    idle(window)
    window.open_paths([bench])
    idle(window)
    window.intake.preview.close()
    window.activateWindow()
    return window


def close_dialogs(window: MainWindow, qtbot) -> None:
    """Close by the keyboard whatever has opened."""
    for dialog in window.findChildren(QDialog):
        if dialog.isVisible():
            qtbot.keyClick(dialog, Qt.Key.Key_Escape)
            assert not dialog.isVisible(), type(dialog).__name__
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    window.activateWindow()  # as a window manager does
    qtbot.waitUntil(window.isActiveWindow)


def do_by_its_words(window: MainWindow, action: QAction, qtbot) -> None:
    """Open the list of actions by its key, type the words of one, walk to it, press Enter."""
    keys = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(window, Qt.Key.Key_F, keys)
    found = next(one for one in window.findChildren(ActionList) if one.isVisible())
    qtbot.keyClicks(found.field, words_of(action))
    model = found.view.model()
    rows = [model.index(row, 0).data() for row in range(model.rowCount())]
    for _ in range(rows.index(words_of(action))):
        qtbot.keyClick(found.field, Qt.Key.Key_Down)
    qtbot.keyClick(found.field, Qt.Key.Key_Return)


def test_every_action_is_done_by_typing_its_words(used, qtbot, idle):
    last = {used.actions_.quit, used.actions_.close_lot, used.actions_.all_actions}
    done, impossible = [], []
    for action in used.actions():
        if not action.text() or action in last:
            continue
        if not action.isEnabled():
            impossible.append(words_of(action))
            continue
        triggered: list[bool] = []
        action.triggered.connect(lambda on, told=triggered: told.append(on))
        do_by_its_words(used, action, qtbot)
        assert len(triggered) == 1, words_of(action)
        done.append(words_of(action))
        idle(used)
        close_dialogs(used, qtbot)
        used.tubes.view.selectRow(0)
        idle(used)
    assert len(done) > 60
    assert len(impossible) < 8, impossible  # nothing to undo yet, no loose tube


def test_every_action_stands_in_a_menu_that_a_letter_opens(used):
    in_menus = set()
    for title in used.menuBar().actions():
        assert "&" in title.text()
        menu = title.menu()
        assert isinstance(menu, QMenu)
        in_menus |= set(menu.actions())
    missing = [words_of(action) for action in used.actions() if action not in in_menus]
    assert not missing


def test_a_menu_opens_by_its_letter_and_an_entry_by_its_own(used, qtbot):
    switched = used.actions_.views[View.TRANSFER]
    qtbot.keyClick(used.menuBar(), Qt.Key.Key_V, Qt.KeyboardModifier.AltModifier)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    letter = switched.text().partition("&")[2][:1]
    qtbot.keyClick(menu, letter.lower())
    assert used.lot.session.view is View.TRANSFER


def part_with_keyboard(window: MainWindow) -> QWidget | None:
    widget = QApplication.focusWidget()
    parts = (window.tubes, window.words, window.problem_list, window.curves)
    return next((part for part in parts if widget and part.isAncestorOf(widget)), None)


def test_tab_comes_round_to_each_part_of_the_window(used, qtbot):
    used.actions_.problems.setChecked(True)
    used.tubes.view.setFocus()
    reached = set()
    for _ in range(40):
        reached.add(part_with_keyboard(used))
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert {used.tubes, used.words, used.problem_list, used.curves} <= reached


def test_each_divider_is_reached_by_tab_and_moved_by_arrow_keys(used, qtbot):
    used.resize(1280, 1000)
    used.actions_.problems.setChecked(True)
    used.tubes.view.setFocus()
    QApplication.processEvents()
    moved = set()
    for _ in range(60):
        divider = QApplication.focusWidget()
        if isinstance(divider, Divider) and divider not in moved:
            across = divider.orientation() is Qt.Orientation.Horizontal
            key = Qt.Key.Key_Right if across else Qt.Key.Key_Up
            before = divider.pos()
            qtbot.keyClick(divider, key)
            assert divider.pos() != before
            assert divider.hasFocus()
            moved.add(divider)
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    shown = {one for one in used.workspace.findChildren(Divider) if one.isVisible()}
    assert moved == shown
    assert len(shown) == 3


def test_a_divider_moved_by_keys_stands_there_the_next_time(used, qtbot, make_window):
    used.resize(1280, 1000)
    QApplication.processEvents()
    divider = used.workspace._across.handle(1)
    before = divider.x()
    for _ in range(3):
        qtbot.keyClick(divider, Qt.Key.Key_Right)
    place = divider.x()
    assert place == before + 48
    qtbot.keyClick(divider, Qt.Key.Key_Left)
    place -= 16
    assert divider.x() == place
    used.close()
    again = make_window()
    again.resize(1280, 1000)
    again.lot.file.open(used.lot.kept.path)
    qtbot.waitUntil(again.workspace.isVisible)
    qtbot.waitUntil(lambda: again.workspace._across.handle(1).x() == place)


@pytest.mark.parametrize("view", [view for view in View if view is not View.DIFFERENCE])
def test_each_view_is_reached_read_and_left_by_keys(used, qtbot, idle, view):
    row = 2 if view is View.LOG else 0
    used.tubes.view.selectRow(row)
    idle(used)
    number = list(View).index(view) + 1
    qtbot.keyClick(used, str(number), Qt.KeyboardModifier.AltModifier)
    assert used.lot.session.view is view
    plots = [plot for plot in used.curves.findChildren(CursorPlot) if plot.isVisible()]
    if not plots:  # it says why there is nothing to show
        assert used.curves.pages.reason.text()
        return
    plots[0].setFocus(Qt.FocusReason.TabFocusReason)
    before = np.array(plots[0].plotItem.viewRange())
    qtbot.keyClick(plots[0], Qt.Key.Key_Right)
    qtbot.keyClick(plots[0], Qt.Key.Key_Plus)
    assert not np.allclose(plots[0].plotItem.viewRange(), before)
    qtbot.keyClick(plots[0], Qt.Key.Key_Home)
    assert np.allclose(plots[0].plotItem.viewRange(), before)
    qtbot.keyClick(plots[0], Qt.Key.Key_Tab)
    assert not plots[0].hasFocus()
