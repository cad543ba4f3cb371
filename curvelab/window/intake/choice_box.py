"""A box to choose from in which the first entry leaves the matter to the file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

from PySide6.QtCore import QObject, QSignalBlocker, Signal
from PySide6.QtWidgets import QComboBox, QWidget

__all__ = ["ChoiceBox"]

Value = TypeVar("Value")


class _Said(QObject):
    chosen = Signal(object)


class ChoiceBox(QComboBox, Generic[Value]):
    """Shows what was found, or what was chosen instead; ``said.chosen`` has the value or None."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.said = _Said(self)
        self._values: list[Value] = []
        self.setAccessibleName(name)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(12)
        self.activated.connect(self._say)

    def show_choices(
        self, found: str, choices: Sequence[tuple[str, Value]], chosen: Value | None
    ) -> None:
        """Show what the file says and what may be chosen, without a word to anybody."""
        with QSignalBlocker(self):
            self.clear()
            self._values = [value for _, value in choices]
            self.addItem(found)
            self.addItems([text for text, _ in choices])
            at = self._values.index(chosen) + 1 if chosen in self._values else 0
            self.setCurrentIndex(at)
        self.setToolTip(self.currentText())

    def pick(self, value: Value | None) -> None:
        """Choose as a person does."""
        at = 0 if value is None else self._values.index(value) + 1
        self.setCurrentIndex(at)
        self._say(at)

    def _say(self, at: int) -> None:
        self.said.chosen.emit(None if at == 0 else self._values[at - 1])
