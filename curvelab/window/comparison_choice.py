"""The choice of the type a tube is judged as, and of the family it is compared with."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QSizePolicy, QWidget

from curvelab.assessment.records import Assessment
from curvelab.window.library_names import library_names
from curvelab.workbench.session import Wish

__all__ = ["ComparisonChoice"]

_AROUND = 52  # a box around its text, and the gaps beside it


class ComparisonChoice(QWidget):
    """Two lists of the library's types; says what a person wishes."""

    wished = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.judged_as, self.compared_with = QComboBox(), QComboBox()
        self._names: tuple[str, ...] | None = None
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setVerticalSpacing(2)
        self._pairs: list[tuple[QLabel, QComboBox]] = []
        for text, box, tip in (
            (
                self.tr("&Judge as"),
                self.judged_as,
                self.tr("Type whose ratings and limits count, in place of the file's"),
            ),
            (
                self.tr("&Compare with"),
                self.compared_with,
                self.tr("Family under the curves; another type's is named as a stand-in"),
            ),
        ):
            label = QLabel(text)
            label.setBuddy(box)
            box.setToolTip(tip)
            box.setAccessibleName(text.replace("&", ""))
            box.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            box.activated.connect(self._tell)
            self._pairs.append((label, box))
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Put the boxes beside each other where what they show has room so."""
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        needed = sum(
            label.sizeHint().width() + box.fontMetrics().horizontalAdvance(box.currentText())
            for label, box in self._pairs
        )
        beside = self.width() >= needed + len(self._pairs) * _AROUND
        for at, (label, box) in enumerate(self._pairs):
            row, column = (0, 2 * at) if beside else (at, 0)
            self._grid.addWidget(label, row, column)
            self._grid.addWidget(box, row, column + 1)
            self._grid.setColumnStretch(column + 1, 1)
        self._grid.setColumnStretch(3, 1 if beside else 0)

    def show_wish(self, wish: Wish, assessment: Assessment) -> None:
        """Show what was asked for the tube looked at."""
        self._fill()
        label = assessment.sweep.type_label
        own = assessment.tube_type.name if assessment.tube_type else None
        with QSignalBlocker(self.judged_as), QSignalBlocker(self.compared_with):
            named = self.tr("label: {0}").format(label)
            self.judged_as.setItemText(0, named if label else self.tr("not known"))
            own_text = self.tr("own: {0}").format(own)
            self.compared_with.setItemText(0, own_text if own else self.tr("own family"))
            for box, name in (
                (self.judged_as, wish.judged_as),
                (self.compared_with, wish.compared_with),
            ):
                box.setCurrentIndex(max(box.findData(name), 0) if name else 0)
        self._arrange()

    def _fill(self) -> None:
        """Read the names of the library when a tube is shown: types of one's own come and go."""
        names = library_names()
        if names == self._names:
            return
        self._names = names
        for box in (self.judged_as, self.compared_with):
            box.clear()
            box.addItem("", None)
            for name in names:
                box.addItem(name, name)

    def _tell(self) -> None:
        self.wished.emit(Wish(self.judged_as.currentData(), self.compared_with.currentData()))
