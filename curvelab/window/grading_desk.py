"""Grading in the window: the whole lot at once, beside it, and the file of its limits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QObject, QUrl, Signal
from PySide6.QtGui import QDesktopServices

from curvelab.errors import CurvelabError
from curvelab.sheets.text import plain
from curvelab.window.around import Around
from curvelab.window.tasks import Failure
from curvelab.workbench.grading import RULES_FILE
from curvelab.workbench.lot_grades import GradedLot, grade_lot
from curvelab.workbench.open_lot import OpenLot, read_lot
from curvelab.workbench.session import Problem, ProblemKind
from curvelab.workbench.user_files import own_copy

__all__ = ["GradingDesk"]

_COLUMN, _BESIDE = "grade", "verdict"


@dataclass(frozen=True, slots=True, eq=False)
class _Graded:
    """What came of grading, and the lot file after it; None where it was stopped."""

    graded: GradedLot
    kept: OpenLot | None


class GradingDesk(QObject):
    """Carries out what a person wants graded; ``told`` says what came of it."""

    told = Signal(str)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self._lot, self._tasks, self._tubes = around.lot, around.tasks, around.tubes

    def grade(self) -> None:
        """Grade the tubes of the open lot file and show the column of the grades."""
        kept = self._lot.kept
        if kept is None:
            return
        path = kept.path

        def work(
            progress: Callable[[int, int, str], None], should_stop: Callable[[], bool]
        ) -> _Graded:
            graded = grade_lot(path, progress=progress, should_stop=should_stop)
            if should_stop():
                return _Graded(graded, None)
            after = read_lot(path)
            after.explain_grades(
                {item.tube.key: item.given.why_not for item in graded.tubes if item.given.why_not}
            )
            return _Graded(graded, after)

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._lot.note_failure(path.name, outcome)
                self.told.emit(outcome.reason)
            elif isinstance(outcome, _Graded):
                self._take(outcome)

        self._tasks.start(work, receive, owed=True)

    def _take(self, outcome: _Graded) -> None:
        if outcome.kept is None:
            self.told.emit(self.tr("Stopped; no grade was kept."))
            return
        here = self._lot.kept
        if here is not None and here.path == outcome.kept.path:
            self._lot.keep(outcome.kept)
            self._show_column()
        self.told.emit(self._counted(outcome.graded))

    def _show_column(self) -> None:
        """Show the grades beside the verdicts, unless a person has put them elsewhere."""
        columns = self._tubes.columns
        order, hidden = columns.order, columns.hidden
        if _COLUMN in hidden:
            order.remove(_COLUMN)
            order.insert(order.index(_BESIDE) + 1, _COLUMN)
            columns.arrange(order, hidden - {_COLUMN})

    def _counted(self, graded: GradedLot) -> str:
        without = self.tr("without a grade")
        grades = [item.given.grade for item in graded.tubes]
        counted = Counter(without if grade is None else grade.word for grade in grades)
        words = (*graded.rules.order, without)
        parts = [f"{plain(word)}: {counted[word]}" for word in words if counted[word]]
        return self.tr("Graded by {0}: {1}").format(plain(graded.rules.title), ", ".join(parts))

    def edit_rules(self) -> None:
        """Open a person's own file of limits in whatever edits such files here."""
        try:
            path = own_copy(RULES_FILE)
        except CurvelabError as error:
            self._lot.report(Problem(ProblemKind.ERROR, RULES_FILE, None, str(error)))
            return
        if QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))):
            self.told.emit(self.tr("Limits of the grades: {0}").format(path))
        else:
            text = self.tr("edit it with any editor: {0}").format(path)
            self._lot.report(Problem(ProblemKind.NOTICE, RULES_FILE, None, text))
