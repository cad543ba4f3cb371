"""Work on the open lot file, in the background: open, fill, judge from it, write to it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from curvelab.assessment.records import Assessment
from curvelab.catalog.records import Overrule, StoredTube, TubeIdentity
from curvelab.ingest.choices import NOTHING_CHOSEN
from curvelab.window.changes import Change
from curvelab.window.tasks import Failure, TaskQueue, Work
from curvelab.workbench.characterize import Batch, Request
from curvelab.workbench.lot_file import Added, Addition, add_to_lot, create_lot, file_judged
from curvelab.workbench.lot_judging import judge_stored, wishes_of
from curvelab.workbench.lot_records import ByHand
from curvelab.workbench.lot_upkeep import (
    change_identity,
    enter_hand_test,
    overrule_verdict,
    take_back_hand_test,
    take_back_overrule,
)
from curvelab.workbench.open_lot import OpenLot, read_lot, read_tube
from curvelab.workbench.session import Entry, Wish

if TYPE_CHECKING:  # the lot owns this object
    from curvelab.window.lot import Lot

__all__ = ["FileChange", "LotFileWork"]

Write = Callable[[Path, StoredTube], None]


@dataclass(frozen=True, slots=True, eq=False)
class _Filed:
    """What came of adding files, and the lot file after it."""

    added: Added
    kept: OpenLot


@dataclass(frozen=True, slots=True, eq=False)
class FileChange:
    """A change of the open lot file, and how it is taken back.

    Attributes
    ----------
    do, back : callable
        Given the path; run beside the window.
    tubes : callable
        Keys of the tubes that stand otherwise after it, asked once it is done.
    then : callable
        Run in the window's thread once it is done or taken back.
    """

    do: Callable[[Path], object]
    back: Callable[[Path], object]
    tubes: Callable[[], Iterable[int]] = tuple
    then: Callable[[], object] = lambda: None


class LotFileWork(QObject):
    """Does what a person wants of a lot file and shows in the lot what came of it.

    Long work goes through the queue of the window, with its progress; what is short has a
    thread of its own and does not wait for a folder of sweeps.
    """

    def __init__(self, lot: Lot, tasks: TaskQueue) -> None:
        super().__init__(lot)
        self._lot, self._tasks = lot, tasks
        self._short = TaskQueue(self, drains=True)

    @property
    def busy(self) -> bool:
        """Whether something short runs or waits."""
        return self._short.busy

    def start(self, work: Work, finished: Callable[[object], None]) -> None:
        """Do something short beside the window."""
        self._short.start(work, finished)

    def close(self) -> None:
        """Wait for what is being written."""
        self._short.close()

    def create(self, path: Path) -> None:
        """Make a lot file of the tubes on the list and open it."""
        loose = self._judged(self._lot.entries if self._lot.kept is None else ())
        overrules = _overrules(self._lot.entries)

        def work(*_: object) -> OpenLot:
            create_lot(path)
            file_judged(path, loose, overrules)
            return read_lot(path)

        self._start_opening(path, work, owed=True)

    def open(self, path: Path) -> None:
        """Open a lot file and show its tubes."""
        self._start_opening(path, lambda *_: read_lot(path))

    def file_loose(self) -> None:
        """Put the tubes of the list that are in no lot file into the open one."""
        kept = self._lot.kept
        if kept is None:
            return
        loose = self._lot.loose
        judged, overrules = self._judged(loose), _overrules(loose)

        def work(*_: object) -> OpenLot:
            file_judged(kept.path, judged, overrules)
            return read_lot(kept.path)

        self._start_opening(kept.path, work, owed=True)

    def add(self, request: Request, *, again: bool = False) -> None:
        """Judge files and put them into the open lot file; ``again`` those that it holds too."""
        kept = self._lot.kept
        assert kept is not None
        path = kept.path

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> _Filed:
            added = add_to_lot(path, Addition(request, again=again), progress, should_stop)
            return _Filed(added, read_lot(path))

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._lot.note_failure(path.name, outcome)
            elif isinstance(outcome, _Filed) and self._is_open(path):
                self._lot.take_in_filed(request, outcome.added, outcome.kept)

        self._tasks.start(work, receive, owed=True)

    def judge(self, tubes: Sequence[StoredTube], then: Callable[[], None]) -> None:
        """Judge a few tubes of the lot file from their stored bytes; then, whatever came of it."""
        self._judge(self._short, tubes, lambda _: then())

    def judge_in_front(self, tubes: Sequence[StoredTube], then: Callable[[], None]) -> None:
        """Judge tubes with progress and a way to stop; then, unless it was stopped."""
        self._judge(self._tasks, tubes, lambda done: then() if done else None)

    def _judge(
        self, queue: TaskQueue, tubes: Sequence[StoredTube], then: Callable[[bool], None]
    ) -> None:
        kept = self._lot.kept
        assert kept is not None

        def receive(outcome: object) -> None:
            done = isinstance(outcome, Batch) and not outcome.stopped
            if not self._is_open(kept.path):
                done = False
            elif isinstance(outcome, Failure):
                self._lot.note_failure(kept.path.name, outcome)
            elif isinstance(outcome, Batch):
                # Rows set aside were told when the file was filed.
                self._lot.session.take_in(replace(outcome, set_aside=()))
                self._lot.session.note_wishes(wishes)
                self._lot.tell_judged()
            then(done)

        wishes: dict[str, Wish] = {}

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> Batch:
            wishes.update(wishes_of(kept.path, tubes))
            return judge_stored(kept.path, tubes, progress, should_stop)

        queue.start(work, receive)

    def overrule(self, tubes: Iterable[StoredTube], overrule: Overrule, words: str) -> None:
        """Set a verdict in place of the measured one."""

        def write(path: Path, tube: StoredTube) -> None:
            identity = tube.identity
            overrule_verdict(path, identity.serial, overrule, identity.lot)

        def back(path: Path, tube: StoredTube) -> None:
            take_back_overrule(path, tube.key, overrule.made_at)

        self._change(tuple(tubes), words, write, back)

    def enter_hand_test(self, tube: StoredTube, entered: ByHand, words: str) -> None:
        """Judge and keep what was measured by hand."""
        made: list[datetime] = []

        def write(path: Path, tube: StoredTube) -> None:
            identity = tube.identity
            made.append(enter_hand_test(path, identity.serial, entered, identity.lot).made_at)

        self._change(
            (tube,), words, write, lambda path, one: take_back_hand_test(path, one.key, made[-1])
        )

    def change_identity(self, tube: StoredTube, identity: TubeIdentity, words: str) -> None:
        """Put what is now known of a tube in the place of what was."""
        before = tube.identity
        if identity != before:
            self._change(
                (tube,),
                words,
                lambda path, one: change_identity(path, one.key, identity, before),
                lambda path, one: change_identity(path, one.key, before, identity),
            )

    def _change(self, tubes: tuple[StoredTube, ...], words: str, write: Write, back: Write) -> None:
        """Write a change of some tubes, one after the other, so that it can be undone."""

        def each(change: Write) -> Callable[[Path], None]:
            def do(path: Path) -> None:
                for tube in tubes:
                    change(path, tube)

            return do

        self.change(words, FileChange(each(write), each(back), lambda: (t.key for t in tubes)))

    def change(self, words: str, wanted: FileChange) -> None:
        """Write a change and, once it is written, let it be undone."""
        change = self._as_done(words, wanted)
        self._write(wanted, wanted.do, lambda: self._lot.undo_stack.push(change))

    def did(self, words: str, wanted: FileChange, tubes: Iterable[StoredTube]) -> None:
        """Show a change that has been written already, and let it be undone."""
        self._show(wanted, tubes)
        self._lot.undo_stack.push(self._as_done(words, wanted))

    def _as_done(self, words: str, wanted: FileChange) -> Change:
        return Change(
            words,
            lambda: self._write(wanted, wanted.do),
            lambda: self._write(wanted, wanted.back),
            done=True,
        )

    def _show(self, wanted: FileChange, tubes: Iterable[StoredTube]) -> None:
        self._put(tubes)
        wanted.then()
        self._lot.tell_all()

    def _put(self, tubes: Iterable[StoredTube]) -> None:
        kept = self._lot.kept  # it may have been read again since the work began
        assert kept is not None
        for tube in tubes:
            kept.put(tube)

    def _write(
        self,
        wanted: FileChange,
        change: Callable[[Path], object],
        written: Callable[[], object] = lambda: None,
    ) -> None:
        kept = self._lot.kept
        if kept is None:
            return

        def work(*_: object) -> tuple[StoredTube, ...]:
            change(kept.path)
            return tuple(read_tube(kept.path, key) for key in wanted.tubes())

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._lot.note_failure(kept.path.name, outcome)
                self._lot.told.emit(outcome.reason)
                self._read_again(kept.path, tuple(wanted.tubes()))
            elif isinstance(outcome, tuple) and self._is_open(kept.path):
                self._show(wanted, outcome)
                written()

        self._short.start(work, receive)

    def _read_again(self, path: Path, tubes: tuple[int, ...]) -> None:
        """Show what the file holds now: of several tubes some may have been changed."""

        def receive(outcome: object) -> None:
            # Where it cannot be read, that has been told.
            if isinstance(outcome, tuple) and self._is_open(path):
                self._put(outcome)
                self._lot.tell_all()

        self._short.start(lambda *_: tuple(read_tube(path, key) for key in tubes), receive)

    def _is_open(self, path: Path) -> bool:
        return self._lot.kept is not None and self._lot.kept.path == path

    def _start_opening(self, path: Path, work: Work, *, owed: bool = False) -> None:
        def receive(outcome: object) -> None:
            if isinstance(outcome, OpenLot):
                self._lot.keep(outcome)
                if not self._lot.chosen_rows:
                    self._lot.choose_rows([row.key for row in self._lot.rows[:1]])
                self._lot.opened.emit((path,))
            elif isinstance(outcome, Failure):
                self._lot.note_failure(path.name, outcome)

        self._tasks.start(work, receive, owed=owed)

    def _judged(self, entries: Iterable[Entry]) -> list[tuple[Assessment, Request]]:
        return [(entry.assessment, self._how(entry)) for entry in entries]

    def _how(self, entry: Entry) -> Request:
        """Return how a tube of the list was read and judged."""
        path = entry.assessment.sweep.source.path
        request = Request(
            (),
            type_name=entry.wish.judged_as,
            reference=entry.wish.compared_with,
            sources=(entry.assessment.sweep.source,),
            read_as=((path, self._lot.session.readings.get(path, NOTHING_CHOSEN)),),
        )
        return self._lot.intake.prepared_again(request)


def _overrules(entries: Iterable[Entry]) -> dict[str, Overrule]:
    return {
        entry.assessment.sweep.source.sha256: entry.overrule
        for entry in entries
        if entry.overrule is not None
    }
