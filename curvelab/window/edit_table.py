"""A table of a type file whose cells are edited, with the refused one marked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import (
    QAbstractItemModel,
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QComboBox,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from curvelab.reference.typeparts import Row

__all__ = ["SOURCE", "STATUS", "EditColumn", "EditTable", "EditTableView"]

SOURCE, STATUS = "source", "status"
_AnyIndex = QModelIndex | QPersistentModelIndex
_CHECK = Qt.ItemDataRole.CheckStateRole
_LEAST_ROWS, _MOST_ROWS = 2, 12
_ROOM = 8  # above and below the text of a row, together


@dataclass(frozen=True, slots=True)
class EditColumn:
    """One column.

    Attributes
    ----------
    key : str
        Of the row's values; or `SOURCE` or `STATUS`.
    choices : mapping of str to str, optional
        What may stand there, and the words each is offered with.
    ticked : bool
        Whether it is a mark that is there or not.
    fixed : bool
        Whether it cannot be changed.
    words : mapping of str to str, optional
        How values are shown, where not as they are written.
    """

    title: str
    key: str
    choices: Mapping[str, str] | None = None
    ticked: bool = False
    fixed: bool = False
    words: Mapping[str, str] | None = None


class EditTable(QAbstractTableModel):
    """Rows of a type file; a change is emitted and not made here."""

    edited = Signal(object, str, str)  # row, key, what is written

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._columns: tuple[EditColumn, ...] = ()
        self._rows: tuple[Row, ...] = ()
        self._wrong: tuple[int, str, str] | None = None
        self._ink = QColor()
        self._fixed = True

    def show(self, columns: Sequence[EditColumn], rows: Sequence[Row], *, fixed: bool) -> None:
        """Show other rows; with ``fixed`` none of them can be changed."""
        self.beginResetModel()
        self._columns, self._rows, self._fixed, self._wrong = (
            tuple(columns),
            tuple(rows),
            fixed,
            None,
        )
        self.endResetModel()

    def mark(self, row: int | None, key: str, message: str, ink: QColor) -> None:
        """Mark the cell that is refused; None for none."""
        self._wrong = None if row is None else (row, key, message)
        self._ink = ink
        if self._rows:
            last = self.index(len(self._rows) - 1, max(len(self._columns) - 1, 0))
            self.dataChanged.emit(self.index(0, 0), last)

    def row(self, number: int) -> Row:
        """Return the row shown at a place."""
        return self._rows[number]

    def column(self, number: int) -> EditColumn:
        """Return the column shown at a place."""
        return self._columns[number]

    def rowCount(self, parent: _AnyIndex = QModelIndex()) -> int:  # noqa: N802, B008
        """Return how many rows there are."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: _AnyIndex = QModelIndex()) -> int:  # noqa: N802, B008
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(self._columns)

    def headerData(  # noqa: N802
        self,
        section: int,
        orientation: Qt.Orientation,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        """Return a column's title."""
        if role == Qt.ItemDataRole.DisplayRole and orientation is Qt.Orientation.Horizontal:
            return self._columns[section].title
        return None

    def flags(self, index: _AnyIndex) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        column = self._columns[index.column()]
        if self._fixed or column.fixed:
            return flags
        return flags | (
            Qt.ItemFlag.ItemIsUserCheckable if column.ticked else Qt.ItemFlag.ItemIsEditable
        )

    def data(self, index: _AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return what a cell shows."""
        column, row = self._columns[index.column()], self._rows[index.row()]
        written = self.written(row, column)
        wrong = self._wrong == (index.row(), column.key, self._wrong[2]) if self._wrong else False
        if role == _CHECK and column.ticked:
            return Qt.CheckState.Checked if written else Qt.CheckState.Unchecked
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole) and not column.ticked:
            shown = role == Qt.ItemDataRole.DisplayRole and column.words
            return column.words.get(written, written) if shown and column.words else written
        if role == Qt.ItemDataRole.BackgroundRole and wrong:
            return self._ink
        if role == Qt.ItemDataRole.ToolTipRole:
            if wrong and self._wrong:
                return self._wrong[2]
            return column.choices.get(written) if column.choices else None
        return None

    def setData(  # noqa: N802
        self, index: _AnyIndex, value: object, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Ask for a change of a cell."""
        column, row = self._columns[index.column()], self._rows[index.row()]
        if role == _CHECK and column.ticked:
            ticked = value in (Qt.CheckState.Checked, Qt.CheckState.Checked.value)
            self.edited.emit(row, column.key, "true" if ticked else "")
            return True
        written = str(value).strip()
        if role != Qt.ItemDataRole.EditRole or written == self.written(row, column):
            return False
        self.edited.emit(row, column.key, written)
        return True

    @staticmethod
    def written(row: Row, column: EditColumn) -> str:
        """Return what a row has in a column."""
        if column.key in (SOURCE, STATUS):
            return row.source if column.key == SOURCE else row.status
        return row.values.get(column.key, "")


class _Choices(QStyledItemDelegate):
    """Offers what may stand in a cell, where it is not anything."""

    def createEditor(  # noqa: N802
        self, parent: QWidget, option: QStyleOptionViewItem, index: _AnyIndex
    ) -> QWidget:
        """Return a list to choose from, or the usual field."""
        column = _table_of(index).column(index.column())
        if column.choices is None:
            editor = super().createEditor(parent, option, index)
            editor.setAccessibleName(column.title)
            return editor
        box = QComboBox(parent)
        for written, words in column.choices.items():
            box.addItem(words, written)
        box.setAccessibleName(column.title)
        box.view().setMinimumWidth(box.view().sizeHintForColumn(0) + 24)
        box.activated.connect(lambda: self._done(box))
        return box

    def setEditorData(self, editor: QWidget, index: _AnyIndex) -> None:  # noqa: N802
        """Show the cell's own."""
        if isinstance(editor, QComboBox):
            written = index.data(Qt.ItemDataRole.EditRole)
            editor.setCurrentIndex(max(editor.findData(written), 0))
        else:
            super().setEditorData(editor, index)

    def setModelData(  # noqa: N802
        self, editor: QWidget, model: QAbstractItemModel, index: _AnyIndex
    ) -> None:
        """Ask for the change."""
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentData(), Qt.ItemDataRole.EditRole)
        else:
            super().setModelData(editor, model, index)

    def _done(self, box: QComboBox) -> None:
        self.commitData.emit(box)
        self.closeEditor.emit(box)


def _table_of(index: _AnyIndex) -> EditTable:
    model = index.model()
    assert isinstance(model, EditTable)
    return model


class EditTableView(QTableView):
    """Such a table, as high as its rows are."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.table = EditTable(self)
        self.setModel(self.table)
        self.setItemDelegate(_Choices(self))
        self.setAccessibleName(name)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + _ROOM)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        self.horizontalHeader().setStretchLastSection(True)
        self.setSelectionMode(QTableView.SelectionMode.SingleSelection)
        triggers = QTableView.EditTrigger
        self.setEditTriggers(
            triggers.DoubleClicked | triggers.EditKeyPressed | triggers.AnyKeyPressed
        )

    def show_rows(self, columns: Sequence[EditColumn], rows: Sequence[Row], *, fixed: bool) -> None:
        """Show other rows, and keep the cell that was chosen."""
        at = self.currentIndex()
        place = (at.row(), at.column()) if at.isValid() else None
        self.table.show(columns, rows, fixed=fixed)
        self.resizeColumnsToContents()
        if place is not None and place[0] < len(rows):
            self.setCurrentIndex(self.table.index(*place))
        shown = min(max(len(rows), _LEAST_ROWS), _MOST_ROWS)
        height = self.horizontalHeader().sizeHint().height()
        height += shown * self.verticalHeader().defaultSectionSize() + 2 * self.frameWidth()
        if self.horizontalScrollBar().maximum() > 0:
            height += self.horizontalScrollBar().sizeHint().height()
        self.setFixedHeight(height)

    @property
    def chosen(self) -> Row | None:
        """The row that the keyboard is on."""
        at = self.currentIndex()
        return self.table.row(at.row()) if at.isValid() else None
