"""One adapter from a list of records to Qt's tables, and copying from them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSortFilterProxyModel,
    Qt,
)
from PySide6.QtGui import QColor, QFont
from PySide6.QtWidgets import QAbstractItemView, QTableView

from curvelab.sheets.results_csv import safe_cell

__all__ = [
    "SORT_ROLE",
    "Column",
    "RecordTable",
    "copied_rows",
    "record_view",
    "sorted_by_records",
    "spreadsheet_text",
]

Record = TypeVar("Record")
AnyIndex = QModelIndex | QPersistentModelIndex
SORT_ROLE = Qt.ItemDataRole.UserRole
_MEASURED_ROWS = 60  # widths follow the first rows: a thousand would cost a while
_NO_INDEX = QModelIndex()
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def _nothing(_: object) -> None:
    return None


@dataclass(frozen=True, slots=True)
class Column(Generic[Record]):
    """How one column of a record is written, sorted, explained and coloured.

    ``name`` stands for the column in the settings; it is not shown.
    """

    title: str
    text: Callable[[Record], str]
    sort: Callable[[Record], object] = _nothing
    tip: Callable[[Record], str | None] = _nothing
    ink: Callable[[Record], str | None] = _nothing
    number: bool = False
    bold: bool = False
    explained: str = ""
    name: str = ""


class RecordTable(QAbstractTableModel, Generic[Record]):
    """Records as rows, sorted and filtered; texts are made only for the rows that are seen.

    It orders the records itself: a model between it and the view would ask for every cell
    one by one, which for ten thousand rows takes the better part of a second.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._columns: tuple[Column[Record], ...] = ()
        self._records: tuple[Record, ...] = ()
        self._order: Sequence[int] = ()
        self._sorted_by, self._descending = -1, False
        self._wanted: Callable[[Record], bool] | None = None
        self._bold = QFont()
        self._bold.setBold(True)

    def show(self, columns: Sequence[Column[Record]], records: Sequence[Record]) -> None:
        """Show other records, or the same written in another way."""
        self.beginResetModel()
        self._columns, self._records = tuple(columns), tuple(records)
        self._arrange()
        self.endResetModel()

    def keep_only(self, wanted: Callable[[Record], bool] | None) -> None:
        """Show only the records that are wanted, or all of them."""
        self.beginResetModel()
        self._wanted = wanted
        self._arrange()
        self.endResetModel()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sort by a column; by none, the records stand as they were given."""
        self.beginResetModel()
        self._sorted_by, self._descending = column, order is Qt.SortOrder.DescendingOrder
        self._arrange()
        self.endResetModel()

    @property
    def columns(self) -> tuple[Column[Record], ...]:
        """The columns."""
        return self._columns

    @property
    def total(self) -> int:
        """How many records there are, wanted or not."""
        return len(self._records)

    def record(self, row: int) -> Record:
        """Return the record of a row of this model."""
        return self._records[self._order[row]]

    def shown(self) -> list[Record]:
        """Return the records in the order of the rows."""
        return [self._records[at] for at in self._order]

    def _arrange(self) -> None:
        records, wanted = self._records, self._wanted
        order: Sequence[int] = range(len(records))
        if wanted is not None:
            order = [at for at in order if wanted(records[at])]
        if 0 <= self._sorted_by < len(self._columns):
            column = self._columns[self._sorted_by]
            keys = {at: _sort_key(column, records[at]) for at in order}
            order = sorted(order, key=keys.__getitem__, reverse=self._descending)
        self._order = order

    def rowCount(self, parent: AnyIndex = _NO_INDEX) -> int:  # noqa: N802
        """Return how many records there are."""
        return 0 if parent.isValid() else len(self._order)

    def columnCount(self, parent: AnyIndex = _NO_INDEX) -> int:  # noqa: N802
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(self._columns)

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return one cell."""
        if not index.isValid():
            return None
        record, column = self.record(index.row()), self._columns[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.text(record)
        if role == SORT_ROLE:
            return _sort_key(column, record)
        if role == Qt.ItemDataRole.ToolTipRole:
            return column.tip(record)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if column.number else _LEFT
        if role == Qt.ItemDataRole.ForegroundRole:
            ink = column.ink(record)
            return None if ink is None else QColor(ink)
        if role == Qt.ItemDataRole.FontRole and column.bold:
            return self._bold
        return None

    def headerData(  # noqa: N802
        self,
        section: int,
        orientation: Qt.Orientation,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        """Return a heading."""
        if orientation is Qt.Orientation.Vertical:
            return None
        column = self._columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.title
        if role == Qt.ItemDataRole.ToolTipRole:
            return column.explained or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if column.number else _LEFT
        return None


def record_view(name: str, owner: QObject) -> tuple[QTableView, RecordTable[Record]]:
    """Return a table of records, a row each, sorted at a click on a heading."""
    model: RecordTable[Record] = RecordTable(owner)
    view = QTableView()
    view.setModel(model)
    view.setAccessibleName(name)
    view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    view.setAlternatingRowColors(True)
    view.setTabKeyNavigation(False)
    view.setShowGrid(False)
    view.setWordWrap(False)
    view.verticalHeader().hide()
    view.horizontalHeader().setStretchLastSection(True)
    view.horizontalHeader().setHighlightSections(False)
    view.horizontalHeader().setResizeContentsPrecision(_MEASURED_ROWS)
    view.horizontalHeader().setSortIndicator(-1, view.horizontalHeader().sortIndicatorOrder())
    view.setSortingEnabled(True)
    return view, model


def sorted_by_records(model: RecordTable[Record], parent: QObject) -> QSortFilterProxyModel:
    """Return a model between records and view that sorts by value and filters by any text."""
    proxy = QSortFilterProxyModel(parent)
    proxy.setSourceModel(model)
    proxy.setSortRole(SORT_ROLE)
    proxy.setFilterCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
    proxy.setFilterKeyColumn(-1)
    return proxy


def copied_rows(view: QTableView) -> str:
    """Return the selected rows with their headings, tab between cells, for a spreadsheet."""
    model, header = view.model(), view.horizontalHeader()
    visible = [header.logicalIndex(place) for place in range(header.count())]
    visible = [column for column in visible if not view.isColumnHidden(column)]
    rows = sorted(index.row() for index in view.selectionModel().selectedRows())
    lines = [[model.headerData(at, Qt.Orientation.Horizontal) for at in visible]]
    lines += [[model.index(row, at).data() for at in visible] for row in rows]
    return spreadsheet_text(lines)


def spreadsheet_text(lines: Iterable[Iterable[object]]) -> str:
    """Return cells with tabs between them; no text of them can be taken for a formula."""
    return "".join("\t".join(map(_one_line, line)) + "\n" for line in lines)


def _one_line(cell: object) -> str:
    text = " ".join(str(cell or "").split())
    return text if _NUMBER.fullmatch(text) else safe_cell(text)


def _sort_key(column: Column[Record], record: Record) -> Any:
    key = column.sort(record)
    return column.text(record).casefold() if key is None else key
