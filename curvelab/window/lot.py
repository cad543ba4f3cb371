"""The lot as the widgets see it: the session, with signals when it changes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QUndoStack

from curvelab.catalog.records import Overrule, StoredTube
from curvelab.sweep.records import SourceFile
from curvelab.window.changes import Change
from curvelab.window.lot_file_work import LotFileWork
from curvelab.window.lot_rows import LotRows
from curvelab.window.rejudging import Rejudging
from curvelab.window.tasks import Failure, TaskQueue
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.intake import Intake
from curvelab.workbench.lot_file import Added
from curvelab.workbench.open_lot import OpenLot
from curvelab.workbench.session import Display, Entry, Problem, ProblemKind, Session, Wish
from curvelab.workbench.tube_rows import TubeRow
from curvelab.workbench.views import View

__all__ = ["LOT_SUFFIX", "Lot"]

LOT_SUFFIX = ".lot"

_AT_A_TIME = 200  # tubes whose lines are made in one turn of the event loop
_MOST_DRAWN = 24  # tubes of a lot file that are judged in order to be laid over each other


class Lot(QObject):
    """Takes a person's intents, changes the session, and says what changed.

    Signals
    -------
    tubes_changed
        The list of tubes, or what is known of one.
    chosen_changed
        Which tubes are chosen, or what is known of them.
    finding_changed
        Which finding is pointed out.
    display_changed
        What a plot shows, or the units.
    view_changed
        Which view of the tubes is wanted.
    problems_changed
        The list of problems.
    lines_chosen
        Which lines of the table are chosen, be they judged yet or not.
    hovered_changed
        Which tube the mouse is on in the table.
    lot_file_changed
        Which lot file is open.
    arrived : tuple of int
        Lines of tubes that came in by themselves.
    opened : tuple of Path
        Paths that turned into tubes.
    read : Request, Batch
        What files were opened, and what came of them.
    intake_changed
        Which bench description the next files are read with.
    failed : Failure
        Something unexpected, with details for a report.
    """

    tubes_changed = Signal()
    chosen_changed = Signal()
    finding_changed = Signal()
    display_changed = Signal()
    view_changed = Signal()
    problems_changed = Signal()
    lines_chosen = Signal()
    hovered_changed = Signal()
    lot_file_changed = Signal()
    arrived = Signal(object)
    opened = Signal(object)
    read = Signal(object, object)
    intake_changed = Signal()
    failed = Signal(object)
    told = Signal(str)

    def __init__(self, tasks: TaskQueue, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session = Session()
        self.intake = Intake()
        self.undo_stack = QUndoStack(self)
        self.file = LotFileWork(self, tasks)
        self._rejudging = Rejudging(self, tasks)
        self._lines = LotRows(self.session)
        self._tasks = tasks
        self._wanted: tuple[int, ...] = ()
        self._hovered: int | None = None
        self._judging = False
        self._to_do = 0  # what waits for a later turn of the event loop
        self._on_their_own: set[str] = set()  # files that nobody has opened by hand
        self._tried: set[int] = set()  # tubes that were judged to be seen, or could not be

    @property
    def kept(self) -> OpenLot | None:
        """The lot file that is open."""
        return self._lines.kept

    @property
    def rows(self) -> tuple[TubeRow, ...]:
        """The lines of the table."""
        return self._lines.rows

    @property
    def chosen_rows(self) -> tuple[int, ...]:
        """Keys of the chosen lines, the one to look at first."""
        return self._wanted

    @property
    def chosen_tubes(self) -> tuple[StoredTube, ...]:
        """The chosen tubes that the open lot file holds, each once."""
        return self._lines.tubes(self._wanted)

    @property
    def hovered(self) -> Entry | None:
        """The tube that the mouse is on, as far as it has been judged."""
        found = () if self._hovered is None else self._lines.entries([self._hovered])
        return found[0] if found else None

    @property
    def loose(self) -> tuple[Entry, ...]:
        """The tubes that are in no lot file."""
        kept = self.kept
        return tuple(one for one in self.entries if kept is None or not kept.holds(one))

    @property
    def busy(self) -> bool:
        """Whether something runs or waits."""
        return self._tasks.busy or self.file.busy or self._to_do > 0

    def entries_of(self, rows: Iterable[int]) -> tuple[Entry, ...]:
        """Return the tubes of some lines, as far as they have been judged."""
        return self._lines.entries(rows)

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The tubes of the lot."""
        return self.session.entries

    def close(self) -> None:
        """Wait for what is being written, and say nothing more."""
        self.file.close()
        self.undo_stack.blockSignals(True)  # it would tell of its own end

    def open(self, paths: Sequence[Path]) -> None:
        """Read and judge files and folders in the background; open a lot file."""
        for path in paths:
            if path.suffix.casefold() == LOT_SUFFIX:
                self.file.open(path)
        sweeps = tuple(path for path in paths if path.suffix.casefold() != LOT_SUFFIX)
        if sweeps:
            self._open(Request(paths=sweeps))

    def take(self, sources: Sequence[SourceFile]) -> None:
        """Read and judge files that came in by themselves, their bytes at hand."""
        if sources:
            self._on_their_own |= {source.path for source in sources}
            self._open(Request(paths=(), sources=tuple(sources)))

    def take_again(self, paths: Sequence[Path], sources: Sequence[SourceFile]) -> None:
        """Read and judge files as they are to be read now, be they in the lot file or not."""
        if paths or sources:
            self._open(Request(paths=tuple(paths), sources=tuple(sources)), again=True)

    def use_bench(self, path: Path | None) -> None:
        """Read the next files with a bench description, or with none.

        Raises
        ------
        BenchDescriptionError
            If it cannot be read; the one before stays in force.
        """
        self.intake.use_bench(path)
        self.intake_changed.emit()

    def answer(self, problem: Problem, choice: str) -> None:
        """Read a file again in the way a person has picked."""
        self.intake.answer(str(problem.path), choice)
        self._open(self.session.request_with_answer(problem, choice))

    def ask_again(self, wish: Wish) -> None:
        """Judge the chosen tubes anew, as another type or against another family."""
        self.with_chosen(lambda: self._rejudging.ask(wish))

    def choose(self, keys: Iterable[int]) -> None:
        """Choose tubes that have been judged, the one to look at first."""
        keys = tuple(keys)
        self._wanted = self._lines.row_keys(keys)
        self._choose(keys)

    def choose_rows(self, keys: Iterable[int]) -> None:
        """Choose lines of the table, the one to look at first.

        Those of a lot file are judged from their stored bytes when they are first chosen.
        """
        self._wanted = tuple(keys)
        self.lines_chosen.emit()
        if not self._lines.unjudged(self._wanted[:1]):
            self._show_wanted()
        self._judge_next()

    def choose_called(self, names: Iterable[str]) -> None:
        """Choose the tubes of some names, the one to look at first; nothing where there is none."""
        keys = self._lines.called(names)
        if keys:
            self.choose_rows(keys)

    def _judge_next(self) -> None:
        """Judge what is wanted to be seen by now; what was wanted meanwhile is passed over."""
        hovered = () if self._hovered is None else (self._hovered,)
        found = self._lines.unjudged((*self._wanted[:_MOST_DRAWN], *hovered))
        missing = [tube for tube in found if tube.key not in self._tried]
        if not missing or self._judging:
            return
        self._judging = True
        self._tried.update(tube.key for tube in missing)
        self.file.judge(missing, self._judged)

    def _judged(self) -> None:
        self._judging = False
        self._show_wanted()
        self.hovered_changed.emit()
        self._judge_next()

    def with_chosen(self, then: Callable[[], None]) -> None:
        """Do something with the chosen tubes once all of them have been judged."""

        def go_on() -> None:
            self._show_wanted()
            then()

        self._with(self._lines.unjudged(self._wanted), go_on)

    def with_all(self, then: Callable[[], None]) -> None:
        """Do something once the tubes of all lines have been judged."""
        self._with(self._lines.unjudged(row.key for row in self.rows), then)

    def _with(self, missing: tuple[StoredTube, ...], then: Callable[[], None]) -> None:
        if missing:
            self.file.judge_in_front(missing, then)
        else:
            then()

    def hover(self, key: int | None) -> None:
        """Follow the mouse over the table; a tube not judged yet is judged for it."""
        if key == self._hovered:
            return
        self._hovered = key
        self.hovered_changed.emit()
        self._judge_next()

    def _show_wanted(self) -> None:
        self._choose(tuple(entry.key for entry in self._lines.entries(self._wanted)))

    def _choose(self, keys: tuple[int, ...]) -> None:
        if keys != tuple(entry.key for entry in self.session.chosen):
            self.session.choose(keys)
            self.chosen_changed.emit()

    def point_out(self, finding: int | None) -> None:
        """Point out the readings of a finding."""
        if finding != self.session.finding:
            self.session.point_out(finding)
            self.finding_changed.emit()

    def show(self, display: Display) -> None:
        """Change what is shown; a change of unit changes the words too."""
        old = self.session.display
        if display == old:
            return
        self.session.show(display)
        self.display_changed.emit()
        if display.micromho != old.micromho:
            self._lines.forget()
            self.tubes_changed.emit()
            self.chosen_changed.emit()

    def look(self, view: View) -> None:
        """Look at the tubes in another view."""
        if view is not self.session.view:
            self.session.view = view
            self.view_changed.emit()

    def choose_sections(self) -> None:
        """Choose the other sections of the tube looked at too."""
        current = self.session.current
        if current is None:
            return
        others = self.session.other_sections(current.key)
        if others:
            self.choose([current.key, *(entry.key for entry in others)])
        else:
            self.told.emit(self.tr("The lot holds no other section of this tube."))

    def name_golden(self, on: bool) -> None:
        """Make the tube looked at the golden one, that others are compared with, or none."""
        current = self.session.current
        self.session.name_golden(current.key if on and current is not None else None)
        self.chosen_changed.emit()

    def switch(self, name: str, on: bool) -> None:
        """Turn one switch of the display."""
        self.show(replace(self.session.display, **{name: on}))

    def remove_chosen(self) -> None:
        """Take the chosen tubes off the list; neither files nor the lot file are touched."""
        chosen = self._wanted
        old, rows = self._lines.entries(chosen), frozenset(key for key in chosen if key < 0)
        if not chosen:
            return

        def take_off() -> None:
            self._lines.hidden |= rows
            self.exchange(old, ())

        def bring_back() -> None:
            self._lines.hidden -= rows
            self.exchange((), old)
            self.choose_rows(chosen)

        words = self.tr("take {0} off the list").format(self.counted(len(chosen)))
        self.undo_stack.push(Change(words, take_off, bring_back))

    def overrule(self, overrule: Overrule) -> None:
        """Set a verdict in place of the measured one, for all chosen tubes."""
        words = self.tr("set {0} by {1}").format(overrule.verdict.value, overrule.person)
        tubes = self.chosen_tubes
        if tubes:
            self.file.overrule(tubes, overrule, words)
        chosen = self._lines.entries(self._wanted)
        old = tuple(entry for entry in chosen if self._lines.row_key(entry) > 0)
        new = tuple(replace(entry, overrule=overrule) for entry in old)
        if new:
            self.push_exchange(words, old, new)

    def push_exchange(
        self, words: str, old: tuple[Entry, ...], new: tuple[Entry, ...], *, done: bool = False
    ) -> None:
        """Put entries in the place of others of the same keys, so that it can be undone."""
        self.undo_stack.push(
            Change(
                words,
                lambda: self.exchange(old, new),
                lambda: self.exchange(new, old),
                done=done,
            )
        )

    def exchange(self, gone: tuple[Entry, ...], here: tuple[Entry, ...]) -> None:
        """Put entries in the place of others and show them."""
        stay = {entry.key for entry in here}
        self.session.remove(entry.key for entry in gone if entry.key not in stay)
        back = self.session.put(here)
        self.tell_all()
        if back:
            self.choose(back)

    def report(self, problem: Problem) -> None:
        """List a problem."""
        self.session.report(problem)
        self.problems_changed.emit()

    def clear_problems(self) -> None:
        """Empty the list of problems."""
        self.session.clear_problems()
        self.problems_changed.emit()

    def _open(self, request: Request, *, again: bool = False) -> None:
        request = self.intake.prepared(request)
        if self.kept is None or self.kept.newer:
            self.run(request, lambda batch: self.take_in(request, batch))
        else:
            self.file.add(request, again=again)

    def run(self, request: Request, finished: Callable[[Batch], None]) -> None:
        """Judge files beside the window; what fails is listed."""

        def receive(outcome: object) -> None:
            if isinstance(outcome, Batch):
                finished(outcome)
            elif isinstance(outcome, Failure):
                names = ", ".join(path.name for path in request.paths)
                self.note_failure(names, outcome)

        self._tasks.start(
            lambda progress, should_stop: characterize(request, progress, should_stop), receive
        )

    def take_in_filed(self, request: Request, added: Added, kept: OpenLot) -> None:
        """Show what came of opening files that have gone into the open lot file."""
        self._lines.kept = kept
        self.take_in(request, added.batch, added)

    def take_in(self, request: Request, batch: Batch, added: Added | None = None) -> None:
        """Show what came of opening files; with a lot file open, what it held already too."""
        keys = self.session.take_in(batch)
        self.intake.note(request, batch)
        self._tried.clear()
        for notice in () if added is None else added.notices:
            self.report(Problem(ProblemKind.NOTICE, "", None, notice))
        # Each in a turn of its own: of a thousand tubes together they would hold up the window.
        for at in range(0, len(keys) if self.kept is None else 0, _AT_A_TIME):
            self._later(partial(self._lines.prepare, keys[at : at + _AT_A_TIME]))
        self._later(self.tell_all)
        self._later(lambda: self._show_taken_in(request, batch, keys, added))

    def _show_taken_in(
        self, request: Request, batch: Batch, keys: tuple[int, ...], added: Added | None
    ) -> None:
        """Choose what was opened last: it is what a person wants to see."""
        known = () if added is None else added.known
        own = {source.path for source in request.sources} & self._on_their_own
        self._on_their_own -= own
        if keys and own:
            self.arrived.emit(self._lines.row_keys(keys))
        elif keys:
            self.choose(keys[:1])
        elif known:
            self._tell_known(known)
        if keys or known:
            self.opened.emit(request.paths)
        self.read.emit(request, batch)
        self.tell_stopped(batch)

    def _later(self, do: Callable[[], None]) -> None:
        """Do something in a later turn of the event loop."""

        def run() -> None:
            self._to_do -= 1
            do()

        self._to_do += 1
        QTimer.singleShot(0, self, run)

    def _tell_known(self, names: tuple[str, ...]) -> None:
        known = next((row.key for row in self.rows if row.file in names), None)
        if known is not None:
            self.choose_rows([known])
        text = self.tr("in the lot file already: {0}").format(", ".join(names[:3]))
        self.told.emit(text if len(names) <= 3 else f"{text} + {len(names) - 3}")

    def tell_stopped(self, batch: Batch) -> None:
        """Say so where a batch was stopped."""
        if batch.stopped:
            self.told.emit(self.tr("Stopped; what was done so far is kept."))

    def note_failure(self, what: str, failure: Failure) -> None:
        """List what came to nothing; what nobody expected is shown with its details."""
        self.report(Problem(ProblemKind.ERROR, what, None, failure.reason, failure.details))
        if failure.details:
            self.failed.emit(failure)

    def keep(self, kept: OpenLot | None) -> None:
        """Show another lot file, or none; what was only in it goes with it."""
        same = kept is not None and self.kept is not None and kept.path == self.kept.path
        if not same:
            if self.kept is not None:
                held = [entry.key for entry in self.entries if self.kept.holds(entry)]
                self.session.remove(held)
            self._lines.hidden = frozenset()
            self._tried.clear()
            self.undo_stack.clear()
        self._lines.kept = kept
        self.tell_all()
        if not same:
            self.lot_file_changed.emit()

    def tell_all(self) -> None:
        """Say that anything may have changed."""
        self._lines.follow()
        self._lines.forget()
        here = {row.key for row in self.rows}
        self._wanted = tuple(key for key in self._wanted if key in here)
        self.tubes_changed.emit()
        self.chosen_changed.emit()
        self.problems_changed.emit()

    def tell_judged(self) -> None:
        """Say that tubes of the lot file have been judged; what the table says of them stays."""
        self._lines.follow()
        self.problems_changed.emit()

    def counted(self, count: int) -> str:
        """Return a number of tubes in words."""
        return self.tr("1 tube") if count == 1 else self.tr("{0} tubes").format(count)
