"""The lot as the widgets see it: the session, with signals when it changes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from curvelab.errors import CurvelabError
from curvelab.window.tasks import Failure, TaskQueue
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.session import Display, Entry, Problem, ProblemKind, Session, Wish
from curvelab.workbench.views import View

__all__ = ["Lot", "library_names"]


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
    opened : tuple of Path
        Paths that turned into tubes.
    failed : Failure
        Something unexpected, with details for a report.
    """

    tubes_changed = Signal()
    chosen_changed = Signal()
    finding_changed = Signal()
    display_changed = Signal()
    view_changed = Signal()
    problems_changed = Signal()
    opened = Signal(object)
    failed = Signal(object)
    told = Signal(str)

    def __init__(self, tasks: TaskQueue, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session = Session()
        self._tasks = tasks

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The tubes of the lot."""
        return self.session.entries

    def open(self, paths: Sequence[Path]) -> None:
        """Read and judge files and folders in the background."""
        if paths:
            self._open(Request(paths=tuple(paths)))

    def answer(self, problem: Problem, choice: str) -> None:
        """Read a file again in the way a person has picked."""
        self._open(self.session.request_with_answer(problem, choice))

    def ask_again(self, wish: Wish) -> None:
        """Judge the chosen tubes anew, as another type or against another family."""
        keys = [entry.key for entry in self.session.chosen]
        if keys:
            request = self.session.request_for(keys, wish)
            self._run(request, lambda batch: self._replace(keys, batch, wish))

    def choose(self, keys: Iterable[int]) -> None:
        """Choose tubes, the one to look at first."""
        keys = tuple(keys)
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

    def switch(self, name: str, on: bool) -> None:
        """Turn one switch of the display."""
        self.show(replace(self.session.display, **{name: on}))

    def remove_chosen(self) -> None:
        """Take the chosen tubes off the lot."""
        self.session.remove(entry.key for entry in self.session.chosen)
        self._tell_all()

    def restore(self) -> None:
        """Bring back what was taken off last."""
        keys = self.session.restore()
        self.session.choose(keys)
        self._tell_all()

    def report(self, problem: Problem) -> None:
        """List a problem."""
        self.session.report(problem)
        self.problems_changed.emit()

    def clear_problems(self) -> None:
        """Empty the list of problems."""
        self.session.clear_problems()
        self.problems_changed.emit()

    def _open(self, request: Request) -> None:
        self._run(request, lambda batch: self._take_in(request, batch))

    def _run(self, request: Request, finished: Callable[[Batch], None]) -> None:
        def receive(outcome: object) -> None:
            if isinstance(outcome, Batch):
                finished(outcome)
            elif isinstance(outcome, Failure):
                self._note_failure(request, outcome)

        self._tasks.start(
            lambda progress, should_stop: characterize(request, progress, should_stop), receive
        )

    def _take_in(self, request: Request, batch: Batch) -> None:
        keys = self.session.take_in(batch)
        if keys:  # what was opened last is what a person wants to see
            self.session.choose(keys[:1])
        self._tell_all()
        if keys:
            self.opened.emit(request.paths)
        self._tell_stopped(batch)

    def _replace(self, keys: Iterable[int], batch: Batch, wish: Wish) -> None:
        self.session.replace(keys, batch, wish)
        self._tell_all()
        self._tell_stopped(batch)

    def _tell_stopped(self, batch: Batch) -> None:
        if batch.stopped:
            self.told.emit(self.tr("Stopped; what was done so far is kept."))

    def _note_failure(self, request: Request, failure: Failure) -> None:
        names = ", ".join(path.name for path in request.paths)
        self.report(Problem(ProblemKind.ERROR, names, None, failure.reason, failure.details))
        if failure.details:
            self.failed.emit(failure)

    def _tell_all(self) -> None:
        self.tubes_changed.emit()
        self.chosen_changed.emit()
        self.problems_changed.emit()


def library_names() -> tuple[str, ...]:
    """Return the types of the library, or none where it cannot be read."""
    # Imported here: the library is read only once there is something to compare.
    from curvelab.workbench.type_library import current_types  # noqa: PLC0415

    try:
        return current_types().types.names
    except CurvelabError:
        return ()
