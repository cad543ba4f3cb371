"""What a paper is about: the chosen tubes or all, with grades or without, and its page."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from curvelab.drawing.export import PAGES, sheet_page_size
from curvelab.window.paper.about import About

__all__ = ["PaperDialog"]


class PaperDialog(QDialog):
    """Asks which tubes a paper is about, and on what page it is printed.

    Parameters
    ----------
    chosen : sequence of str
        Serials of the tubes that are chosen in the list.
    paged : bool
        Whether the paper has a page to choose.

    Signals
    -------
    settled : About
    """

    settled = Signal(object)

    def __init__(
        self, title: str, chosen: Sequence[str], *, paged: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._chosen = tuple(chosen)
        count = len(self._chosen)
        self.all = QRadioButton(self.tr("&All tubes of the lot file"))
        one = self.tr("The &chosen tube and its set: {0}").format("".join(self._chosen[:1]))
        many = self.tr("The {0} &chosen tubes and their sets").format(count)
        self.some = QRadioButton(one if count == 1 else many)
        self.some.setEnabled(count > 0)
        (self.some if count > 1 else self.all).setChecked(True)
        self.graded = QCheckBox(self.tr("With &grades: every sweep is judged again for them"))
        self.graded.setChecked(True)
        self.page = QComboBox()
        self.page.addItems(list(PAGES))
        usual = sheet_page_size().id()
        self.page.setCurrentIndex(list(PAGES.values()).index(usual))
        self.page.setAccessibleName(self.tr("Page"))
        kind = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(kind.Ok | kind.Cancel)
        self.button = box.button(kind.Ok)
        box.accepted.connect(self._tell)
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        for part in (self.all, self.some, self.graded):
            layout.addWidget(part)
        if paged:
            form = QFormLayout()
            form.addRow(self.tr("&Page"), self.page)
            layout.addLayout(form)
        layout.addWidget(box)
        self.resize(420, self.sizeHint().height())

    def _tell(self) -> None:
        made = About(
            serials=self._chosen if self.some.isChecked() else (),
            graded=self.graded.isChecked(),
            page=self.page.currentText(),
        )
        self.accept()
        self.settled.emit(made)
