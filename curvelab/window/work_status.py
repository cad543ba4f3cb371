"""The status bar's part for work in the background: how far, and a way to stop it."""

from __future__ import annotations

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

from curvelab.window.tasks import TaskQueue

__all__ = ["WorkStatus"]

_LONGEST = 28  # letters of a name; the whole of it is in the tip


class WorkStatus(QWidget):
    """Shows the progress of a queue while it is busy."""

    def __init__(self, tasks: TaskQueue, cancel: QAction, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._what = QLabel()
        self._bar = QProgressBar()
        self._bar.setFixedWidth(160)
        self._bar.setAccessibleName(self.tr("Progress"))
        self._button = QPushButton(self.tr("Stop"))
        self._button.setToolTip(cancel.toolTip())
        self._button.clicked.connect(cancel.trigger)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for part in (self._what, self._bar, self._button):
            layout.addWidget(part)
        tasks.busy_changed.connect(self._begin_or_end)
        tasks.progressed.connect(self._show)
        cancel.triggered.connect(self._show_stopping)
        self.hide()

    def _begin_or_end(self, busy: bool) -> None:
        self._bar.setRange(0, 0)  # how much there is to do is not known yet
        self._what.setText(self.tr("Working…"))
        self._button.setEnabled(True)
        self.setVisible(busy)

    def _show(self, done: int, total: int, what: str) -> None:
        self._bar.setRange(0, total)
        self._bar.setValue(done)
        self._what.setText(what if len(what) <= _LONGEST else f"{what[: _LONGEST - 1]}…")
        self._what.setToolTip(what)

    def _show_stopping(self) -> None:
        self._what.setText(self.tr("Stopping…"))
        self._button.setEnabled(False)
