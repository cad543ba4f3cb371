"""Who decides: a name that is kept, with a note where one is wanted."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

__all__ = ["DecisionDialog"]


class DecisionDialog(QDialog):
    """Says what is decided and asks by whom.

    Signals
    -------
    decided : str, str
        The person's name, and the note.
    """

    decided = Signal(str, str)

    def __init__(
        self,
        title: str,
        words: str,
        person: str,
        *,
        noted: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        head = QLabel(words)
        head.setWordWrap(True)
        self.person, self.note = QLineEdit(person), QLineEdit()
        self._noted = noted
        form = QFormLayout()
        form.addRow(self.tr("Your &name"), self.person)
        self.person.setAccessibleName(self.tr("Your name"))
        if noted:
            form.addRow(self.tr("&Reason"), self.note)
            self.note.setAccessibleName(self.tr("Reason"))
        kind = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(kind.Ok | kind.Cancel)
        self.button = box.button(kind.Ok)
        self.button.setText(title)
        box.accepted.connect(self._tell)
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(head)
        layout.addLayout(form)
        layout.addWidget(box)
        for field in (self.person, self.note):
            field.textChanged.connect(self._enable)
        self._enable()
        self.resize(520, self.sizeHint().height())

    def _enable(self) -> None:
        said = bool(self.person.text().strip())
        self.button.setEnabled(said and (not self._noted or bool(self.note.text().strip())))

    def _tell(self) -> None:
        person, note = (" ".join(field.text().split()) for field in (self.person, self.note))
        self.accept()
        self.decided.emit(person, note)
