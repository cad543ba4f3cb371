"""What is to be seen before there are tubes: what to do, and what to beware of."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from curvelab.sheets.wording import CAUTIONS
from curvelab.window.theme import Theme

__all__ = ["StartPage"]

_LEAST_WIDTH, _LINE_LENGTH = 720, 90  # [px], letters


class StartPage(QWidget):
    """Says which way a person wants to begin."""

    files_wanted = Signal()
    folder_wanted = Signal()
    samples_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._title = QLabel(self.tr("Drop sweep files or a folder here"))
        self._title.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self._lot = self._paragraph("")
        self._lot.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self._lot.hide()
        self._title.setWordWrap(True)
        self._what = self._paragraph(
            self.tr(
                "Each CSV file of your bench becomes a tube of the list, with its constants, "
                "what is wrong with it, and its curves over the handbook's. Any column order, "
                "unit and separator will do; nothing in your files is changed."
            )
        )
        self._cautions = self._paragraph("\n".join(f"•  {text}" for text in CAUTIONS))
        self._lay_out()
        theme.when_changed(self._paint_theme)

    def show_lot(self, name: str) -> None:
        """Say which lot file is open, without any tubes yet; none by an empty name."""
        text = self.tr("{0} is open and empty; what you open goes into it.").format(name)
        self._lot.setText(text)
        self._lot.setVisible(bool(name))

    def _paragraph(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setWordWrap(True)
        return label

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        for text, intent in (
            (self.tr("&Open files…"), self.files_wanted),
            (self.tr("Open a &folder…"), self.folder_wanted),
            (self.tr("Look at the &sample lot"), self.samples_wanted),
        ):
            button = QPushButton(text)
            button.setMinimumHeight(40)
            button.clicked.connect(intent)
            buttons.addWidget(button)
        buttons.addStretch(1)
        self._column = QWidget()
        layout = QVBoxLayout(self._column)
        layout.setSpacing(24)
        layout.addStretch(2)
        layout.addWidget(self._title)
        layout.addWidget(self._lot)
        layout.addWidget(self._what)
        layout.addLayout(buttons)
        layout.addStretch(1)
        layout.addWidget(self._cautions)
        layout.addStretch(1)
        middle = QHBoxLayout(self)
        middle.addStretch(1)
        middle.addWidget(self._column, 100)
        middle.addStretch(1)

    def _paint_theme(self) -> None:
        self._title.setFont(self._theme.font(10))
        self._lot.setFont(self._theme.font(2, bold=True))
        letter = QFontMetrics(self._theme.font()).averageCharWidth()
        self._column.setMaximumWidth(max(_LEAST_WIDTH, _LINE_LENGTH * letter))
        colours = self._theme.colours
        self._cautions.setStyleSheet(
            f"border-left: 4px solid {colours.weight['caution']}; padding: 6px 10px; "
            f"background: {colours.raised}; color: {colours.text}"
        )
