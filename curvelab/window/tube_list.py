"""The table of tubes, which is also the key to the plot, with filters above it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QItemSelection, QItemSelectionModel, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QFontMetrics, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMenu,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from curvelab.health.records import Verdict
from curvelab.window.column_layout import ColumnDialog, ColumnLayout
from curvelab.window.lot import Lot
from curvelab.window.record_table import Column, RecordTable, copied_rows
from curvelab.window.theme import Theme
from curvelab.window.tube_columns import USUALLY_HIDDEN, tube_columns
from curvelab.workbench.tube_rows import TubeRow

__all__ = ["TubeList"]

_MEASURED_ROWS = 60  # widths follow the first rows: a thousand would cost a second
_PADDING = 10


class TubeList(QWidget):
    """Shows the tubes of a lot; says which ones a person chooses and which the mouse is on.

    Signals
    -------
    chosen : tuple of int
        Keys of the chosen lines, the one to look at first.
    hovered : int or None
        Key of the line under the mouse.
    """

    chosen = Signal(object)
    hovered = Signal(object)

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self._following = False
        self._shown: tuple[int, ...] = ()  # the tube looked at when the list last went to it
        self._model: RecordTable[TubeRow] = RecordTable(self)
        self._model.show(self._columns(), ())
        self.view = self._make_view()
        names = [column.name for column in self._model.columns]
        self.columns = ColumnLayout(self.view, names, USUALLY_HIDDEN, "worst")
        self.filter_field = self._make_filter()
        self.verdict_box = self._make_verdict_box()
        self._count = QLabel()
        line = QHBoxLayout()
        line.addWidget(self.filter_field, 1)
        line.addWidget(self.verdict_box)
        line.addWidget(self._count)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(line)
        layout.addWidget(self.view, 1)
        lot.tubes_changed.connect(self._show_tubes)
        lot.chosen_changed.connect(lambda: self._show_chosen())
        self.columns.changed.connect(self._fit_rows)
        theme.changed.connect(self._show_tubes)
        self._show_tubes()

    def copied(self) -> str:
        """Return the selected rows with their headings."""
        return copied_rows(self.view)

    def step(self, by: int) -> None:
        """Go to the tube ``by`` rows further down."""
        rows = self._model.rowCount()
        if rows:
            row = max(0, min(self.view.currentIndex().row() + by, rows - 1))
            # Not by selectRow: that heeds a Ctrl held down, which is in the keys of this step.
            flags = QItemSelectionModel.SelectionFlag
            self.view.selectionModel().setCurrentIndex(
                self._model.index(row, 0), flags.ClearAndSelect | flags.Rows
            )

    def start_filter(self) -> None:
        """Put the cursor into the filter field."""
        self.filter_field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.filter_field.selectAll()

    def ask_columns(self) -> None:
        """Let a person hide, show and move columns."""
        titles = {column.name: column.title for column in self._model.columns}
        dialog = ColumnDialog(self.columns, titles, self)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Keep the tube looked at in sight."""
        super().resizeEvent(event)
        if self.view.currentIndex().isValid():
            self.view.scrollTo(self.view.currentIndex())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Notice that the mouse has left the table, and that its width is another."""
        if event.type() is QEvent.Type.Resize and watched is self.view.viewport():
            self.columns.fit_elastic()
        if event.type() is QEvent.Type.Leave and watched is self.view.viewport():
            self.hovered.emit(None)
        return super().eventFilter(watched, event)

    def _columns(self) -> list[Column[TubeRow]]:
        return tube_columns(self._lot.session.quantities, self._theme.colours)

    def _make_view(self) -> QTableView:
        view = QTableView()
        view.setModel(self._model)
        view.setAccessibleName(self.tr("Tubes of the lot"))
        view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        view.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        view.setAlternatingRowColors(True)
        view.setShowGrid(False)
        view.setWordWrap(False)
        view.setTabKeyNavigation(False)  # Tab goes on to the next part of the window
        view.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        view.verticalHeader().hide()
        view.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header = view.horizontalHeader()
        header.setSectionsMovable(True)
        header.setHighlightSections(False)
        header.setStretchLastSection(True)
        # One of its own, always empty: with the view's, every heading painted asks for each of
        # ten thousand rows whether all of its column is selected.
        header.setSelectionModel(QItemSelectionModel(self._model, header))
        header.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        header.customContextMenuRequested.connect(self._offer_columns)
        view.sortByColumn(-1, Qt.SortOrder.AscendingOrder)  # as the lot was taken in
        view.setSortingEnabled(True)
        view.selectionModel().selectionChanged.connect(self._tell_chosen)
        self._model.modelReset.connect(self._after_sorting)
        view.setMouseTracking(True)
        view.entered.connect(lambda index: self.hovered.emit(self._model.record(index.row()).key))
        view.viewport().installEventFilter(self)
        return view

    def _make_filter(self) -> QLineEdit:
        field = QLineEdit()
        field.setPlaceholderText(self.tr("Filter by words"))
        field.setToolTip(self.tr("Name, type, verdict, finding: a line must hold every word"))
        field.setAccessibleName(self.tr("Filter the tubes by any text"))
        field.setClearButtonEnabled(True)
        field.setAcceptDrops(False)
        field.textChanged.connect(self._filter)
        return field

    def _make_verdict_box(self) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(self.tr("Filter the tubes by verdict"))
        box.addItem(self.tr("all verdicts"), None)
        for verdict in Verdict:
            box.addItem(verdict.value, lambda row, verdict=verdict: row.verdict is verdict)
        box.addItem(self.tr("set by a person"), lambda row: row.overrule is not None)
        box.addItem(self.tr("not tested"), lambda row: row.verdict is None)
        box.currentIndexChanged.connect(self._filter)
        return box

    def _filter(self) -> None:
        self._following = True
        self._model.keep_only(self._wanted())
        self._following = False
        self._show_count()
        self._show_chosen(follow=True)

    def _wanted(self) -> Callable[[TubeRow], bool] | None:
        """Return what a row must be to be shown, or None where all are; blanks part words."""
        words = self.filter_field.text().casefold().split()
        verdict = self.verdict_box.currentData()
        if verdict is None and not words:
            return None

        def wanted(row: TubeRow) -> bool:
            return (verdict is None or verdict(row)) and all(word in row.text for word in words)

        return wanted

    def _show_tubes(self) -> None:
        follow = self._sees_current()  # else a person has scrolled away from it, to read others
        self._following = True
        bar = self.view.verticalScrollBar()
        place = bar.value()
        self._model.show(self._columns(), self._lot.rows)
        self._following = False
        self._fit_rows()
        self._show_count()
        if not follow:
            self.view.executeDelayedItemsLayout()  # until then there is nothing to scroll
            bar.setValue(place)
        self._show_chosen(follow=follow)

    def _after_sorting(self) -> None:
        """Go on with what is chosen, which the table forgets; filling it says so itself."""
        if not self._following:
            self._show_chosen(follow=True)

    def _sees_current(self) -> bool:
        """Tell whether the tube looked at is in sight in the list; where there is none, too."""
        index = self.view.currentIndex()
        place = self.view.visualRect(index)
        return not index.isValid() or self.view.viewport().rect().intersects(place)

    def _fit_rows(self) -> None:
        """Make the columns as wide as their first rows need."""
        metrics = QFontMetrics(self._theme.font())
        bold = QFontMetrics(self._theme.font(bold=True))
        self.view.verticalHeader().setDefaultSectionSize(metrics.height() + 8)
        count = min(_MEASURED_ROWS, self._model.rowCount())
        records = [self._model.record(row) for row in range(count)]

        def width(at: int) -> int:
            column = self._model.columns[at]
            written = bold if column.bold else metrics
            heading = (metrics.horizontalAdvance(f"{text}  ") for text in column.title.split("\n"))
            cells = (written.horizontalAdvance(column.text(record)) for record in records)
            return max((*heading, *cells)) + _PADDING

        self.columns.fit(width)

    def _offer_columns(self, place: QPoint) -> None:
        """Show or hide columns at a right click on the headings."""
        menu = QMenu(self)
        hidden = self.columns.hidden
        for column in self._model.columns[1:]:
            action = menu.addAction(column.title.replace("\n", " "))
            action.setCheckable(True)
            action.setChecked(column.name not in hidden)
            action.toggled.connect(lambda on, name=column.name: self._switch_column(name, on))
        menu.addSeparator()
        menu.addAction(self.tr("Columns…")).triggered.connect(self.ask_columns)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(self.view.horizontalHeader().mapToGlobal(place))

    def _switch_column(self, name: str, on: bool) -> None:
        hidden = self.columns.hidden
        self.columns.arrange(self.columns.order, hidden - {name} if on else hidden | {name})

    def _show_count(self) -> None:
        total, seen = self._model.total, self._model.rowCount()
        text = self.tr("1 tube") if total == 1 else self.tr("{0} tubes").format(total)
        self._count.setText(text if seen == total else f"{seen} / {text}")

    def _show_chosen(self, *, follow: bool = False) -> None:
        """Select what the lot says is chosen, without saying so again.

        The list is scrolled there if it is another tube, or wherever it is with ``follow``.
        """
        wanted = self._lot.chosen_rows
        follow = follow or wanted[:1] != self._shown
        self._shown = wanted[:1]
        places = self._places(wanted)
        flags = QItemSelectionModel.SelectionFlag
        model = self.view.selectionModel()
        self._following = True
        first = places.get(wanted[0]) if wanted else None
        if first is not None and first != model.currentIndex().row():
            self.view.setAutoScroll(False)  # it would go there whether it is followed or not
            model.setCurrentIndex(self._model.index(first, 0), flags.NoUpdate)
            self.view.setAutoScroll(True)
        model.select(self._selection(sorted(places.values())), flags.ClearAndSelect | flags.Rows)
        self._following = False
        if first is not None and follow:
            self.view.scrollTo(self._model.index(first, 0))

    def _places(self, keys: tuple[int, ...]) -> dict[int, int]:
        """Return the rows of some keys, of those that are shown."""
        wanted = set(keys)
        if not wanted:
            return {}
        shown = enumerate(self._model.shown())
        return {record.key: row for row, record in shown if record.key in wanted}

    def _selection(self, rows: list[int]) -> QItemSelection:
        """Return a selection of rows, those beside each other as one range."""
        selection = QItemSelection()
        begin = 0
        for at in range(1, len(rows) + 1):
            if at == len(rows) or rows[at] != rows[at - 1] + 1:
                first = self._model.index(rows[begin], 0)
                selection.select(first, self._model.index(rows[at - 1], 0))
                begin = at
        return selection

    def _tell_chosen(self) -> None:
        """Say which tubes are selected, the row with the cursor first."""
        if self._following:
            return
        model, shown = self.view.selectionModel(), self._model.shown()
        selection = model.selection()
        parts = [selection.at(place) for place in range(selection.count())]
        ranges = [(part.top(), part.bottom()) for part in parts]
        rows = [row for top, bottom in ranges for row in range(top, bottom + 1)]
        keys = list(dict.fromkeys(shown[row].key for row in rows))
        current = model.currentIndex().row()
        if current in rows:
            first = shown[current].key
            keys = [first, *(key for key in keys if key != first)]
        if keys:  # clicking into the void or filtering leaves the tube on the plot
            self.chosen.emit(tuple(keys))
