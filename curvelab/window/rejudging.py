"""Judging tubes of the list otherwise: as another type, or against another family."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from curvelab.catalog.records import StoredTube
from curvelab.window.lot_file_work import FileChange
from curvelab.window.tasks import Failure, TaskQueue
from curvelab.workbench.characterize import Batch
from curvelab.workbench.lot_rejudging import (
    Refiled,
    file_again,
    judge_filed_as,
    rejudged_entries,
    take_back_judging,
)
from curvelab.workbench.open_lot import read_tube
from curvelab.workbench.session import Wish

if TYPE_CHECKING:  # the lot owns this object
    from curvelab.window.lot import Lot

__all__ = ["Rejudging"]


@dataclass(frozen=True, slots=True, eq=False)
class _Done:
    """What came of it, and the tubes of the lot file as they stand then."""

    refiled: Refiled
    tubes: tuple[StoredTube, ...]


class Rejudging(QObject):
    """Judges the chosen tubes as a person wishes; those of the open lot file are filed so."""

    def __init__(self, lot: Lot, tasks: TaskQueue) -> None:
        super().__init__(lot)
        self._lot, self._tasks = lot, tasks

    def ask(self, wish: Wish) -> None:
        """Judge the chosen tubes, all of which have been judged before."""
        lot, kept = self._lot, self._lot.kept
        writable = kept is not None and not kept.newer
        filed = lot.chosen_tubes if writable else ()
        chosen = lot.session.chosen
        held = [entry for entry in chosen if writable and kept and kept.row_key(entry) is not None]
        loose = [entry for entry in chosen if entry not in held]
        if filed:
            self._file(filed, wish)
        if loose:
            keys = [entry.key for entry in loose]
            request = lot.intake.prepared_again(lot.session.request_for(keys, wish))
            lot.run(request, lambda batch: self._replace(keys, batch, wish))

    def _replace(self, keys: Sequence[int], batch: Batch, wish: Wish) -> None:
        lot = self._lot
        old = lot.session.replace(keys, batch, wish)
        new = lot.session.of_keys(entry.key for entry in old)
        lot.tell_all()
        if old:
            lot.push_exchange(self._words(len(old), wish), old, new, done=True)
        lot.tell_stopped(batch)

    def _file(self, tubes: tuple[StoredTube, ...], wish: Wish) -> None:
        kept = self._lot.kept
        assert kept is not None
        path = kept.path

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> _Done:
            refiled = judge_filed_as(path, tubes, wish, progress, should_stop)
            return _Done(refiled, tuple(read_tube(path, tube.key) for tube in tubes))

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._lot.note_failure(path.name, outcome)
            elif isinstance(outcome, _Done) and outcome.refiled.stopped:
                self._lot.told.emit(self.tr("Stopped; the tubes are judged as they were."))
            elif isinstance(outcome, _Done) and self._lot.kept and self._lot.kept.path == path:
                self._take(outcome, wish)

        self._tasks.start(work, receive)

    def _take(self, done: _Done, wish: Wish) -> None:
        """Show tubes as they are judged now, and let that be undone, in the lot file too."""
        filed = done.refiled.filed
        sides = [*rejudged_entries(self._lot.entries, done.refiled.assessments, wish)]

        def turn() -> None:
            self._lot.exchange(*sides)
            sides.reverse()

        self._lot.file.did(
            self._words(len(done.tubes), wish),
            FileChange(
                lambda path: file_again(path, filed),
                lambda path: take_back_judging(path, filed),
                lambda: (tube.key for tube in done.tubes),
                turn,
            ),
            done.tubes,
        )

    def _words(self, count: int, wish: Wish) -> str:
        kind = wish.judged_as or wish.compared_with or self.tr("its label")
        return self.tr("judge {0} as {1}").format(self._lot.counted(count), kind)
