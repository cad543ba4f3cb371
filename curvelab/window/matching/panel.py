"""The panel below the tubes: sets found and kept, tubes left over, and mates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from PySide6.QtCore import QEvent, QItemSelectionModel, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QTableView,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from curvelab.catalog.records import SetState
from curvelab.matching.records import Excluded, LeftOver, Mate, MateRanking
from curvelab.sheets.text import plain
from curvelab.window.matching.columns import (
    excluded_columns,
    left_over_columns,
    mate_columns,
    set_columns,
)
from curvelab.window.matching.form import MatchingForm
from curvelab.window.record_table import Column, Record, RecordTable, copied_rows, record_view
from curvelab.workbench.lot_matching import LotSets
from curvelab.workbench.lot_sets import SetLine, line_of_mates

__all__ = ["MatchingPanel"]

_FORM_WIDTH = 380  # at least [px]
_WIDEST = 420  # of a column [px], as long as there is no more room


class MatchingPanel(QWidget):
    """Shows what was matched; says which tubes a person picks and what sets shall become.

    Signals
    -------
    picked : list of str
        Names of tubes to look at, the first one first.
    lock_wanted : list of SetLine
        Keep these sets that were found.
    sale_wanted, release_wanted : SetLine
        Mark a kept set as sold, or let its tubes go again.
    sheets_wanted : list of SetLine
        Write the sheets of these sets.
    """

    picked = Signal(object)
    lock_wanted = Signal(object)
    sale_wanted = Signal(object)
    release_wanted = Signal(object)
    sheets_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.form = MatchingForm()
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.words.setAccessibleName(self.tr("What came of the matching"))
        self._ranking: MateRanking | None = None
        self._mates_here = self._keeping = False
        self.sets_view, self.sets = self._view(SetLine, self.tr("Matched sets"))
        self.left_view, self.left = self._view(LeftOver, self.tr("Tubes left over"))
        self.out_view, self.out = self._view(Excluded, self.tr("Tubes that took no part"))
        self.mates_view, self.mates = self._view(Mate, self.tr("Mates, the nearest first"))
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        self.tabs.tabBar().setAccessibleName(self.tr("Sets, left over, took no part, mates"))
        for view in (self.sets_view, self.left_view, self.out_view, self.mates_view):
            self.tabs.addTab(view, "")
        self.lock = QPushButton(self.tr("Lock…"))
        self.lock.setToolTip(self.tr("Keep the chosen sets together in the lot file"))
        self.sell = QPushButton(self.tr("Sold"))
        self.sell.setToolTip(self.tr("Mark the chosen set as sold"))
        self.release = QPushButton(self.tr("Release"))
        self.release.setToolTip(self.tr("Let the tubes of the chosen set go again"))
        self.sheets = QPushButton(self.tr("Set sheets…"))
        self.sheets.setToolTip(self.tr("Save sheets of the chosen sets, or of all, as PDF"))
        self._lay_out()
        self._connect()
        self.clear()

    def clear(self) -> None:
        """Show nothing."""
        self.show_sets((), None)
        self.show_mates(None)
        self.say(self.tr("Say what you want and press Find sets."))

    def say(self, words: str) -> None:
        """Put words in the place of what came of the matching."""
        self.words.setText(words)

    def show_sets(self, lines: Sequence[SetLine], found: LotSets | None) -> None:
        """Show sets, and what is left over where a matching has just been done."""
        result = None if found is None else found.result
        self._fill(self.sets_view, self.sets, set_columns(), lines)
        left = () if result is None else result.left_over
        out = () if result is None else result.excluded
        self._fill(self.left_view, self.left, left_over_columns(), left)
        self._fill(self.out_view, self.out, excluded_columns(), out)
        for place, words, count in (
            (0, self.tr("Sets"), len(lines)),
            (1, self.tr("Left over"), len(left)),
            (2, self.tr("Took no part"), len(out)),
        ):
            self.tabs.setTabText(place, f"{words} ({count})" if count else words)
        if found is not None:
            self.say("\n".join(self._sentences(found)))
        self._enable()

    def show_mates(self, ranking: MateRanking | None, *, here: bool = True) -> None:
        """Show the stock ranked against a tube, and what took no part.

        ``here`` tells whether the tube itself is in the stock, and not known by figures only.
        """
        self._ranking, self._mates_here = ranking, here
        mates = () if ranking is None else ranking.mates
        self._fill(self.mates_view, self.mates, mate_columns(), mates)
        words = self.tr("Mates")
        self.tabs.setTabText(3, f"{words} ({len(mates)})" if mates else words)
        if ranking is None:
            return
        self._fill(self.out_view, self.out, excluded_columns(), ranking.excluded)
        self.tabs.setTabText(2, f"{self.tr('Took no part')} ({len(ranking.excluded)})")
        by = " + ".join(ranking.measures)
        within = sum(mate.within for mate in mates)
        self.say(
            self.tr("Mates for {0} by {1}: {2}, of which {3} within tolerance.").format(
                plain(ranking.key), by, len(mates), within
            )
        )
        self.tabs.setCurrentWidget(self.mates_view)
        self._first_row(self.mates_view)

    def show_found(self) -> None:
        """Turn to the sets, the first of them chosen."""
        self.tabs.setCurrentWidget(self.sets_view)
        self._first_row(self.sets_view)

    def event(self, event: QEvent) -> bool:
        """Keep the form as wide as its words need, in whatever font and language."""
        if event.type() in (QEvent.Type.LayoutRequest, QEvent.Type.Polish):
            bar = self._room.verticalScrollBar().sizeHint().width()
            needed = self.form.minimumSizeHint().width() + bar
            self._room.setFixedWidth(max(_FORM_WIDTH, needed))
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Find sets at Enter wherever in the form the keyboard is."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.form.seek.isEnabled():
            self.form.seek.click()
        else:
            super().keyPressEvent(event)

    def copied(self) -> str | None:
        """Return the chosen rows for the clipboard, None while no table has the keyboard."""
        view = next((one for one in self._views() if one.hasFocus()), None)
        return None if view is None else copied_rows(view)

    @property
    def chosen_sets(self) -> list[SetLine]:
        """The sets whose rows are chosen."""
        return _chosen(self.sets_view, self.sets)

    def _views(self) -> tuple[QTableView, ...]:
        return self.sets_view, self.left_view, self.out_view, self.mates_view

    def _view(self, _: type[Record], name: str) -> tuple[QTableView, RecordTable[Record]]:
        view, model = record_view(name, self)  # type: tuple[QTableView, RecordTable[Record]]
        view.horizontalHeader().setStretchLastSection(False)
        return view, model

    def _fill(
        self,
        view: QTableView,
        model: RecordTable[Record],
        columns: list[Column[Record]],
        records: Sequence[Record],
    ) -> None:
        model.show(columns, records)
        view.verticalHeader().setDefaultSectionSize(view.fontMetrics().height() + 8)
        view.resizeColumnsToContents()
        for at in range(len(columns)):
            view.setColumnWidth(at, min(view.columnWidth(at) + 8, _WIDEST))
        self._fill_up(view)

    def _fill_up(self, view: QTableView) -> None:
        """Let the last column have what room is left, and never less than it needs."""
        header = view.horizontalHeader()
        last = header.count() - 1
        needed = min(max(view.sizeHintForColumn(last), header.sectionSizeHint(last)), _WIDEST)
        bar = view.verticalScrollBar().sizeHint().width() + 2 * view.frameWidth()
        left = view.width() - bar - header.sectionPosition(last)  # be the bar shown or not
        header.resizeSection(last, max(needed, left))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Share out the room of the tables anew."""
        super().resizeEvent(event)
        for view in self._views():
            if view.model().columnCount():
                self._fill_up(view)

    def _lay_out(self) -> None:
        self._room = room = QScrollArea()  # a low panel must not squeeze the form
        room.setWidget(self.form)
        room.setWidgetResizable(True)
        room.setFrameShape(QScrollArea.Shape.NoFrame)
        room.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        room.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        buttons = QHBoxLayout()
        for button in (self.lock, self.sell, self.release, self.sheets):
            buttons.addWidget(button)
        buttons.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(self.words)
        right.addWidget(self.tabs, 1)
        right.addLayout(buttons)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(6, 6, 6, 6)
        layout.addWidget(room)
        layout.addLayout(right, 1)

    def _connect(self) -> None:
        for view, tell in (
            (self.sets_view, self._tell_sets),
            (self.left_view, self._tell_left),
            (self.out_view, self._tell_out),
            (self.mates_view, self._tell_mates),
        ):
            view.selectionModel().selectionChanged.connect(tell)
        self.tabs.currentChanged.connect(self._enable)
        self.lock.clicked.connect(lambda: self.lock_wanted.emit(self._to_lock()))
        self.sell.clicked.connect(lambda: self.sale_wanted.emit(self.chosen_sets[0]))
        self.release.clicked.connect(lambda: self.release_wanted.emit(self.chosen_sets[0]))
        self.sheets.clicked.connect(lambda: self.sheets_wanted.emit(self._on_paper()))

    def _of_state(self, *states: SetState | None) -> list[SetLine]:
        return [line for line in self.chosen_sets if line.state in states]

    def _to_lock(self) -> list[SetLine]:
        """Return the sets that can be locked: those chosen, or a tube with its chosen mates."""
        if self.tabs.currentWidget() is self.sets_view:
            return _of_several(self._of_state(None))
        mates = _chosen(self.mates_view, self.mates)
        shown = self.tabs.currentWidget() is self.mates_view and self._mates_here
        if not shown or self._ranking is None or not mates:
            return []
        return [line_of_mates(self._ranking, mates)]

    def _on_paper(self) -> list[SetLine]:
        """Return the sets that a sheet is wanted of: those chosen or, of sets, all there are."""
        if self.tabs.currentWidget() is self.mates_view:
            return self._to_lock()
        return _of_several(self.chosen_sets or self.sets.shown())

    def _tell_sets(self) -> None:
        names = [name for line in self.chosen_sets for name in line.members]
        self._enable()
        self._pick(names)

    def _tell_left(self) -> None:
        chosen = _chosen(self.left_view, self.left)
        near = [one.nearest.key for one in chosen if one.nearest is not None]
        self._pick([*(one.key for one in chosen), *near])

    def _tell_out(self) -> None:
        self._pick([one.key for one in _chosen(self.out_view, self.out)])

    def _tell_mates(self) -> None:
        chosen = _chosen(self.mates_view, self.mates)
        self._enable()
        if chosen and self._ranking is not None:
            self._pick([self._ranking.key, *(one.key for one in chosen)])

    def _pick(self, names: list[str]) -> None:
        if names:
            self.picked.emit(list(dict.fromkeys(names)))

    def enable_keeping(self, possible: bool) -> None:
        """Say whether sets can be kept: only a lot file that can be written holds them."""
        self._keeping = possible
        self._enable()

    def _enable(self) -> None:
        here = self.tabs.currentWidget() is self.sets_view
        states = [line.state for line in self.chosen_sets] if here and self._keeping else []
        self.lock.setEnabled(self._keeping and bool(self._to_lock()))
        self.sell.setEnabled(states == [SetState.LOCKED])
        self.release.setEnabled(len(states) == 1 and states[0] is not None)
        self.sheets.setEnabled(self._keeping and bool(self._on_paper()))

    def _first_row(self, view: QTableView) -> None:
        if view.model().rowCount():
            view.selectionModel().setCurrentIndex(
                view.model().index(0, 0),
                QItemSelectionModel.SelectionFlag.ClearAndSelect
                | QItemSelectionModel.SelectionFlag.Rows,
            )
            view.setFocus(Qt.FocusReason.OtherFocusReason)

    def _sentences(self, found: LotSets) -> Iterator[str]:
        result = found.result
        if found.one_tube:
            words = self.tr(
                "Tubes whose sections match: {0}, whose do not: {1}. Took no part: {2}."
            )
        else:
            words = self.tr("{0} sets, {1} tubes left over, {2} took no part.")
        told = words.format(len(result.sets), len(result.left_over), len(result.excluded))
        if found.one_tube:
            best = ""
        elif result.proven:
            best = self.tr("No choice has more sets, and none of so many is tighter.")
        else:
            best = self.tr("Not proven to be the best: at most {0} % from it.").format(
                f"{100 * result.gap:.2g}"
            )
        yield f"{told} {best}".rstrip()
        if found.counts:
            counted = [
                self.tr("at {0} %: {1}{2}").format(
                    f"{100 * one.tolerance:g}", one.sets, "" if one.proven else self.tr(" or more")
                )
                for one in found.counts
            ]
            what = self.tr("Such tubes") if found.one_tube else self.tr("Sets")
            yield self.tr("{0} there would be {1}").format(what, ", ".join(counted))
        if any("curve" in measure for measure in found.request.measures):
            for name, words in found.lot.regions.items():
                yield self.tr("Curves of {0}: {1}").format(plain(name), plain(words))


def _of_several(lines: Sequence[SetLine]) -> list[SetLine]:
    """Return the sets without the dual tubes whose sections match: those are together."""
    return [line for line in lines if len(line.members) > 1]


def _chosen(view: QTableView, model: RecordTable[Record]) -> list[Record]:
    rows = sorted(index.row() for index in view.selectionModel().selectedRows())
    return [model.record(row) for row in rows]
