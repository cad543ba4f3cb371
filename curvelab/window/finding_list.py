"""The findings of a tube in words; choosing one points out its readings on the curves."""

from __future__ import annotations

import html

from PySide6.QtCore import (
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QPainter, QPalette, QStandardItem, QStandardItemModel, QTextDocument
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from curvelab.sheets.document import FindingLine
from curvelab.window.plots.markers import shape_icon
from curvelab.window.theme import Theme

__all__ = ["FindingList"]

_LINE = Qt.ItemDataRole.UserRole
_INDENT, _PAD = 26, 5
AnyIndex = QModelIndex | QPersistentModelIndex


class FindingList(QListView):
    """Shows findings, the worst first; says which one a person picks."""

    picked = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._lines: tuple[FindingLine, ...] = ()
        self._items = QStandardItemModel(self)
        self.setModel(self._items)
        self._painter = _FindingPainter(theme, self)
        self.setItemDelegate(self._painter)
        self.setAccessibleName(self.tr("Findings; Enter shows the readings of one, F1 explains it"))
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.clicked.connect(self._toggle)
        self.activated.connect(self._pick)
        self.selectionModel().currentChanged.connect(self._follow_keys)
        theme.changed.connect(self._fill)

    def show_findings(self, lines: tuple[FindingLine, ...]) -> None:
        """Show other findings."""
        self._lines = lines
        self._fill()

    def show_pointed_out(self, finding: int | None) -> None:
        """Mark the finding whose readings are pointed out."""
        rows = [row for row, line in enumerate(self._lines) if line.position == finding]
        if not rows:
            self.clearSelection()
            return
        index = self._items.index(rows[0], 0)
        if index not in self.selectedIndexes():
            self.setCurrentIndex(index)

    @property
    def explained(self) -> str:
        """The code of the finding that the keyboard is on, empty where it is elsewhere."""
        line = self._line_at(self.currentIndex()) if self.hasFocus() else None
        return line.code if line else ""

    def _fill(self) -> None:
        self._painter.forget()
        self._items.clear()
        if not self._lines:
            item = QStandardItem(self.tr("Nothing found that speaks against it."))
            item.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self._items.appendRow(item)
            return
        for line in self._lines:
            words = f"{line.severity.value}, {line.code}: {line.sentence} {line.figure}"
            item = QStandardItem(words)
            item.setData(line, _LINE)
            item.setData(words, Qt.ItemDataRole.AccessibleTextRole)
            where = self.tr("Its readings are marked on the curves; F1 explains it")
            item.setToolTip(
                where if line.shape else self.tr("No single reading shows it; F1 explains it")
            )
            self._items.appendRow(item)

    def _line_at(self, index: AnyIndex) -> FindingLine | None:
        found = index.data(_LINE)
        return found if isinstance(found, FindingLine) else None

    def _toggle(self, index: QModelIndex) -> None:
        self._pick(index)

    def _pick(self, index: QModelIndex) -> None:
        line = self._line_at(index)
        if line is not None:
            self.picked.emit(line.position)

    def _follow_keys(self, current: QModelIndex, _: QModelIndex) -> None:
        if self.hasFocus():
            self._pick(current)


class _FindingPainter(QStyledItemDelegate):
    """Paints a finding as a few wrapped lines behind the marker it has on the curves."""

    def __init__(self, theme: Theme, view: QListView) -> None:
        super().__init__(view)
        self._theme, self._view = theme, view
        self._documents: dict[tuple[str, int], QTextDocument] = {}

    def forget(self) -> None:
        """Lay the texts out anew: they, their font or their colours have changed."""
        self._documents.clear()

    def sizeHint(self, option: QStyleOptionViewItem, index: AnyIndex) -> QSize:  # noqa: N802
        """Return the room the wrapped text needs at the width of the list."""
        height = self._document(index).size().height()
        return QSize(self._view.viewport().width() - 2, int(height) + 2 * _PAD)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: AnyIndex) -> None:
        """Paint marker and text."""
        colours = self._theme.colours
        line = index.data(_LINE)
        rect = QRectF(option.rect)
        painter.save()
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(rect, self._view.palette().color(QPalette.ColorRole.Button))
            painter.fillRect(
                QRectF(rect.left(), rect.top(), 3, rect.height()),
                self._view.palette().color(QPalette.ColorRole.Highlight),
            )
        if isinstance(line, FindingLine) and line.shape is not None:
            icon = shape_icon(line.shape, colours.of_severity(line.severity))
            icon.paint(painter, int(rect.left()) + 6, int(rect.top()) + _PAD + 1, 18, 18)
        painter.translate(rect.topLeft() + QPointF(_INDENT, _PAD))
        self._document(index).drawContents(painter)
        painter.restore()

    def _document(self, index: AnyIndex) -> QTextDocument:
        """Return the laid-out text, kept: it is measured before it is painted."""
        width = self._view.viewport().width() - 2
        key = (str(index.data()), width)
        if key in self._documents:
            return self._documents[key]
        document = self._documents[key] = QTextDocument()
        document.setDocumentMargin(0)
        document.setDefaultFont(self._theme.font())
        document.setTextWidth(max(width - _INDENT - 6, 60))
        document.setHtml(self._html(index))
        return document

    def _html(self, index: AnyIndex) -> str:
        line, colours = index.data(_LINE), self._theme.colours
        if not isinstance(line, FindingLine):
            text = html.escape(str(index.data()))
            return f'<span style="color:{colours.text}">{text}</span>'
        ink, quiet = colours.of_severity(line.severity), colours.quiet_text
        figure = html.escape(line.figure)
        return (
            f'<span style="color:{ink}"><b>{line.severity.value.upper()}</b></span> '
            f'<span style="color:{colours.text}"><b>{html.escape(line.code)}</b><br>'
            f"{html.escape(line.sentence)}</span>"
            + (f'<br><span style="color:{quiet}">{figure}</span>' if figure else "")
        )
