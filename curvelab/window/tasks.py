"""Long work beside the window: one piece at a time, with progress and a way to stop."""

from __future__ import annotations

import itertools
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from threading import Event
from typing import Any

from PySide6.QtCore import QCoreApplication, QObject, QRunnable, QThreadPool, Signal

from curvelab.errors import CurvelabError

__all__ = ["Failure", "TaskQueue", "Work"]

Work = Callable[[Callable[[int, int, str], None], Callable[[], bool]], object]
_STOP_WAIT_MS = 10_000


@dataclass(frozen=True, slots=True)
class Failure:
    """Why a piece of work came to nothing; ``details`` is for a report, empty if expected."""

    reason: str
    details: str = ""


class _Relay(QObject):
    """Carries what a worker says into the thread of the window."""

    progressed = Signal(int, int, str)
    done = Signal(int, object)


class _Task(QRunnable):
    def __init__(
        self, number: int, work: Work, relay: _Relay, stop: Event, *, begins_anyway: bool
    ) -> None:
        super().__init__()
        self._number, self._work, self._relay, self._stop = number, work, relay, stop
        self._begins_anyway = begins_anyway

    def run(self) -> None:
        outcome: object
        try:
            if self._stop.is_set() and not self._begins_anyway:
                outcome = Failure(
                    QCoreApplication.translate("TaskQueue", "stopped before it began")
                )
            else:
                outcome = self._work(self._relay.progressed.emit, self._stop.is_set)
        except CurvelabError as error:
            outcome = Failure(str(error))
        except Exception as error:  # noqa: BLE001 - the last resort: a worker has no other edge
            outcome = Failure(f"{type(error).__name__}: {error}", traceback.format_exc())
        self._relay.done.emit(self._number, outcome)


class TaskQueue(QObject):
    """Runs pieces of work one after the other in a thread of its own.

    Parameters
    ----------
    drains : bool
        Whether what waits is begun even when it was told to stop: a change that a person has
        made is written however soon the window is closed after it.
    """

    progressed = Signal(int, int, str)
    busy_changed = Signal(bool)

    def __init__(self, parent: QObject | None = None, *, drains: bool = False) -> None:
        super().__init__(parent)
        self._drains = drains
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(1)
        self._numbers = itertools.count()
        self._waiting: dict[int, Callable[[Any], None]] = {}
        self._owed: set[int] = set()
        self._stop = Event()
        self._relay = _Relay(self)
        self._relay.progressed.connect(self.progressed)
        self._relay.done.connect(self._finish)

    @property
    def busy(self) -> bool:
        """Whether something runs or waits."""
        return bool(self._waiting)

    @property
    def owes(self) -> bool:
        """Whether something runs or waits that a person would miss."""
        return bool(self._owed)

    def start(self, work: Work, finished: Callable[[Any], None], *, owed: bool = False) -> None:
        """Run ``work``; ``finished`` gets its result or a `Failure`, in the window's thread.

        What is ``owed`` leaves something behind that a person has asked for, such as a file.
        """
        if not self.busy:
            self._stop = Event()
            self.busy_changed.emit(True)
        number = next(self._numbers)
        self._waiting[number] = finished
        if owed:
            self._owed.add(number)
        self._pool.start(_Task(number, work, self._relay, self._stop, begins_anyway=self._drains))

    def cancel(self) -> None:
        """Ask what runs, and all that waits, to stop."""
        self._stop.set()

    def close(self) -> None:
        """Stop everything and wait for the thread, so that nothing outlives the window."""
        self.cancel()
        self._waiting.clear()
        self._owed.clear()
        self._pool.waitForDone(_STOP_WAIT_MS)

    def _finish(self, number: int, outcome: object) -> None:
        finished = self._waiting.pop(number, None)
        if finished is None:
            return
        self._owed.discard(number)
        finished(outcome)
        if not self.busy:
            self.busy_changed.emit(False)
