"""A person sets a verdict in place of the measured one: which, why, and who."""

from __future__ import annotations

from datetime import UTC, datetime

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict

__all__ = ["OverruleDialog"]


class OverruleDialog(QDialog):
    """Asks for verdict, reason and name; without both of these nothing is set.

    Parameters
    ----------
    tubes : str
        Whose verdict it is, in words.
    verdict : Verdict or None
        The one that holds now.
    person : str
        Who did so last.
    """

    overruled = Signal(object)

    def __init__(
        self, tubes: str, verdict: Verdict | None, person: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Set a verdict"))
        head = QLabel(
            self.tr(
                "The verdict of {0} as you see it. What the readings say is kept beside it, and "
                "a new test of the tube puts it out of force."
            ).format(tubes)
        )
        head.setWordWrap(True)
        self.verdict = QComboBox()
        meanings = {
            Verdict.ACCEPT: self.tr("fit for use all the same"),
            Verdict.HOLD: self.tr("not to be used or sold yet"),
            Verdict.REJECT: self.tr("not fit for use"),
        }
        for each in Verdict:
            self.verdict.addItem(f"{each.value}: {meanings[each]}", each)
        now = self.tr("it is {0} now; choose").format(verdict.value if verdict else "–")
        self.verdict.setPlaceholderText(now)
        self.verdict.setCurrentIndex(-1)  # a person chooses: no verdict is proposed
        self.reason = QPlainTextEdit()
        self.reason.setTabChangesFocus(True)
        self.reason.setFixedHeight(80)
        self.person = QLineEdit(person)
        form = QFormLayout()
        for words, part in (
            (self.tr("&Verdict"), self.verdict),
            (self.tr("&Reason, printed on the sheet"), self.reason),
            (self.tr("Your &name"), self.person),
        ):
            form.addRow(words, part)
            part.setAccessibleName(words.replace("&", ""))
        kind = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(kind.Ok | kind.Cancel)
        self.button = box.button(kind.Ok)
        box.accepted.connect(self._tell)
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(head)
        layout.addLayout(form)
        layout.addWidget(box)
        self.verdict.currentIndexChanged.connect(self._enable)
        self.reason.textChanged.connect(self._enable)
        self.person.textChanged.connect(self._enable)
        self._enable()
        self.verdict.setFocus()
        self.resize(520, self.sizeHint().height())

    def _enable(self) -> None:
        said = self.reason.toPlainText().strip() and self.person.text().strip()
        filled = bool(said) and self.verdict.currentIndex() >= 0
        self.button.setEnabled(filled)
        self.button.setToolTip("" if filled else self.tr("It needs verdict, reason and name"))

    def _tell(self) -> None:
        made = Overrule(
            made_at=datetime.now(UTC),
            verdict=Verdict(self.verdict.currentData()),
            reason=" ".join(self.reason.toPlainText().split()),
            person=" ".join(self.person.text().split()),
        )
        self.accept()
        self.overruled.emit(made)
