"""Two tubes compared: percent over the plane, and their constants side by side."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from curvelab.sheets.tables import Table
from curvelab.window.plots.plane_plot import PlaneView
from curvelab.window.theme import Theme

__all__ = ["DifferenceView"]


class DifferenceView(QWidget):
    """The plot of the difference over a small table of constants."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.plane = PlaneView(theme, self.tr("Difference of two tubes in percent"))
        self.table = QTableWidget()
        self.table.setAccessibleName(self.tr("Constants of two tubes side by side"))
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.table.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.table.setTabKeyNavigation(False)
        self.table.verticalHeader().setVisible(False)
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.table.horizontalHeader().setHighlightSections(False)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        layout.addWidget(self.plane, 1)
        layout.addWidget(self.table)
        theme.when_changed(self._fit_height)

    def show_table(self, table: Table) -> None:
        """Show the constants of two tubes."""
        self.table.setColumnCount(len(table.columns))
        self.table.setRowCount(len(table.rows))
        self.table.setHorizontalHeaderLabels(list(table.columns))
        for row, line in enumerate(table.rows):
            for column, text in enumerate(line.cells):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                if column:
                    right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    item.setTextAlignment(right)
                self.table.setItem(row, column, item)
        self._fit_height()

    def copied(self) -> str:
        """Return the table with its headings for the clipboard, tabs between the cells."""
        heads = [self.table.horizontalHeaderItem(c) for c in range(self.table.columnCount())]
        lines = ["\t".join(head.text() if head else "" for head in heads)]
        for row in range(self.table.rowCount()):
            cells = [self.table.item(row, column) for column in range(self.table.columnCount())]
            lines.append("\t".join(cell.text() if cell else "" for cell in cells))
        return "\n".join(lines)

    def _fit_height(self) -> None:
        """Give the table the room of its rows: it never scrolls."""
        row = self._theme_row()
        self.table.verticalHeader().setDefaultSectionSize(row)
        head = self.table.horizontalHeader().sizeHint().height()
        frame = 2 * self.table.frameWidth()
        self.table.setFixedHeight(head + row * self.table.rowCount() + frame)

    def _theme_row(self) -> int:
        self.table.setFont(self._theme.font())
        return self.table.fontMetrics().height() + 6
