"""The list of tubes: a table that is also the key to the plot, with a filter above it."""

from __future__ import annotations

from PySide6.QtCore import QItemSelection, QItemSelectionModel, Qt, Signal
from PySide6.QtGui import QFontMetrics, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from curvelab.window.lot import Lot
from curvelab.window.record_table import RecordTable, copied_rows, sorted_by_records
from curvelab.window.theme import Theme
from curvelab.window.tube_columns import tube_columns
from curvelab.workbench.session import Entry

__all__ = ["TubeList"]

_MEASURED_ROWS = 60  # widths follow the first rows: a thousand would cost a second
_PADDING = 10


class TubeList(QWidget):
    """Shows the tubes of a lot; says which ones a person chooses."""

    chosen = Signal(object)

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self._shown: tuple[Entry, ...] = ()
        self._following = False
        self._model: RecordTable[Entry] = RecordTable(self)
        self._proxy = sorted_by_records(self._model, self)
        self.view = self._make_view()
        self.filter_field = self._make_filter()
        self._count = QLabel()
        line = QHBoxLayout()
        line.addWidget(self.filter_field, 1)
        line.addWidget(self._count)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(line)
        layout.addWidget(self.view, 1)
        lot.tubes_changed.connect(self._show_tubes)
        lot.chosen_changed.connect(self._show_chosen)
        theme.changed.connect(self._rewrite)
        self._show_tubes()

    def copied(self) -> str:
        """Return the selected rows with their headings."""
        return copied_rows(self.view)

    def step(self, by: int) -> None:
        """Go to the tube ``by`` rows further down."""
        rows = self._proxy.rowCount()
        if rows:
            row = max(0, min(self.view.currentIndex().row() + by, rows - 1))
            self.view.selectRow(row)

    def start_filter(self) -> None:
        """Put the cursor into the filter field."""
        self.filter_field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.filter_field.selectAll()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Keep the tube looked at in sight."""
        super().resizeEvent(event)
        if self.view.currentIndex().isValid():
            self.view.scrollTo(self.view.currentIndex())

    def _columns(self) -> list:  # type: ignore[type-arg]
        return tube_columns(self._lot.session.quantities, self._theme.colours)

    def _make_view(self) -> QTableView:
        view = QTableView()
        view.setModel(self._proxy)
        view.setAccessibleName(self.tr("Tubes of the lot"))
        view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        view.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        view.setSortingEnabled(True)
        view.sortByColumn(-1, Qt.SortOrder.AscendingOrder)  # as the lot was taken in
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
        view.selectionModel().selectionChanged.connect(self._tell_chosen)
        return view

    def _make_filter(self) -> QLineEdit:
        field = QLineEdit()
        field.setPlaceholderText(self.tr("Filter: name, type, verdict or finding"))
        field.setAccessibleName(self.tr("Filter the tubes by any text"))
        field.setClearButtonEnabled(True)
        field.setAcceptDrops(False)
        field.textChanged.connect(self._filter)
        return field

    def _filter(self, text: str) -> None:
        self._proxy.setFilterFixedString(text.strip())
        self._show_count()
        self._show_chosen()

    def _rewrite(self) -> None:
        self._following = True
        self._model.show(self._columns(), self._shown)
        self._following = False
        self._fit_rows()
        self._show_chosen()

    def _show_tubes(self) -> None:
        self._following = True
        self._shown = self._lot.entries
        self._model.show(self._columns(), self._shown)
        self._following = False
        self._fit_rows()
        self._show_count()
        self._show_chosen()

    def _fit_rows(self) -> None:
        """Make the columns as wide as their first rows need."""
        metrics = QFontMetrics(self._theme.font())
        bold = QFontMetrics(self._theme.font(bold=True))
        self.view.verticalHeader().setDefaultSectionSize(metrics.height() + 8)
        header = self.view.horizontalHeader()
        for at in range(self._model.columnCount() - 1):
            heading = str(self._model.headerData(at, Qt.Orientation.Horizontal)).split("\n")
            widest = max(metrics.horizontalAdvance(text + "  ") for text in heading)
            count = min(_MEASURED_ROWS, self._model.rowCount())
            for index in (self._model.index(row, at) for row in range(count)):
                written = metrics if index.data(Qt.ItemDataRole.FontRole) is None else bold
                widest = max(widest, written.horizontalAdvance(str(index.data())))
            header.resizeSection(at, widest + _PADDING)

    def _show_count(self) -> None:
        total, seen = self._model.rowCount(), self._proxy.rowCount()
        text = self.tr("1 tube") if total == 1 else self.tr("{0} tubes").format(total)
        self._count.setText(text if seen == total else f"{seen} / {text}")

    def _show_chosen(self) -> None:
        """Select what the lot says is chosen, without saying so again."""
        keys = [entry.key for entry in self._lot.session.chosen]
        rows = {entry.key: row for row, entry in enumerate(self._shown)}
        places = [
            self._proxy.mapFromSource(self._model.index(rows[key], 0))
            for key in keys
            if key in rows
        ]
        places = [place for place in places if place.isValid()]
        selection = QItemSelection()
        for place in places:
            selection.select(place, place)
        flags = QItemSelectionModel.SelectionFlag
        model = self.view.selectionModel()
        self._following = True
        if places and places[0].row() != model.currentIndex().row():
            model.setCurrentIndex(places[0], flags.NoUpdate)
        model.select(selection, flags.ClearAndSelect | flags.Rows)
        self._following = False
        if places:
            self.view.scrollTo(places[0])

    def _tell_chosen(self) -> None:
        """Say which tubes are selected, the row with the cursor first."""
        if self._following:
            return
        model = self.view.selectionModel()
        rows = [self._proxy.mapToSource(index).row() for index in model.selectedRows()]
        keys = [self._model.record(row).key for row in rows]
        current = self._proxy.mapToSource(model.currentIndex()).row()
        if current in rows:
            first = self._model.record(current).key
            keys = [first, *(key for key in keys if key != first)]
        if keys:  # clicking into the void or filtering leaves the tube on the plot
            self.chosen.emit(tuple(keys))
