"""What a person measured of a tube by hand, beside the sweep."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from curvelab.catalog.records import StoredTube
from curvelab.ingest.metadata import Key
from curvelab.sheets.wording import CAUTIONS
from curvelab.window.room import show_whole_example
from curvelab.workbench.lot_records import ByHand, by_hand_of

__all__ = ["HandTestDialog"]


class HandTestDialog(QDialog):
    """Asks for what was tested; empty fields were not, and say nothing."""

    entered = Signal(object)

    def __init__(self, tube: StoredTube, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Hand test of {0}").format(tube.identity.serial))
        caution = QLabel(CAUTIONS[0])
        caution.setWordWrap(True)
        self.section = QComboBox()
        self.section.addItem(self.tr("the whole tube"), None)
        for name in dict.fromkeys(result.section for result in tube.results if result.section):
            self.section.addItem(name, name)
        self.fields: dict[str, QLineEdit] = {}
        form = QFormLayout()
        form.addRow(self.tr("S&ection"), self.section)
        self.section.setAccessibleName(self.tr("Section"))
        for key, words, example in (
            (Key.SHORTS, self.tr("&Shorts"), self.tr("none, or between what")),
            (Key.LEAKAGE, self.tr("Heater-cathode &leakage"), self.tr("4 µA at 100 V")),
            (Key.HEATER_VOLTAGE, self.tr("Heater &volts"), self.tr("6.3 V")),
            (Key.HEATER_CURRENT, self.tr("Heater &current"), self.tr("600 mA")),
            (Key.WARM_UP, self.tr("&Warm-up before the test"), self.tr("5 min")),
            (Key.TAP_TEST, self.tr("&Tap test"), self.tr("quiet, or what was heard")),
            ("note", self.tr("&Note"), ""),
        ):
            field = self.fields[key] = QLineEdit()
            field.setPlaceholderText(example)
            show_whole_example(field)
            field.setAccessibleName(words.replace("&", ""))
            field.textChanged.connect(self._check)
            form.addRow(words, field)
        self.wrong = QLabel()
        self.wrong.setWordWrap(True)
        kind = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(kind.Ok | kind.Cancel)
        self.button = box.button(kind.Ok)
        box.accepted.connect(self._tell)
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(caution)
        layout.addLayout(form)
        layout.addWidget(self.wrong)
        layout.addWidget(box)
        self._check()
        self.fields[Key.SHORTS].setFocus()
        self.resize(max(520, self.sizeHint().width()), self.sizeHint().height())

    def _made(self) -> ByHand | str:
        values = {name: " ".join(field.text().split()) for name, field in self.fields.items()}
        note = values.pop("note") or None
        return by_hand_of(values, self.section.currentData(), note)

    def _check(self) -> None:
        """Say what is not understood; nothing is kept until it is."""
        made = self._made()
        self.button.setEnabled(isinstance(made, ByHand))
        self.wrong.setText("" if isinstance(made, ByHand) else made)

    def _tell(self) -> None:
        made = self._made()
        self.accept()
        if isinstance(made, ByHand):
            self.entered.emit(made)
