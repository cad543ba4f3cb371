"""A line above the window's parts that tells something and offers what can be done about it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from curvelab.window.theme import Theme

__all__ = ["NoticeBar"]


class NoticeBar(QWidget):
    """Hidden until there is something to tell; blocks nothing."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.buttons: list[QPushButton] = []
        self._line = QHBoxLayout(self)
        self._line.setContentsMargins(10, 6, 10, 6)
        self._line.addWidget(self.words, 1)
        self.setAutoFillBackground(True)
        self.hide()
        theme.when_changed(self._paint_theme)

    def tell(self, words: str, *ways: tuple[str, Callable[[], object]]) -> None:
        """Show some words and a button for each way; every way hides the line again."""
        for button in self.buttons:
            button.deleteLater()
        self.buttons = []
        self.words.setText(words)
        for text, way in ways:
            button = QPushButton(text)
            button.clicked.connect(self.hide)
            button.clicked.connect(lambda _=False, way=way: way())
            self._line.addWidget(button)
            self.buttons.append(button)
        self.show()

    def _paint_theme(self) -> None:
        colours = self._theme.colours
        self.words.setStyleSheet(f"color: {colours.text}; font-weight: bold")
        palette = self.palette()
        palette.setColor(self.backgroundRole(), colours.raised)
        self.setPalette(palette)
