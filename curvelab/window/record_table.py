"""One adapter from a list of records to Qt's tables, and copying from them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSortFilterProxyModel,
    Qt,
)
from PySide6.QtGui import QColor, QFont
from PySide6.QtWidgets import QTableView

__all__ = ["SORT_ROLE", "Column", "RecordTable", "copied_rows", "sorted_by_records"]

Record = TypeVar("Record")
AnyIndex = QModelIndex | QPersistentModelIndex
SORT_ROLE = Qt.ItemDataRole.UserRole
_NO_INDEX = QModelIndex()
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def _nothing(_: object) -> None:
    return None


@dataclass(frozen=True, slots=True)
class Column(Generic[Record]):
    """How one column of a record is written, sorted, explained and coloured."""

    title: str
    text: Callable[[Record], str]
    sort: Callable[[Record], object] = _nothing
    tip: Callable[[Record], str | None] = _nothing
    ink: Callable[[Record], str | None] = _nothing
    number: bool = False
    bold: bool = False
    explained: str = ""


class RecordTable(QAbstractTableModel, Generic[Record]):
    """Records as rows; the texts are made only for the rows that are seen."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._columns: tuple[Column[Record], ...] = ()
        self._records: tuple[Record, ...] = ()
        self._bold = QFont()
        self._bold.setBold(True)

    def show(self, columns: Sequence[Column[Record]], records: Sequence[Record]) -> None:
        """Show other records, or the same written in another way."""
        self.beginResetModel()
        self._columns, self._records = tuple(columns), tuple(records)
        self.endResetModel()

    def record(self, row: int) -> Record:
        """Return the record of a row of this model."""
        return self._records[row]

    def rowCount(self, parent: AnyIndex = _NO_INDEX) -> int:  # noqa: N802
        """Return how many records there are."""
        return 0 if parent.isValid() else len(self._records)

    def columnCount(self, parent: AnyIndex = _NO_INDEX) -> int:  # noqa: N802
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(self._columns)

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return one cell."""
        if not index.isValid():
            return None
        record, column = self._records[index.row()], self._columns[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.text(record)
        if role == SORT_ROLE:
            key = column.sort(record)
            return column.text(record).casefold() if key is None else key
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
    return "\n".join("\t".join(_one_line(cell) for cell in line) for line in lines) + "\n"


def _one_line(cell: object) -> str:
    return " ".join(str(cell or "").split())
