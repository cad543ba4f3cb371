"""The figures of a tube that is not here: from its sheet, a label or a customer's letter."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from curvelab.matching.records import Measured
from curvelab.quantities import MILLIAMPERE, MILLIAMPERE_PER_VOLT, Unit
from curvelab.window.library_names import library_names
from curvelab.workbench.lot_matching import GivenFigures

__all__ = ["FiguresDialog"]


class FiguresDialog(QDialog):
    """Asks for type, point and at least one figure; an empty uncertainty is not known."""

    given = Signal(object)

    def __init__(self, type_name: str | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Mate for figures"))
        head = QLabel(
            self.tr(
                "The figures of the tube that wants a mate. The stock is compared with them at "
                "their own point, every section of a dual tube by itself."
            )
        )
        head.setWordWrap(True)
        self.type = QComboBox()
        self.type.addItems(library_names())
        self.type.setCurrentIndex(max(self.type.findText(type_name or ""), 0))
        self.plate_volts = self._spin((0.0, 5000.0), " V", self.tr("Plate voltage"), 250.0)
        self.grid_volts = self._spin((-1000.0, 100.0), " V", self.tr("Grid voltage"), -8.0)
        self.current = self._figure(" mA", self.tr("Plate current"))
        self.current_u95 = self._figure(" mA", self.tr("Uncertainty of the plate current"))
        self.slope = self._figure(" mA/V", self.tr("Transconductance"))
        self.slope_u95 = self._figure(" mA/V", self.tr("Uncertainty of the transconductance"))
        form = QFormLayout()
        form.addRow(self.tr("&Type"), self.type)
        self.type.setAccessibleName(self.tr("Type"))
        form.addRow(self.tr("&Plate voltage"), self.plate_volts)
        form.addRow(self.tr("&Grid voltage"), self.grid_volts)
        for words, value, u95 in (
            (self.tr("Plate &current"), self.current, self.current_u95),
            (self.tr("Tran&sconductance"), self.slope, self.slope_u95),
        ):
            line = QHBoxLayout()
            line.addWidget(value, 1)
            line.addWidget(QLabel("±"))
            line.addWidget(u95, 1)
            label = QLabel(words)
            label.setBuddy(value)
            form.addRow(label, line)
        kind = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(kind.Ok | kind.Cancel)
        self.button = box.button(kind.Ok)
        box.accepted.connect(self._tell)
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(head)
        layout.addLayout(form)
        layout.addWidget(box)
        self._enable()
        self.current.setFocus()
        self.resize(460, self.sizeHint().height())

    def _spin(
        self, bounds: tuple[float, float], unit: str, name: str, value: float
    ) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(*bounds)
        box.setDecimals(2)
        box.setSuffix(unit)
        box.setValue(value)
        box.setAccessibleName(name)
        return box

    def _figure(self, unit: str, name: str) -> QDoubleSpinBox:
        box = self._spin((0.0, 10_000.0), unit, name, 0.0)
        box.setDecimals(3)
        box.setSpecialValueText(self.tr("not known"))
        box.valueChanged.connect(self._enable)
        return box

    def _enable(self) -> None:
        if hasattr(self, "button"):
            self.button.setEnabled(self.current.value() > 0 or self.slope.value() > 0)

    def _tell(self) -> None:
        made = GivenFigures(
            self.type.currentText(),
            (self.plate_volts.value(), self.grid_volts.value()),
            _measured(self.current, self.current_u95, MILLIAMPERE),
            _measured(self.slope, self.slope_u95, MILLIAMPERE_PER_VOLT),
        )
        self.accept()
        self.given.emit(made)


def _measured(value: QDoubleSpinBox, u95: QDoubleSpinBox, unit: Unit) -> Measured | None:
    if value.value() <= 0:
        return None
    known = unit.to_si(u95.value()) if u95.value() > 0 else None
    return Measured(unit.to_si(value.value()), known)
