"""Sheets before they are printed or saved: one at a time, as they will be on paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QRectF, QSize, QSizeF, Qt, Signal
from PySide6.QtGui import QColor, QKeySequence, QPainter, QPaintEvent, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from curvelab.drawing.export import sheet_page_size
from curvelab.drawing.palette import PAPER
from curvelab.drawing.sheet import paint_sheet
from curvelab.sheets.document import SheetDocument
from curvelab.window.room import open_as_large
from curvelab.window.saving_kinds import SheetKind
from curvelab.workbench.session import Entry

__all__ = ["SheetPreview"]

_EDGE = 12
_ZOOM_STEP = 1.25
_ZOOM_RANGE = (0.25, 4.0)
_SIZE = (760, 860)


class _Page(QWidget):
    """One sheet of paper, painted by the same function as the file."""

    def __init__(self) -> None:
        super().__init__()
        self._document: SheetDocument | None = None

    def show_document(self, document: SheetDocument) -> None:
        self._document = document
        self.setAccessibleName(document.title)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(PAPER))
        if self._document is not None:
            paint_sheet(painter, QRectF(self.rect()), self._document)
        painter.end()


class SheetPreview(QDialog):
    """Turns over the sheets of some tubes; each is made when it is first looked at.

    Signals
    -------
    save_wanted : SheetKind
        Save all of them.
    print_wanted
        Print all of them.
    """

    save_wanted = Signal(object)
    print_wanted = Signal()

    def __init__(
        self,
        entries: Sequence[Entry],
        document_of: Callable[[Entry], SheetDocument],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Sheets"))
        self._entries, self._document_of = tuple(entries), document_of
        self._zoom = 1.0  # of what shows the whole page
        self.page = _Page()
        self._room = QScrollArea()
        self._room.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._room.setWidget(self.page)
        self._room.setAccessibleName(self.tr("The sheet"))
        self.number = QSpinBox()
        self.number.setAccessibleName(self.tr("Number of the sheet"))
        self.number.setRange(1, len(self._entries))
        self.number.valueChanged.connect(self._show)
        self.kind = QComboBox()
        self.kind.setAccessibleName(self.tr("Kind of file"))
        self._lay_out()
        open_as_large(self, *_SIZE)
        self._show(1)
        self._room.setFocus(Qt.FocusReason.OtherFocusReason)

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        self._previous = self._button(self.tr("Previous"), "PgUp", lambda: self._turn(-1))
        self._next = self._button(self.tr("Next"), "PgDown", lambda: self._turn(1))
        of = QLabel(self.tr("of {0}").format(len(self._entries)))
        for part in (self._previous, self.number, of, self._next):
            top.addWidget(part)
        top.addStretch(1)
        top.addWidget(
            self._button(self.tr("Smaller"), "Ctrl+-", lambda: self._scale(1 / _ZOOM_STEP))
        )
        top.addWidget(self._button(self.tr("Larger"), "Ctrl++", lambda: self._scale(_ZOOM_STEP)))
        top.addWidget(self._button(self.tr("Whole page"), "Ctrl+0", lambda: self._scale(0.0)))
        save = QPushButton(self.tr("&Save…"))
        save.clicked.connect(lambda: self.save_wanted.emit(self.kind.currentData()))
        print_button = QPushButton(self.tr("P&rint…"))
        print_button.clicked.connect(self.print_wanted)
        close = QPushButton(self.tr("Close"))
        close.clicked.connect(self.reject)
        label = QLabel(self.tr("Save as"))
        label.setBuddy(self.kind)
        for text, kind in self._kinds():
            self.kind.addItem(text, kind)
        bottom = QHBoxLayout()
        bottom.addWidget(label)
        bottom.addWidget(self.kind)
        bottom.addStretch(1)
        for button in (save, print_button, close):
            button.setAutoDefault(False)
            bottom.addWidget(button)
        layout = QVBoxLayout(self)
        layout.addLayout(top)
        layout.addWidget(self._room, 1)
        layout.addLayout(bottom)

    def _kinds(self) -> list[tuple[str, SheetKind]]:
        if len(self._entries) == 1:
            return [("PDF", SheetKind.PDF), ("PNG", SheetKind.PNG), ("SVG", SheetKind.SVG)]
        return [
            (self.tr("PDF, a file each"), SheetKind.PDF),
            (self.tr("PDF, one file"), SheetKind.ONE_PDF),
            (self.tr("PNG, a file each"), SheetKind.PNG),
            (self.tr("SVG, a file each"), SheetKind.SVG),
        ]

    def _button(self, text: str, keys: str, intent: Callable[[], None]) -> QPushButton:
        button = QPushButton(text)
        button.setAutoDefault(False)
        button.setToolTip(f"{text} ({keys})")
        button.clicked.connect(intent)
        QShortcut(QKeySequence(keys), self).activated.connect(button.click)
        return button

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fit the page to the room."""
        super().resizeEvent(event)
        self._fit()

    def _turn(self, by: int) -> None:
        self.number.setValue(self.number.value() + by)

    def _show(self, number: int) -> None:
        self.page.show_document(self._document_of(self._entries[number - 1]))
        self._previous.setEnabled(number > 1)
        self._next.setEnabled(number < len(self._entries))

    def _scale(self, factor: float) -> None:
        low, high = _ZOOM_RANGE
        self._zoom = min(max(self._zoom * factor, low), high) if factor else 1.0
        self._fit()

    def _fit(self) -> None:
        paper = QSizeF(sheet_page_size().sizePoints())
        room = self._room.viewport().size() - QSize(_EDGE, _EDGE)
        whole = min(room.width() / paper.width(), room.height() / paper.height())
        scale = max(whole, 0.1) * self._zoom
        self.page.resize(round(paper.width() * scale), round(paper.height() * scale))
