"""A look at the open lot file whenever the program is come back to: others may write it too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget

from curvelab.sheets.text import plain
from curvelab.window.lot import Lot
from curvelab.window.tasks import TaskQueue
from curvelab.workbench.session import Problem, ProblemKind

__all__ = ["LotFileLook"]

_State = tuple[int, int]


class LotFileLook(QObject):
    """Reads the lot file again where another window has changed it, and says where it is gone."""

    told = Signal(str)

    def __init__(self, lot: Lot, tasks: TaskQueue, window: QWidget) -> None:
        super().__init__(window)
        self._lot = lot
        self._missed = False  # the program was come back to while it was at work
        self._known: tuple[Path, _State | None] | None = None
        application = QGuiApplication.instance()
        assert isinstance(application, QGuiApplication)  # there is a window
        application.applicationStateChanged.connect(self._follow)
        lot.tubes_changed.connect(self._note)  # what this window writes is shown so
        tasks.busy_changed.connect(self._after_work)  # or, of the bench say, at least ends so

    def _follow(self, state: Qt.ApplicationState) -> None:
        """Look when a person comes from another program; a dialog of this one is none."""
        if state is Qt.ApplicationState.ApplicationActive:
            self.look()

    def look(self) -> None:
        """Compare the file with what it was when it was last shown."""
        self._missed = self._lot.busy
        if not self._missed:
            self._ask(self._compare)

    def _after_work(self, busy: bool) -> None:
        if not busy and self._missed:
            self._missed = False
            self._ask(self._compare)
        elif not busy:
            self._note()

    def _note(self) -> None:
        if self._missed:
            return  # what others have written meanwhile is yet to be seen

        def take(path: Path, state: _State | None) -> None:
            self._known = path, state

        self._ask(take)

    def _compare(self, path: Path, state: _State | None) -> None:
        if self._known is None or self._known[0] != path or self._known[1] == state:
            return
        self._known = path, state
        name = plain(path.name)
        if state is None:
            reason = self.tr("is not where it was; what is shown was read before")
            self._lot.report(Problem(ProblemKind.ERROR, name, None, reason))
            self.told.emit(f"{name} {reason}")
        else:
            self.told.emit(self.tr("{0} was changed elsewhere and is read again").format(name))
            self._lot.file.open(path)

    def _ask(self, then: Callable[[Path, _State | None], None]) -> None:
        """Ask the disk beside the window, for it may be slow or dead."""
        kept = self._lot.kept
        if kept is None:
            self._known = None
            return
        path = kept.path

        def receive(outcome: object) -> None:
            here = self._lot.kept
            if here is not None and here.path == path:
                then(path, outcome if isinstance(outcome, tuple) else None)

        self._lot.file.start(lambda *_: _state(path), receive)


def _state(path: Path) -> _State | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_size, status.st_mtime_ns
