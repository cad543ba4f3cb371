"""Behaviour: cycles are collected in the window's thread alone, and none is forgotten."""

from __future__ import annotations

import gc
import threading
import weakref

import pytest
from PySide6.QtCore import QObject

from curvelab.window import collector as collecting
from curvelab.window.collector import Collector


class Knot:
    """A cycle of one."""

    def __init__(self) -> None:
        self.own = self


@pytest.fixture
def collector(qapp):
    parent = QObject()
    made = Collector(parent)
    yield made
    made.stop()
    parent.deleteLater()
    assert gc.isenabled()


def test_a_worker_never_collects_and_the_window_does_at_its_next_look(collector, qtbot):
    where: list[str] = []

    def tie() -> None:
        for _ in range(3 * collecting._FRESH):
            weakref.finalize(Knot(), lambda: where.append(threading.current_thread().name))

    worker = threading.Thread(target=tie)
    worker.start()
    worker.join()
    assert not where
    qtbot.waitUntil(lambda: len(where) == 3 * collecting._FRESH, timeout=5_000)
    assert set(where) == {threading.main_thread().name}


def test_what_outlived_a_few_looks_is_collected_once_enough_has_come(collector):
    knot = Knot()
    gone = weakref.ref(knot)
    ballast = [[] for _ in range(2 * collecting._FRESH)]
    for _ in range(3):  # it grows old
        collector.look()
        ballast += [[] for _ in range(2 * collecting._FRESH)]
    del knot
    while gone() is not None and len(ballast) < 4 * collecting._GROWN:
        ballast += [[] for _ in range(2 * collecting._FRESH)]
        collector.look()
    assert gone() is None
    assert gc.get_freeze_count() > collecting._GROWN
    assert not gc.isenabled()


def test_the_next_look_comes_soon_while_very_much_is_made(collector):
    usual = collector._timer.interval()
    many = [[] for _ in range(2 * collecting._MANY)]
    collector.look()
    assert collector._timer.interval() < usual
    collector.look()
    assert collector._timer.interval() == usual
    assert len(many) == 2 * collecting._MANY
