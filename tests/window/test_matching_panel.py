"""Behaviour: place and size of the panel of sets in the real window, kept from run to run."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDockWidget

from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from helpers.sweeps import write_sweep


@pytest.fixture
def lot_path(tmp_path):
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=(write_sweep(tmp_path / "A1.csv"),))))
    return path


@pytest.fixture
def on_lot(make_window, lot_path, idle):
    """Return a function that shows a window on the lot file, the panel open where wanted."""

    def make(*, panel: bool):
        window = make_window()
        window.resize(1280, 1000)  # where there is room for it
        window.open_paths([lot_path])
        idle(window)
        if panel:
            window.actions_.matching.trigger()
            idle(window)
        return window

    return make


def dock_of(window) -> QDockWidget:
    return window.tools.matching.panel.parentWidget()


@pytest.mark.parametrize("hidden", [False, True])
def test_the_panel_comes_back_as_high_as_it_was(on_lot, qtbot, hidden):
    first = on_lot(panel=True)
    usual = dock_of(first).height()
    first.resizeDocks([dock_of(first)], [usual + 60], Qt.Orientation.Vertical)
    qtbot.waitUntil(lambda: dock_of(first).height() == usual + 60)
    if hidden:
        first.actions_.matching.trigger()
    first.close()
    between = on_lot(panel=False)  # a run in which nobody wants the panel forgets nothing
    assert not between.findChildren(QDockWidget)
    between.close()
    again = on_lot(panel=True)
    assert dock_of(again).isVisible()
    qtbot.waitUntil(lambda: dock_of(again).height() == usual + 60)


def test_the_panel_is_made_larger_and_smaller_by_keys(on_lot, qtbot, idle):
    window = on_lot(panel=False)
    assert not window.actions_.larger_panel.isEnabled()
    window.actions_.matching.trigger()
    idle(window)
    usual = dock_of(window).height()
    keys = Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(window, Qt.Key.Key_Up, keys)
    qtbot.waitUntil(lambda: dock_of(window).height() == usual + 32)
    qtbot.keyClick(window, Qt.Key.Key_Down, keys)
    qtbot.waitUntil(lambda: dock_of(window).height() == usual)
    window.resize(1920, 1000)
    window.addDockWidget(Qt.DockWidgetArea.LeftDockWidgetArea, dock_of(window))
    QApplication.processEvents()
    narrow = dock_of(window).width()
    window.actions_.larger_panel.trigger()
    qtbot.waitUntil(lambda: dock_of(window).width() == narrow + 32)
    window.actions_.matching.trigger()
    assert not window.actions_.larger_panel.isEnabled()


def test_the_panel_comes_back_where_it_was(on_lot):
    first = on_lot(panel=True)
    first.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock_of(first))
    first.close()
    again = on_lot(panel=True)
    assert again.dockWidgetArea(dock_of(again)) is Qt.DockWidgetArea.RightDockWidgetArea
