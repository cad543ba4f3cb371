"""How a file as a whole is read: encoding, decimal mark, signs, type, connection."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QWidget

from curvelab.ingest.choices import (
    CONNECTIONS,
    GridCurrentSign,
    GridVoltsSign,
    ReadingChoices,
)
from curvelab.ingest.decode import ENCODINGS
from curvelab.ingest.metadata import Key, value_of
from curvelab.sheets.text import plain
from curvelab.sweep.records import RemarkCode, Sweep
from curvelab.window.intake.choice_box import ChoiceBox
from curvelab.window.library_names import library_names
from curvelab.workbench.import_preview import FilePreview

__all__ = ["FileForm"]

_ACROSS = 2


class FileForm(QWidget):
    """Boxes for what holds for the whole file; ``changed`` has the choices as they now are."""

    changed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._choices = ReadingChoices()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self.encoding = self._box(self.tr("Encoding"), "encoding")
        self.decimal = self._box(self.tr("Decimal mark"), "decimal")
        self.grid_volts = self._box(self.tr("Grid volts"), "grid_volts")
        self.grid_current = self._box(self.tr("Grid current"), "grid_current")
        self.type = self._box(self.tr("Type"), "type_name")
        self.connection = self._box(self.tr("Connection"), "connection")
        self._types: tuple[str, ...] | None = None
        for column in (1, 3):
            self._grid.setColumnStretch(column, 1)

    def _box(self, name: str, field: str) -> ChoiceBox[Any]:
        label, box = QLabel(name), ChoiceBox[Any](name)
        label.setBuddy(box)
        place = self._grid.count() // 2
        row, column = divmod(place, _ACROSS)
        self._grid.addWidget(label, row, 2 * column)
        self._grid.addWidget(box, row, 2 * column + 1)
        box.said.chosen.connect(self._changer(field))
        return box

    def _changer(self, field: str) -> Callable[[object], None]:
        return lambda value: self.changed.emit(self._choices.corrected(**{field: value}))

    def show_preview(self, seen: FilePreview) -> None:
        """Show how a file was read."""
        choices = self._choices = seen.choices
        layout = seen.layout
        sweeps = () if seen.reading is None else seen.reading.sweeps
        as_found = self.tr("as found")
        encoding = "" if layout is None else layout.encoding
        self._show(self.encoding, encoding, [(name, name) for name in ENCODINGS], choices.encoding)
        comma, point = self.tr("comma"), self.tr("point")
        mark = "" if layout is None else comma if layout.dialect.decimal == "," else point
        self._show(self.decimal, mark, [(point, "."), (comma, ",")], choices.decimal)
        volts = [
            (self.tr("as written"), GridVoltsSign.AS_WRITTEN),
            (self.tr("positive numbers mean negative bias"), GridVoltsSign.NEGATIVE),
        ]
        self._show(self.grid_volts, _grid_volts_found(sweeps, volts), volts, choices.grid_volts)
        currents = [
            (self.tr("reverse current is negative"), GridCurrentSign.ELECTRONS),
            (self.tr("reverse current is positive"), GridCurrentSign.REVERSE),
        ]
        self.grid_current.setEnabled(any(s.readings.grid_current is not None for s in sweeps))
        self.grid_current.show_choices(
            self._current_found(sweeps, as_found), currents, choices.grid_current
        )
        if self._types is None and layout is not None:
            self._types = library_names()  # quick by now: who read the file has loaded them
        label = _common([sweep.type_label for sweep in sweeps])
        none = self.tr("none named")
        self._show(
            self.type,
            label or none,
            [(name, name) for name in self._types or ()],
            choices.type_name,
        )
        stated = _common([sweep.conditions.connection for sweep in sweeps])
        self._show(
            self.connection, stated or none, [(c, c) for c in CONNECTIONS], choices.connection
        )

    def _current_found(self, sweeps: Sequence[Sweep], as_found: str) -> str:
        if not any(sweep.readings.grid_current is not None for sweep in sweeps):
            return self.tr("not measured")
        turned = any(sweep.has_remark(RemarkCode.GRID_CURRENT_SIGN) for sweep in sweeps)
        stated = any(value_of(s.metadata, Key.GRID_CURRENT_SIGN) is not None for s in sweeps)
        if turned and not stated:
            return f"{as_found}: {self.tr('reverse current is positive')}"
        return f"{as_found}: {self.tr('as written')}"

    def _show(
        self,
        box: ChoiceBox[Any],
        found: str,
        choices: Sequence[tuple[str, Any]],
        chosen: Any,
    ) -> None:
        words = self.tr("as found")
        text = plain(f"{words}: {found}" if found and chosen is None else words)
        box.show_choices(text, choices, chosen)


def _grid_volts_found(sweeps: Sequence[Sweep], words: Sequence[tuple[str, GridVoltsSign]]) -> str:
    if not sweeps:
        return ""
    turned = any(sweep.has_remark(RemarkCode.GRID_SIGN) for sweep in sweeps)
    return words[1 if turned else 0][0]


def _common(texts: Sequence[str | None]) -> str:
    """Return what tubes of a file have in common, or all that they have."""
    return ", ".join(dict.fromkeys(text for text in texts if text))
