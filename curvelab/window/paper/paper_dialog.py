"""What a paper is about: the chosen tubes or all, with grades or without, and its page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Signal, SignalInstance
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from curvelab.drawing.export import PAGES, sheet_page_size
from curvelab.sheets.text import plain
from curvelab.window.paper.about import ALL, About

__all__ = ["PaperDialog"]


class PaperDialog(QDialog):
    """Asks which tubes a paper is about, and on what page it is printed.

    Parameters
    ----------
    chosen : sequence of str
        Serials of the tubes that are chosen in the list.
    about : About
        Sets that it is about, where those are settled already.
    paged : bool
        Whether the paper has a page to choose, and can be printed at once.

    Signals
    -------
    settled : About
        To be written to a file, or for those without a page, to be gone on with.
    print_wanted : About
    """

    settled = Signal(object)
    print_wanted = Signal(object)

    def __init__(
        self,
        title: str,
        chosen: Sequence[str],
        about: About = ALL,
        *,
        paged: bool,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._about = about
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
        box = QDialogButtonBox()  # its buttons in the order of Tab
        self.button = box.addButton(
            self.tr("&Save…") if paged else self.tr("Go &on"),
            QDialogButtonBox.ButtonRole.AcceptRole,
        )
        self.button.setDefault(True)
        self.print_button = box.addButton(
            self.tr("P&rint…"), QDialogButtonBox.ButtonRole.ActionRole
        )
        self.print_button.setVisible(paged)
        box.addButton(QDialogButtonBox.StandardButton.Cancel)
        self.button.clicked.connect(lambda: self._tell(self.settled))
        self.print_button.clicked.connect(lambda: self._tell(self.print_wanted))
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        if about.settled:
            found = ("+".join((*one.tubes, *one.spare)) for one in about.proposed)
            named = QLabel(", ".join(map(plain, (*about.sets, *found))))
            named.setWordWrap(True)
            layout.addWidget(named)
        for part in (self.all, self.some):
            part.setVisible(not about.settled)
            layout.addWidget(part)
        layout.addWidget(self.graded)
        if paged:
            form = QFormLayout()
            form.addRow(self.tr("&Page"), self.page)
            layout.addLayout(form)
        layout.addWidget(box)
        self.resize(420, self.sizeHint().height())

    def _tell(self, wanted: SignalInstance) -> None:
        made = replace(
            self._about,
            serials=self._chosen if self.some.isChecked() and not self._about.settled else (),
            graded=self.graded.isChecked(),
            page=self.page.currentText(),
        )
        self.accept()
        wanted.emit(made)
