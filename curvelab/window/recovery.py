"""What lies on the table, kept in a side file: brought back after a crash or on another day."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QLockFile, QObject, QTimer, Signal

from curvelab.errors import CurvelabError
from curvelab.ingest.choices import ReadingChoices
from curvelab.paths import user_data_folder
from curvelab.window.lot import Lot
from curvelab.window.tasks import Failure, TaskQueue
from curvelab.workbench.session import Entry
from curvelab.workbench.session_file import (
    KeptSession,
    judge_again,
    kept_session,
    put_back,
    read_session,
    write_session,
)

__all__ = ["Recovery"]

_FOLDER, _LAST = "sessions", "last.json"
_REST_MS = 300  # changes that come together are written once


class Recovery(QObject):
    """Writes the side file of this run, and finds what an earlier run has left.

    A run holds a lock as long as it lives. A side file whose lock can be had was left by a
    run that did not end as it should; one that did leaves ``last.json`` in its place.

    Signals
    -------
    found : int, str
        A run was broken off with so many tubes on its table, and these lot files open.
    """

    found = Signal(int, str)

    def __init__(self, lot: Lot, tasks: TaskQueue) -> None:
        super().__init__(lot)
        self._lot, self._tasks = lot, tasks
        self._own: Path | None = None
        self._under_way = 0  # tables that are being brought back
        self._lock: QLockFile | None = None
        self._broken_off: list[tuple[Path, KeptSession]] = []
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_REST_MS)
        self._rest.timeout.connect(self.write)
        lot.tubes_changed.connect(self._rest.start)
        lot.lot_file_changed.connect(self._rest.start)

    @property
    def last(self) -> KeptSession | None:
        """What lay on the table when the program was closed last."""
        with suppress(CurvelabError):
            kept = read_session(_folder() / _LAST)
            return kept if kept.tubes or kept.lot_file else None
        return None

    def look(self) -> None:
        """Look for what a run that was broken off has left, and say so."""
        self._broken_off = []
        with suppress(CurvelabError, OSError):
            for path in sorted(_folder().glob("run-*.json")):
                if path == self._own or not _abandoned(path):
                    continue
                with suppress(CurvelabError):
                    kept = read_session(path)
                    if kept.tubes or kept.lot_file:
                        self._broken_off.append((path, kept))
                        continue
                path.unlink(missing_ok=True)
        if self._broken_off:
            tubes = sum(len(kept.tubes) for _, kept in self._broken_off)
            files = (Path(kept.lot_file).name for _, kept in self._broken_off if kept.lot_file)
            self.found.emit(tubes, ", ".join(dict.fromkeys(files)))

    def bring_back_broken_off(self) -> None:
        """Bring back what was found; its side files go once that is done."""
        for path, kept in self._broken_off:
            self.bring_back(kept, path)
        self._broken_off = []

    def forget_broken_off(self) -> None:
        """Throw away what was found."""
        for path, _ in self._broken_off:
            path.unlink(missing_ok=True)
        self._broken_off = []

    def bring_back(self, kept: KeptSession, side_file: Path | None = None) -> None:
        """Open the lot file again, read the files again, and put back what was said of them."""
        self._under_way += 1
        if kept.lot_file is not None:
            self._lot.file.open(Path(kept.lot_file))

        def receive(outcome: object) -> None:
            self._under_way -= 1
            if isinstance(outcome, Failure):
                self._lot.note_failure("", outcome)
                return
            if isinstance(outcome, tuple):
                keys = put_back(self._lot.session, kept, outcome)
                self._lot.tell_all()
                if keys:
                    self._lot.choose(keys[:1])
            if side_file is not None:
                self.write()
                self._lot.file.start(
                    lambda *_: side_file.unlink(missing_ok=True), lambda _: None
                )  # once this run's own has been written

        bench = self._lot.intake.bench
        self._tasks.start(lambda progress, stop: judge_again(kept, progress, stop, bench), receive)

    def write(self) -> None:
        """Write the side file of this run beside the window, where there is something to lose."""
        if self._own is None:
            if not self._lot.rows and self._lot.kept is None:
                return
            self._begin()
        own, snapshot = self._own, self._snapshot()
        if own is not None:
            # A full disk must not stop the work at the table, so a failure is let pass.
            self._lot.file.start(
                lambda *_: write_session(own, kept_session(*snapshot)), lambda _: None
            )

    def close(self) -> None:
        """Keep what lies on the table as the last session; this run ended as it should.

        Closed while an earlier table is being brought back, nothing is put in its place: that
        one stays the last, and what came to it is found as of a run that was broken off.
        """
        self._rest.stop()
        if self._under_way:
            self._own = None
        with suppress(CurvelabError, OSError):
            kept = kept_session(*self._snapshot())
            if not self._under_way and (self._own is not None or kept.tubes or kept.lot_file):
                write_session(_folder() / _LAST, kept)
            if self._own is not None:
                self._own.unlink(missing_ok=True)
        if self._lock is not None:
            self._lock.unlock()
        self._own = self._lock = None

    def _snapshot(
        self,
    ) -> tuple[
        tuple[Entry, ...],
        Mapping[Path, tuple[str, ...]],
        Path | None,
        Mapping[str, ReadingChoices],
    ]:
        """Return what lies on the table as values that no other thread can change."""
        lot = self._lot
        kept = None if lot.kept is None else lot.kept.path
        return lot.loose, lot.session.answers, kept, lot.session.readings

    def _begin(self) -> None:
        with suppress(CurvelabError, OSError):
            folder = _folder()
            folder.mkdir(parents=True, exist_ok=True)
            own = folder / f"run-{secrets.token_hex(6)}.json"
            lock = _lock(own)
            if lock.tryLock(0):
                self._own, self._lock = own, lock


def _folder() -> Path:
    return user_data_folder() / _FOLDER


def _lock(side_file: Path) -> QLockFile:
    lock = QLockFile(str(side_file.with_suffix(".lock")))
    lock.setStaleLockTime(0)  # a lock is stale when its process is gone, however old it is
    return lock


def _abandoned(side_file: Path) -> bool:
    """Tell whether no run that lives holds the lock of a side file."""
    lock = _lock(side_file)
    if not lock.tryLock(0):
        return False
    lock.unlock()
    return True
