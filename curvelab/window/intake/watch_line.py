"""The line for the watched folder: which, how many came and are new, what is being written."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from curvelab.sheets.text import plain
from curvelab.window.intake.arrivals import ArrivalsButton
from curvelab.window.intake.folder_watch import FolderWatch
from curvelab.workbench.watched_folder import Look

__all__ = ["WatchLine"]

_LONGEST = 40


class WatchLine(QWidget):
    """Says in words how the watch goes, and can end it."""

    def __init__(
        self, watch: FolderWatch, newcomers: ArrivalsButton, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._watch = watch
        self._taken = 0
        self.words = QLabel()
        self.button = QPushButton(self.tr("Stop watching"))
        self.button.clicked.connect(watch.stop)
        line = QHBoxLayout(self)
        line.setContentsMargins(8, 0, 8, 0)
        line.addWidget(self.words)
        line.addWidget(newcomers)
        line.addStretch(1)
        line.addWidget(self.button)
        watch.begun.connect(self._begin)
        watch.looked.connect(self._show)
        watch.ended.connect(self.hide)
        self.hide()

    def _begin(self, left_alone: int) -> None:
        self._taken = 0
        text = self.tr("Watching {0}; the {1} files that are there already are left alone")
        self.setToolTip(plain(text.format(self._watch.folder, left_alone)))
        self.show()

    def _show(self, look: Look) -> None:
        self._taken += len(look.arrived)
        folder = self._watch.folder
        name = plain("" if folder is None else folder.name or str(folder))
        short = name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"
        self.words.setText(self.tr("Watching {0}: {1}").format(short, self._state(look)))

    def _state(self, look: Look) -> str:
        if not look.there:
            return self.tr("the folder is not there")
        told = self.tr("{0} taken in").format(self._taken)
        if len(look.waiting) == 1:
            return told + ", " + self.tr("1 being written")
        if look.waiting:
            return told + ", " + self.tr("{0} being written").format(len(look.waiting))
        return told
