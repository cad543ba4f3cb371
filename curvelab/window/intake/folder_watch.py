"""Watching a folder for new sweeps, in a thread of its own."""

from __future__ import annotations

import time
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QThread, QTimer, Signal, Slot

from curvelab.workbench.watched_folder import Look, WatchedFolder

__all__ = ["FolderWatch"]

_POLL_MS = 2_000  # network folders tell nothing, and steadiness is a matter of time anyway
_SOON_MS = 300
_LONGEST_END_MS = 5_000


class _Watcher(QObject):
    """Looks at the folder; lives in the thread, so that a dead disk holds up nobody."""

    begun = Signal(int)
    looked = Signal(object)

    def __init__(self, folder: Path, reached: int | None) -> None:
        super().__init__()
        self._folder = WatchedFolder(folder)
        self._reached = reached
        self._stopped = False

    @Slot()
    def begin(self) -> None:
        """Note what is there, then look whenever something stirs and every few seconds."""
        self._poll = QTimer(self)
        self._poll.setInterval(_POLL_MS)
        self._poll.timeout.connect(self.look)
        self._soon = QTimer(self)
        self._soon.setInterval(_SOON_MS)
        self._soon.setSingleShot(True)
        self._soon.timeout.connect(self.look)
        self._notices = QFileSystemWatcher(self)
        self._notices.directoryChanged.connect(lambda _: self._soon.start())
        self.begun.emit(self._folder.begin(time.monotonic(), self._reached))
        self._poll.start()
        self.look()

    @Slot()
    def look(self) -> None:
        """Look once and say what was found."""
        found = self._folder.look(time.monotonic())
        name = str(self._folder.folder)
        if found.there and name not in self._notices.directories():
            self._notices.addPath(name)  # a folder that went and came back is watched anew
        self.looked.emit(found)


class FolderWatch(QObject):
    """Watches one folder at a time.

    Signals
    -------
    begun : int
        How many files were there already and are left alone.
    looked : Look
        What a look has found.
    ended
        No folder is watched any more.
    """

    begun = Signal(int)
    looked = Signal(object)
    ended = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.folder: Path | None = None
        self._thread: QThread | None = None
        self._watcher: _Watcher | None = None
        self._ending: set[QThread] = set()

    def start(self, folder: Path, reached: int | None = None) -> None:
        """Watch a folder instead of the one watched now.

        Where an earlier watch of it has ``reached`` some time, it goes on from there.
        """
        self.stop()
        self.folder = folder
        self._thread = QThread(self)
        self._watcher = _Watcher(folder, reached)
        self._watcher.moveToThread(self._thread)
        self._watcher.begun.connect(self._begin)
        self._watcher.looked.connect(self._pass_on)
        self._thread.started.connect(self._watcher.begin)
        self._thread.finished.connect(self._watcher.deleteLater)
        self._thread.start()

    def stop(self) -> None:
        """Watch nothing; a look that is under way, at a slow disk perhaps, is not waited for."""
        if self._thread is None:
            return
        self._ending.add(self._thread)
        self._thread.finished.connect(self._let_go)
        self._thread.quit()
        self._thread, self._watcher, self.folder = None, None, None
        self.ended.emit()

    def close(self) -> None:
        """Watch nothing, and let no thread outlive the window."""
        self.stop()
        for thread in self._ending:
            thread.wait(_LONGEST_END_MS)

    @Slot()
    def _let_go(self) -> None:
        thread = self.sender()
        if isinstance(thread, QThread):
            self._ending.discard(thread)
            thread.deleteLater()

    @Slot(int)
    def _begin(self, left_alone: int) -> None:
        if self.sender() is self._watcher:
            self.begun.emit(left_alone)

    @Slot(object)
    def _pass_on(self, found: Look) -> None:
        if self.sender() is self._watcher:  # a late word of a watch that was stopped
            self.looked.emit(found)
