"""Matching in the window: what is asked runs beside it, what is kept can be undone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import QDockWidget, QInputDialog

from curvelab.catalog.records import SetState, StoredTube, TubeSet
from curvelab.matching.records import MatchRequest, MateRanking
from curvelab.sheets.text import plain
from curvelab.window.around import Around
from curvelab.window.lot_file_work import FileChange
from curvelab.window.matching.figures_dialog import FiguresDialog
from curvelab.window.matching.panel import MatchingPanel
from curvelab.window.paper.about import About
from curvelab.window.tasks import Failure, Work
from curvelab.workbench.grade_book import StandingGrade
from curvelab.workbench.lot_matching import (
    GivenFigures,
    LotSets,
    find_mates,
    find_mates_of_figures,
    match_lot_file,
)
from curvelab.workbench.lot_paper import proposal_of
from curvelab.workbench.lot_sets import (
    SetLine,
    lock_found,
    lock_sets,
    match_loose,
    mates_of_loose,
    set_by_hand,
    set_lines,
    take_back_change,
    take_back_sets,
)
from curvelab.workbench.lot_upkeep import change_set, kept_sets
from curvelab.workbench.open_lot import OpenLot
from curvelab.workbench.stored_candidates import tube_names
from curvelab.workbench.tube_rows import TubeRow

__all__ = ["MatchingDesk"]

_HEIGHT = 256  # [px] at first
_USUAL_NAMES = {2: "pair", 4: "quad", 6: "sextet"}


class _Dock(QDockWidget):
    """The place of the panel; says when a person closes it."""

    closed = Signal()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        super().closeEvent(event)
        self.closed.emit()


class MatchingDesk(QObject):
    """Joins the panel with the lot and its file.

    Signals
    -------
    told : str
        What came of it, for the status bar.
    sheets_wanted : About
        Write the sheets of sets, of those kept and of those found.
    """

    told = Signal(str)
    sheets_wanted = Signal(object)

    def __init__(self, around: Around) -> None:
        super().__init__(around.window)
        self._window, self._tasks = around.window, around.tasks
        self._lot = lot = around.lot
        self._actions = around.actions
        self._dock: _Dock | None = None
        self._panel: MatchingPanel | None = None
        self._found: LotSets | None = None
        self._asked = MatchRequest()  # how the mates that are shown were compared
        self._kept: tuple[TubeSet, ...] = ()
        self._running = False
        self._last_name = ""
        lot.lot_file_changed.connect(self._change_lot)
        lot.tubes_changed.connect(self._follow_tubes)
        for changed in (lot.chosen_changed, lot.lines_chosen):
            changed.connect(self._enable)
        self._follow_tubes()

    @property
    def panel(self) -> MatchingPanel:
        """The panel, made when it is first wanted."""
        if self._panel is None:
            self._panel = panel = MatchingPanel()
            panel.form.sets_wanted.connect(self.find_sets)
            panel.form.mate_wanted.connect(self.find_mate)
            panel.form.figures_wanted.connect(self.ask_figures)
            panel.picked.connect(self._lot.choose_called)
            panel.lock_wanted.connect(self._ask_name)
            panel.sale_wanted.connect(lambda line: self._change(line, SetState.SOLD))
            panel.release_wanted.connect(lambda line: self._change(line, SetState.DISSOLVED))
            panel.sheets_wanted.connect(self._ask_sheets)
            self._dock = _Dock(self.tr("Matched sets and mates"), self._window)
            self._dock.setObjectName("matching")
            self._dock.setWidget(panel)
            self._dock.closed.connect(lambda: self._actions.matching.setChecked(False))
            if not self._window.restoreDockWidget(self._dock):
                self._window.addDockWidget(Qt.DockWidgetArea.BottomDockWidgetArea, self._dock)
                self._window.resizeDocks([self._dock], [_HEIGHT], Qt.Orientation.Vertical)
            self._change_lot()
        return self._panel

    @property
    def has_keyboard(self) -> bool:
        """Whether the keyboard is in the panel."""
        now = self._window.focusWidget()
        return self._panel is not None and now is not None and self._panel.isAncestorOf(now)

    def table_with_keyboard(self) -> str | None:
        """Return the chosen rows for the clipboard, None while no table has the keyboard."""
        return None if self._panel is None else self._panel.copied()

    def find_sets(self) -> None:
        """Match the tubes of the open lot file, else those of the list."""
        wanted, kept = self.panel.form.wanted, self._lot.kept
        if kept is not None:
            path = kept.path
            self._run(lambda *hooks: match_lot_file(path, wanted, *hooks), self._take_sets)
        else:
            tubes = [entry.assessment for entry in self._lot.entries]
            bench = self._lot.intake.bench
            self._run(lambda *hooks: match_loose(tubes, bench, wanted, *hooks), self._take_sets)

    def find_mate(self) -> None:
        """Rank the stock against the tube looked at."""
        self._actions.matching.setChecked(True)
        self._asked = request = self.panel.form.request
        stock = self.panel.form.stock
        kept, tubes = self._lot.kept, self._lot.chosen_tubes
        if kept is not None and tubes:
            path, identity = kept.path, tubes[0].identity

            def ranked(*_: object) -> MateRanking:
                return find_mates(path, identity.serial, request, stock, identity.lot)[0]

            self._run(ranked, self._take_mates)
        elif kept is None and self._lot.session.current is not None:
            self._rank_loose(self._lot.session.current.assessment.sweep.tube, request)

    def _rank_loose(self, name: str, request: MatchRequest) -> None:
        tubes = [entry.assessment for entry in self._lot.entries]
        bench, held = self._lot.intake.bench, self.panel.form.stock.with_held
        self._run(
            lambda *_: mates_of_loose(tubes, bench, name, request, with_held=held),
            self._take_mates,
        )

    def ask_figures(self) -> None:
        """Ask for the figures of a tube that is not here."""
        self._actions.matching.setChecked(True)
        current = self._lot.session.current
        dialog = FiguresDialog(
            None if current is None else current.assessment.type_name, self._window
        )
        dialog.given.connect(self._rank_by_figures)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _rank_by_figures(self, given: GivenFigures) -> None:
        kept = self._lot.kept
        if kept is None:
            return
        path, request, stock = kept.path, self.panel.form.request, self.panel.form.stock
        self._run(
            lambda *_: find_mates_of_figures(path, given, request, stock)[0],
            lambda ranking: self._take_mates(ranking, here=False),
        )

    def _run(self, work: Work, then: Callable[[object], None]) -> None:
        """Do something beside the window; what it gives is shown unless the lot has changed."""
        kept = self._lot.kept

        def receive(outcome: object) -> None:
            self._running = False
            self._enable()
            if isinstance(outcome, Failure):
                self.panel.say(outcome.reason)
                if outcome.details:
                    self._lot.note_failure(self.tr("matching"), outcome)
            elif self._same_lot(kept):
                then(outcome)

        self._running = True
        self._enable()
        self.panel.say(self.tr("Matching…"))
        self._tasks.start(work, receive)

    def _same_lot(self, before: OpenLot | None) -> bool:
        kept = self._lot.kept
        return (kept and kept.path) == (before and before.path)

    def _take_sets(self, outcome: object) -> None:
        if isinstance(outcome, LotSets):
            self._found = outcome
            self.panel.show_mates(None)
            self._show_sets()
            self.panel.show_found()

    def _take_mates(self, outcome: object, *, here: bool = True) -> None:
        if isinstance(outcome, MateRanking):
            self.panel.show_mates(outcome, here=here)

    def _ask_name(self, lines: Sequence[SetLine]) -> None:
        """Ask under which name sets are kept; each gets a number besides."""
        usual = _USUAL_NAMES.get(len(lines[0].tubes), "set")
        words = self.tr("Name of the sets, to which a number is added ({0} of them):")
        self._ask(
            words.format(len(lines)),
            self._last_name or usual,
            lambda name: self._lock(lines, name),
        )

    def _ask(self, words: str, name: str, then: Callable[[str], None]) -> None:
        dialog = QInputDialog(self._window)
        dialog.setWindowTitle(self.tr("Lock sets"))
        dialog.setLabelText(words)
        dialog.setTextValue(name)
        dialog.textValueSelected.connect(lambda given: then(" ".join(given.split())))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _lock(self, lines: Sequence[SetLine], name: str) -> None:
        kept, request = self._lot.kept, self._request_of(lines[0])
        if kept is None or not name:
            return
        self._last_name = name
        chosen = [line.found for line in lines if line.found is not None]
        members = [name for line in lines for name in line.members]
        self._keep(
            len(chosen),
            lambda: lock_found(kept.path, request, chosen, name),
            lambda: self._keys(kept, members),
        )

    def _request_of(self, line: SetLine) -> MatchRequest:
        """Return how a set that was found, or a tube with its mates, was compared."""
        found = self._found
        if found is not None and any(one is line.found for one in found.result.sets):
            return found.request
        return self._asked

    def _ask_sheets(self, lines: Sequence[SetLine]) -> None:
        """Have the sheets of sets written; what is not kept goes as a proposal."""
        about = About(
            sets=tuple(line.name for line in lines if line.name is not None),
            proposed=tuple(
                proposal_of(line.found, self._request_of(line))
                for line in lines
                if line.found is not None
            ),
        )
        self.sheets_wanted.emit(about)

    def keep_chosen(self) -> None:
        """Keep the chosen tubes together as a set."""
        tubes = self._lot.chosen_tubes
        words = self.tr("Name of the set of {0}:").format(
            ", ".join(plain(tube.identity.serial) for tube in tubes)
        )
        self._ask(words, "", lambda name: self._keep_by_hand(tubes, name))

    def _keep_by_hand(self, tubes: Sequence[StoredTube], name: str) -> None:
        kept = self._lot.kept
        if kept is None or not name:
            return
        made = (set_by_hand(name, tubes),)

        def lock() -> tuple[TubeSet, ...]:
            lock_sets(kept.path, made)
            return made

        self._keep(1, lock, lambda: [tube.key for tube in tubes])

    def _keep(
        self,
        count: int,
        lock: Callable[[], tuple[TubeSet, ...]],
        keys: Callable[[], Iterable[int]],
    ) -> None:
        """Lock sets so that it can be undone; done again, they are those of the first time."""
        made: list[TubeSet] = []

        def do(path: Path) -> None:
            if made:
                lock_sets(path, made)
            else:
                made.extend(lock())

        words = self.tr("lock 1 set") if count == 1 else self.tr("lock {0} sets").format(count)
        self._lot.file.change(
            words,
            FileChange(
                do,
                lambda path: take_back_sets(path, [one.name for one in made]),
                keys,
                self._read_kept,
            ),
        )

    def _change(self, line: SetLine, state: SetState) -> None:
        kept, name, before = self._lot.kept, line.name, line.state
        if kept is None or name is None or before is None:
            return
        sold = state is SetState.SOLD
        words = self.tr("mark {0} as sold") if sold else self.tr("release {0}")
        self._lot.file.change(
            words.format(name),
            FileChange(
                lambda path: change_set(path, name, state),
                lambda path: take_back_change(path, name, state, before),
                lambda: self._keys(kept, line.members),
                self._read_kept,
            ),
        )

    def _keys(self, kept: OpenLot, names: Sequence[str]) -> list[int]:
        wanted, calls = set(names), tube_names(kept.tubes)
        return [key for key, name in calls.items() if name in wanted]

    def _read_kept(self) -> None:
        """Read the sets that the lot file keeps, beside the window."""
        kept = self._lot.kept
        if kept is None or self._panel is None:
            return

        def receive(outcome: object) -> None:
            if isinstance(outcome, Failure):
                self._lot.note_failure(kept.path.name, outcome)
            elif isinstance(outcome, tuple) and self._same_lot(kept):
                self._kept = outcome
                self._show_sets()

        self._lot.file.start(lambda *_: kept_sets(kept.path), receive)

    def _show_sets(self) -> None:
        kept = self._lot.kept
        tubes = () if kept is None else kept.tubes
        self.panel.show_sets(set_lines(self._kept, tubes, self._found), self._found)

    def show(self, *, on: bool) -> None:
        """Show the panel with the keyboard in it, or hide it."""
        if not on:
            if self._dock is not None:
                self._dock.hide()
            return
        panel = self.panel
        assert self._dock is not None
        self._dock.show()
        self._dock.raise_()
        panel.form.tubes.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def resize_panel(self, more: int) -> None:
        """Make the panel so many pixels higher or, at a side of the window, wider."""
        dock, window = self._dock, self._window
        if dock is None:
            return
        sides = (Qt.DockWidgetArea.LeftDockWidgetArea, Qt.DockWidgetArea.RightDockWidgetArea)
        if dock.isFloating():
            dock.resize(dock.width(), dock.height() + more)
        elif window.dockWidgetArea(dock) in sides:
            window.resizeDocks([dock], [dock.width() + more], Qt.Orientation.Horizontal)
        else:
            window.resizeDocks([dock], [dock.height() + more], Qt.Orientation.Vertical)

    def _change_lot(self) -> None:
        """Begin anew with another lot file, or with none."""
        self._found, self._kept = None, ()
        if self._panel is None:
            return
        self._panel.clear()
        if self._lot.kept is None:
            self._panel.say(
                self.tr(
                    "These tubes are in no lot file: sets can be found, not kept. File, New lot "
                    "file makes one."
                )
            )
        self._follow_tubes()
        self._read_kept()

    def _follow_tubes(self) -> None:
        rows = self._lot.rows
        if self._panel is not None:
            kept = self._lot.kept
            self._panel.form.show_stock(
                sorted({row.type_name for row in rows if row.type_name}),
                sorted({row.house.lot for row in rows if row.house is not None}),
                [grade.word for grade in _grades(rows)],
            )
            self._panel.enable_keeping(kept is not None and not kept.newer)
        self._enable()

    def _enable(self) -> None:
        lot, free = self._lot, not self._running
        kept = lot.kept is not None
        mate = bool(lot.chosen_tubes) if kept else lot.session.current is not None
        if self._panel is not None:
            self._panel.form.enable(
                sets=free and bool(lot.rows), mate=free and mate, figures=free and kept
            )


def _grades(rows: Sequence[TubeRow]) -> list[StandingGrade]:
    """Return the grades that there are, the best first."""
    given = (row.house.grade for row in rows if row.house is not None)
    found = {grade.word: grade for grade in given if grade is not None}
    return sorted(found.values(), key=lambda grade: grade.rank)
