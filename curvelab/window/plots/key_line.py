"""A line of samples with their words, over a plot."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QWidget

__all__ = ["KeyEntry", "KeyLine"]

KeyEntry = tuple[QIcon, str]


class KeyLine(QWidget):
    """Shows what the lines of a plot stand for; takes no room while it is empty."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._entries: tuple[KeyEntry, ...] = ()
        self._line = QHBoxLayout(self)
        self._line.setContentsMargins(8, 1, 8, 1)
        self._line.setSpacing(5)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.setVisible(False)

    def words(self) -> tuple[str, ...]:
        """Return the words of the entries."""
        return tuple(words for _, words in self._entries)

    def show_entries(self, entries: Sequence[KeyEntry]) -> None:
        """Show other entries."""
        if tuple(entries) == self._entries:
            return
        self._entries = tuple(entries)
        while (item := self._line.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.setParent(None)  # out of sight at once
                widget.deleteLater()
        for icon, words in self._entries:
            sample = QLabel()
            size = icon.actualSize(QSize(30, 16))
            sample.setPixmap(icon.pixmap(size, self.devicePixelRatioF()))
            text = QLabel(words)
            text.setToolTip(words)
            text.setTextFormat(Qt.TextFormat.PlainText)
            self._line.addWidget(sample)
            self._line.addWidget(text)
            self._line.addSpacing(8)
        self._line.addStretch(1)
        self.setVisible(bool(self._entries))
