"""Dividers between parts of a window that are moved with the mouse or with the keyboard."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QPalette
from PySide6.QtWidgets import QSplitter, QSplitterHandle

__all__ = ["DividedParts", "Divider"]

_STEP = 16  # [px] at a press of an arrow key


class Divider(QSplitterHandle):
    """Is reached by Tab, moved by the arrow keys, and shows that it has the keyboard."""

    def __init__(self, orientation: Qt.Orientation, parent: QSplitter) -> None:
        super().__init__(orientation, parent)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName(self.tr("Divider, moved by the arrow keys"))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Move a little along."""
        across = self.orientation() is Qt.Orientation.Horizontal
        back, on = (
            (Qt.Key.Key_Left, Qt.Key.Key_Right) if across else (Qt.Key.Key_Up, Qt.Key.Key_Down)
        )
        if event.key() in (back, on):
            here = self.x() if across else self.y()
            self.moveSplitter(here + (_STEP if event.key() == on else -_STEP))
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Stand out while it has the keyboard."""
        super().paintEvent(event)
        if self.hasFocus():
            QPainter(self).fillRect(self.rect(), self.palette().color(QPalette.ColorRole.Highlight))

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        """Show it at once."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        """Show it at once."""
        super().focusOutEvent(event)
        self.update()


class DividedParts(QSplitter):
    """Parts side by side, or one below the other, with such dividers between them."""

    def createHandle(self) -> QSplitterHandle:  # noqa: N802
        """Return the divider before a part."""
        return Divider(self.orientation(), self)
