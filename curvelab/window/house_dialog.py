"""What the house knows of a tube of the lot file, entered by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal, InvalidOperation

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

from curvelab.catalog.records import TubeIdentity

__all__ = ["HouseDialog"]


class HouseDialog(QDialog):
    """Asks for the fields of a tube that no bench can measure."""

    changed = Signal(object)

    def __init__(self, identity: TubeIdentity, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._identity = identity
        self.setWindowTitle(self.tr("What the house knows of {0}").format(identity.serial))
        self.fields: dict[str, QLineEdit] = {}
        form = QFormLayout()
        for name, words in (
            ("type_label", self.tr("&Type on the label")),
            ("maker_mark", self.tr("&Maker's mark on glass or base")),
            ("box", self.tr("&Box")),
            ("shelf", self.tr("&Shelf")),
            ("supplier", self.tr("S&upplier")),
            ("cost", self.tr("&Cost")),
            ("price", self.tr("&Price asked")),
            ("return_by", self.tr("Goes back by (&year-month-day)")),
            ("note", self.tr("&Note")),
        ):
            value = getattr(identity, name)
            field = self.fields[name] = QLineEdit("" if value is None else str(value))
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
        layout.addLayout(form)
        layout.addWidget(self.wrong)
        layout.addWidget(box)
        self.resize(480, self.sizeHint().height())

    def _check(self) -> None:
        """Say which field cannot be understood, and let nothing be kept until it can."""
        wrong = [words for words, made in self._made() if made is _WRONG]
        self.wrong.setText(self.tr("Not understood: {0}").format(", ".join(wrong)) if wrong else "")
        self.button.setEnabled(not wrong)

    def _made(self) -> list[tuple[str, object]]:
        return [(field.accessibleName(), self._value(name)) for name, field in self.fields.items()]

    def _value(self, name: str) -> object:
        text = " ".join(self.fields[name].text().split())
        if not text:
            return None
        return _READERS.get(name, str)(text)

    def _tell(self) -> None:
        values = {name: self._value(name) for name in self.fields}
        self.accept()
        self.changed.emit(replace(self._identity, **values))  # type: ignore[arg-type]


_WRONG = object()


def _amount(text: str) -> object:
    try:
        value = Decimal(text.replace(",", "."))
    except InvalidOperation:
        return _WRONG
    return value if value.is_finite() else _WRONG


def _day(text: str) -> object:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return _WRONG


_READERS: dict[str, Callable[[str], object]] = {
    "cost": _amount,
    "price": _amount,
    "return_by": _day,
}
