"""Tubes that came in by themselves: how many nobody has looked at, and the way to the newest."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QPushButton, QWidget

from curvelab.window.lot import Lot

__all__ = ["Arrivals", "ArrivalsButton"]


class Arrivals(QObject):
    """Leaves the tube that is looked at in its place when others come in.

    Attributes
    ----------
    at_once : bool
        Whether each is shown as it comes in, for a person whose hands are at the bench.

    Signals
    -------
    changed
        How many wait to be looked at.
    """

    changed = Signal()

    def __init__(self, lot: Lot, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.at_once = False
        self._lot = lot
        self._waiting: list[int] = []
        self._newest: int | None = None
        lot.arrived.connect(self._note)
        lot.lines_chosen.connect(self._look)
        lot.chosen_changed.connect(self._look)

    @property
    def count(self) -> int:
        """How many have come in that nobody has looked at."""
        return len(self._waiting)

    def go_to_newest(self) -> None:
        """Choose what came in last; the others are in the list above it."""
        if self._newest in {row.key for row in self._lot.rows}:
            self._waiting.clear()
            self._lot.choose_rows([self._newest])
            self.changed.emit()

    def _note(self, keys: tuple[int, ...]) -> None:
        self._newest = keys[-1]
        if self.at_once or self._lot.session.current is None:
            self.go_to_newest()
        else:
            self._waiting += keys
            self.changed.emit()

    def _look(self) -> None:
        """Take off what has been chosen, and what is no longer on the list."""
        here = {row.key for row in self._lot.rows} - {*self._lot.chosen_rows}
        waiting = [key for key in self._waiting if key in here]
        if waiting != self._waiting:
            self._waiting = waiting
            self.changed.emit()


class ArrivalsButton(QPushButton):
    """Says how many have come in, and goes to the newest."""

    def __init__(self, arrivals: Arrivals, newest: QAction, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._arrivals = arrivals
        self.setToolTip(newest.toolTip())
        self.clicked.connect(newest.trigger)
        newest.triggered.connect(arrivals.go_to_newest)
        arrivals.changed.connect(self._show)
        self.hide()

    def _show(self) -> None:
        count = self._arrivals.count
        text = self.tr("1 new tube") if count == 1 else self.tr("{0} new tubes").format(count)
        self.setText(text)
        self.setVisible(count > 0)
