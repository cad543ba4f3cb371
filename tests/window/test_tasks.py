"""Behaviour: work beside the window, its results, its failures and its end."""

from __future__ import annotations

import threading

import pytest

from curvelab.errors import UnknownTypeError
from curvelab.window.tasks import Failure, TaskQueue


@pytest.fixture
def tasks(qapp):
    queue = TaskQueue()
    yield queue
    queue.close()


def run(qtbot, tasks, *works):
    outcomes = []
    for work in works:
        tasks.start(work, outcomes.append)
    qtbot.waitUntil(lambda: len(outcomes) == len(works), timeout=10_000)
    return outcomes


def test_results_come_in_order_in_the_thread_of_the_window(qtbot, tasks):
    threads = []
    outcomes = []

    def receive(outcome):
        threads.append(threading.current_thread())
        outcomes.append(outcome)

    for number in range(3):
        tasks.start(lambda *_, number=number: (number, threading.current_thread()), receive)
    qtbot.waitUntil(lambda: len(outcomes) == 3, timeout=10_000)
    assert [number for number, _ in outcomes] == [0, 1, 2]
    assert set(threads) == {threading.main_thread()}
    assert threading.main_thread() not in {thread for _, thread in outcomes}
    assert not tasks.busy


def test_an_expected_error_has_a_reason_and_no_details(qtbot, tasks):
    def work(*_):
        raise UnknownTypeError("6SN8", ("6SN7GT",))

    (failure,) = run(qtbot, tasks, work)
    assert failure == Failure("no type named '6SN8' in the library; did you mean 6SN7GT?")


def test_an_unexpected_error_keeps_its_details(qtbot, tasks):
    (failure,) = run(qtbot, tasks, lambda *_: 1 / 0)
    assert failure.reason == "ZeroDivisionError: division by zero"
    assert "test_tasks.py" in failure.details


def test_progress_is_told(qtbot, tasks):
    told = []
    tasks.progressed.connect(lambda *step: told.append(step))

    def work(progress, _):
        progress(1, 2, "one")
        progress(2, 2, "two")

    run(qtbot, tasks, work)
    assert told == [(1, 2, "one"), (2, 2, "two")]


def test_stopping_reaches_what_runs_and_what_waits(qtbot, tasks):
    began = threading.Event()

    def patient(_, should_stop):
        began.set()
        while not should_stop():
            threading.Event().wait(0.005)
        return "stopped"

    outcomes = []
    tasks.start(patient, outcomes.append)
    tasks.start(lambda *_: "never", outcomes.append)
    qtbot.waitUntil(began.is_set, timeout=10_000)
    tasks.cancel()
    qtbot.waitUntil(lambda: len(outcomes) == 2, timeout=10_000)
    assert outcomes[0] == "stopped"
    assert isinstance(outcomes[1], Failure)
    assert run(qtbot, tasks, lambda *_: "again") == ["again"]


def test_closing_waits_for_the_thread_and_tells_nobody(qtbot, tasks):
    began = threading.Event()
    told = []

    def patient(_, should_stop):
        began.set()
        while not should_stop():
            threading.Event().wait(0.005)

    tasks.start(patient, told.append)
    qtbot.waitUntil(began.is_set, timeout=10_000)
    tasks.close()
    assert not tasks.busy
    assert told == []
