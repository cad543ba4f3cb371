"""One line of large figures: what the cursor points at."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from curvelab.quantities import (
    GRID_VOLTAGE,
    PLATE_CURRENT,
    PLATE_VOLTAGE,
    Quantity,
    format_number,
)
from curvelab.sheets.tables import ConstantQuantities
from curvelab.window.theme import Theme
from curvelab.workbench.readout import Readout

__all__ = ["ReadoutLine"]

_NONE = "–"
_DIGITS = 4


@dataclass(frozen=True, slots=True)
class _Figure:
    heading: QLabel
    value: QLabel


class ReadoutLine(QWidget):
    """Shows a readout; a place for each figure, so that nothing jumps as the cursor moves."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._quantities: dict[str, Quantity] = {}
        self._figures = {
            name: _Figure(QLabel(), QLabel(_NONE))
            for name in (
                "plate_voltage", "grid_voltage", "plate_current",
                "amplification_factor", "transconductance", "plate_resistance",
            )
        }  # fmt: skip
        self._state = QLabel()
        self._state.setWordWrap(True)
        self._state.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._state.setMinimumWidth(60)
        self._lay_out()
        theme.when_changed(self._paint_theme)

    def show_units(self, quantities: ConstantQuantities) -> None:
        """Write the headings with the units asked for."""
        self._quantities = {
            "plate_voltage": PLATE_VOLTAGE,
            "grid_voltage": GRID_VOLTAGE,
            "plate_current": PLATE_CURRENT,
            **dict(quantities),
        }
        for name, figure in self._figures.items():
            quantity = self._quantities[name]
            unit = f" ({quantity.unit.symbol})" if quantity.unit.symbol else ""
            figure.heading.setText(quantity.symbol + unit)
            figure.heading.setToolTip(quantity.name)

    def show_nothing(self, hint: str = "") -> None:
        """Empty the figures; ``hint`` says what to do."""
        for figure in self._figures.values():
            figure.value.setText(_NONE)
        self._state.setText(hint)

    def show_readout(self, readout: Readout, words: str = "") -> None:
        """Show what a family says at the cursor, with words of the view before its state."""
        for name, figure in self._figures.items():
            value: float | None = getattr(readout, name)
            figure.value.setText(self._written(name, value))
        state = self._state_text(readout)
        self._state.setText(f"{words}, {state}" if words else state)

    def show_log(self, words: str, plate_current: float) -> None:
        """Show a point of a drift log: its words, and the current [mA] in large figures."""
        self.show_nothing(words)
        self._figures["plate_current"].value.setText(format_number(plate_current, _DIGITS))

    def text(self) -> str:
        """Return the line in words."""
        parts = [f"{f.heading.text()} {f.value.text()}" for f in self._figures.values()]
        return ", ".join([*parts, self._state.text()])

    def _written(self, name: str, value: float | None) -> str:
        if value is None:
            return _NONE
        shown = self._quantities[name].unit.from_si(value)
        if name.endswith("voltage"):
            return f"{shown:.1f}" if name == "plate_voltage" else f"{shown:.2f}"
        return format_number(shown, _DIGITS) if shown else "0"

    def _state_text(self, readout: Readout) -> str:
        if readout.grid_voltage is None:
            return self.tr("outside the readings: no grid voltage near gives this current")
        covered = self.tr("inside the readings")
        outside = self.tr("outside the readings: extrapolated")
        if readout.of_reference:
            covered, outside = self.tr("reference family"), self.tr("reference, extrapolated")
        return covered if readout.covered else outside

    def _lay_out(self) -> None:
        line = QHBoxLayout(self)
        line.setContentsMargins(8, 2, 8, 2)
        line.setSpacing(8)
        for figure in self._figures.values():
            column = QVBoxLayout()
            column.setSpacing(0)
            column.addWidget(figure.heading)
            column.addWidget(figure.value)
            figure.value.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            line.addLayout(column)
        line.addWidget(self._state, 1)

    def _paint_theme(self) -> None:
        quiet = f"color: {self._theme.colours.quiet_text}"
        for figure in self._figures.values():
            figure.heading.setStyleSheet(quiet)
            figure.value.setFont(self._theme.font(3, bold=True))
            figure.value.setMinimumWidth(figure.value.fontMetrics().horizontalAdvance("1250.0"))
        self._state.setStyleSheet(quiet)
