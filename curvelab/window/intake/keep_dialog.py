"""Asks for the name under which a way of reading is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QWidget,
)

from curvelab.errors import CurvelabError
from curvelab.ingest.choices import ReadingChoices
from curvelab.sheets.text import plain
from curvelab.workbench.kept_benches import keep_choices, kept_benches

__all__ = ["KeepDialog"]


class KeepDialog(QDialog):
    """Keeps choices under a name; type and connection only if they are wanted.

    They are a tube's more than a bench's, so that nothing but a tick takes them along.
    """

    def __init__(
        self, choices: ReadingChoices, kept: Callable[[Path], None], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Keep this way of reading"))
        self.setModal(True)
        self._choices, self._kept = choices, kept
        self.name = QComboBox()
        self.name.setEditable(True)
        self.name.setAccessibleName(self.tr("Name of the bench"))
        self.name.addItems([plain(item.name) for item in kept_benches() if item.problem is None])
        self.name.setCurrentText(choices.name)
        self.identity = QCheckBox(self._identity_text())
        self.identity.setVisible(choices.type_name is not None or choices.connection is not None)
        self._said = QLabel(
            self.tr("A bench of this name keeps its limits of error; only its reading is replaced.")
        )
        self._said.setWordWrap(True)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        layout = QFormLayout(self)
        layout.addRow(self.tr("&Name of the bench"), self.name)
        layout.addRow(self.identity)
        layout.addRow(self._said)
        layout.addRow(buttons)

    def accept(self) -> None:
        """Keep them; a name that cannot be is told and can be changed."""
        choices = self._choices
        if not self.identity.isChecked():
            choices = replace(choices, type_name=None, connection=None)
        try:
            path = keep_choices(self.name.currentText(), choices)
        except CurvelabError as error:
            self._said.setText(plain(str(error)))
            return
        super().accept()
        self._kept(path)

    def _identity_text(self) -> str:
        words = [word for word in (self._choices.type_name, self._choices.connection) if word]
        return self.tr("&Also for files that name none: {0}").format(plain(", ".join(words)))
