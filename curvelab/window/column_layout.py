"""Which columns of the table are seen, in which order and how wide; kept from run to run."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Sequence

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QStyle,
    QTableView,
    QVBoxLayout,
    QWidget,
)

__all__ = ["ColumnDialog", "ColumnLayout"]


class ColumnLayout(QObject):
    """Keeps the layout of a table's columns by their names.

    Parameters
    ----------
    names : sequence of str
        The columns as the model has them; the first is always seen.
    hidden : collection of str
        Those hidden until a person asks for them.
    elastic : str
        The column that gives way where the view ends in the midst of it; what it then cuts short
        is marked so.
    """

    changed = Signal()

    def __init__(
        self, view: QTableView, names: Sequence[str], hidden: Collection[str], elastic: str = ""
    ) -> None:
        super().__init__(view)
        self._view, self._names, self._usual = view, tuple(names), frozenset(hidden)
        self._elastic, self._full, self._least = elastic, 0, 0
        self._widths: dict[str, int] = {}
        self._at_work = False
        header = view.horizontalHeader()
        header.sectionMoved.connect(self._tell)
        header.sectionResized.connect(self._keep_width)
        header.sortIndicatorChanged.connect(self._tell)
        self.reset()

    @property
    def order(self) -> list[str]:
        """The names from left to right, those not seen among them."""
        header = self._view.horizontalHeader()
        return [self._names[header.logicalIndex(place)] for place in range(len(self._names))]

    @property
    def hidden(self) -> set[str]:
        """The names of the columns not seen."""
        return {name for at, name in enumerate(self._names) if self._view.isColumnHidden(at)}

    def arrange(self, order: Sequence[str], hidden: Collection[str]) -> None:
        """Put the columns in an order and hide some; unknown names do nothing."""
        header = self._view.horizontalHeader()
        known = [name for name in dict.fromkeys(order) if name in self._names]
        order = [*known, *(name for name in self._names if name not in known)]
        self._at_work = True
        for place, name in enumerate(order):
            header.moveSection(header.visualIndex(self._names.index(name)), place)
        for at, name in enumerate(self._names):
            self._view.setColumnHidden(at, at > 0 and name in hidden)
        self._at_work = False
        self._tell()

    def reset(self) -> None:
        """Go back to the usual layout."""
        self._widths.clear()
        self.arrange(self._names, self._usual)

    def fit(self, widths: Callable[[int], int]) -> None:
        """Make the columns as wide as a person has made them, else as ``widths`` says."""
        header = self._view.horizontalHeader()
        self._at_work = True
        for at, name in enumerate(self._names):
            if not self._view.isColumnHidden(at):
                full = widths(at)
                header.resizeSection(at, self._widths.get(name) or full)
                if name == self._elastic:
                    self._full, self._least = full, _heading_width(header, at)
        self._at_work = False
        self.fit_elastic()

    def fit_elastic(self) -> None:
        """Let the elastic column end where the view does, unless its heading has no room."""
        if self._elastic not in self._names or self._elastic in self._widths:
            return
        at, header = self._names.index(self._elastic), self._view.horizontalHeader()
        if self._view.isColumnHidden(at):
            return
        room = self._view.viewport().width() - header.sectionPosition(at)
        self._at_work = True
        header.resizeSection(at, room if self._least <= room < self._full else self._full)
        self._at_work = False

    def state(self) -> str:
        """Return the layout as text, for the settings."""
        header = self._view.horizontalHeader()
        by = header.sortIndicatorSection()
        return json.dumps(
            {
                "order": self.order,
                "hidden": sorted(self.hidden),
                "widths": self._widths,
                "sorted": self._names[by] if 0 <= by < len(self._names) else None,
                "descending": header.sortIndicatorOrder() is Qt.SortOrder.DescendingOrder,
            }
        )

    def restore(self, state: str) -> None:
        """Bring a layout back; a text that is none is passed over."""
        try:
            kept = json.loads(state)
            order, hidden = list(map(str, kept["order"])), set(map(str, kept["hidden"]))
            widths = {str(name): int(width) for name, width in kept["widths"].items()}
        except (ValueError, KeyError, TypeError, AttributeError):
            return
        # A column that this version brings anew is hidden if it usually is.
        hidden |= self._usual - set(order)
        self._widths = {name: width for name, width in widths.items() if name in self._names}
        self.arrange(order, hidden)
        by = kept.get("sorted")
        if by in self._names:
            down = Qt.SortOrder.DescendingOrder if kept.get("descending") else None
            self._view.sortByColumn(self._names.index(by), down or Qt.SortOrder.AscendingOrder)

    def _keep_width(self, at: int, old: int, new: int) -> None:
        """Remember a width that a person has drawn; the last column takes what is left."""
        header = self._view.horizontalHeader()
        stretched = header.stretchLastSection() and at == _last_seen(header)
        if not self._at_work and old and new and not stretched and at < len(self._names):
            self._widths[self._names[at]] = new

    def _tell(self) -> None:
        if not self._at_work:
            self.changed.emit()


def _heading_width(header: QHeaderView, at: int) -> int:
    """Return the width of a heading alone [px], without a sign that it is sorted by."""
    lines = str(header.model().headerData(at, header.orientation()) or "").split("\n")
    margins = 2 * header.style().pixelMetric(QStyle.PixelMetric.PM_HeaderMargin)
    return max(map(header.fontMetrics().horizontalAdvance, lines)) + margins


def _last_seen(header: QHeaderView) -> int:
    places = range(header.count() - 1, -1, -1)
    seen = (header.logicalIndex(place) for place in places)
    return next((at for at in seen if not header.isSectionHidden(at)), -1)


class ColumnDialog(QDialog):
    """Lets the keyboard do what the mouse does with headings: hide, show and move columns."""

    def __init__(
        self, layout: ColumnLayout, titles: dict[str, str], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._layout, self._titles = layout, titles
        self.setWindowTitle(self.tr("Columns of the table"))
        hint = QLabel(self.tr("&Tick what is to be seen; the first is the leftmost."))
        self.list = QListWidget()
        self.list.setAccessibleName(self.tr("Columns; Space shows or hides one"))
        self.list.setDragDropMode(QListWidget.DragDropMode.InternalMove)
        self.list.viewport().setBackgroundRole(QPalette.ColorRole.Window)
        self.list.itemChanged.connect(self._say_hidden)
        hint.setBuddy(self.list)
        buttons = QHBoxLayout()
        for text, action in (
            (self.tr("Move &up"), lambda: self._move(-1)),
            (self.tr("Move &down"), lambda: self._move(1)),
            (self.tr("As &usual"), self._as_usual),
        ):
            button = QPushButton(text)
            button.setAutoDefault(False)
            button.clicked.connect(action)
            buttons.addWidget(button)
        kind = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(kind.Ok | kind.Cancel)
        box.accepted.connect(self._take_over)
        box.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(hint)
        column.addWidget(self.list, 1)
        column.addLayout(buttons)
        column.addWidget(box)
        self._fill(layout.order, layout.hidden)
        self.resize(360, 520)

    def _fill(self, order: Sequence[str], hidden: Collection[str]) -> None:
        self.list.clear()
        for name in order:
            item = QListWidgetItem()
            item.setData(Qt.ItemDataRole.UserRole, name)
            flags = item.flags() & ~Qt.ItemFlag.ItemIsDropEnabled
            item.setFlags(flags | Qt.ItemFlag.ItemIsUserCheckable)
            seen = Qt.CheckState.Unchecked if name in hidden else Qt.CheckState.Checked
            item.setCheckState(seen)
            self.list.addItem(item)
            self._say_hidden(item)
        self.list.setCurrentRow(0)

    def _say_hidden(self, item: QListWidgetItem) -> None:
        """Say in words what the box says: it is hard to see in dark colours."""
        title = self._titles[str(item.data(Qt.ItemDataRole.UserRole))].replace("\n", " ")
        seen = item.checkState() is Qt.CheckState.Checked
        item.setText(title if seen else self.tr("{0}, hidden").format(title))

    def _move(self, by: int) -> None:
        row = self.list.currentRow()
        to = row + by
        if row >= 0 and 0 <= to < self.list.count():
            self.list.insertItem(to, self.list.takeItem(row))
            self.list.setCurrentRow(to)

    def _as_usual(self) -> None:
        self._layout.reset()
        self._fill(self._layout.order, self._layout.hidden)

    def _take_over(self) -> None:
        items = [self.list.item(row) for row in range(self.list.count())]
        names = [str(item.data(Qt.ItemDataRole.UserRole)) for item in items]
        hidden = {
            name
            for name, item in zip(names, items, strict=True)
            if item.checkState() is Qt.CheckState.Unchecked
        }
        self._layout.arrange(names, hidden)
        self.accept()
