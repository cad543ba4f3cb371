"""The measured constants beside the handbook's, in figures that can be read from afar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import takewhile
from operator import eq

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QSizePolicy, QWidget

from curvelab.sheets.tables import ConstantQuantities, Table
from curvelab.window.theme import Theme

__all__ = ["ConstantsGrid"]

# Of the sheet's columns; the local fit stands in the tip of the measured value.
_MEASURED, _LOCAL = 1, 3
_SHOWN = (1, 2, 4, 5, 6)
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


@dataclass(frozen=True, slots=True)
class _Look:
    large: bool = False
    quiet: bool = False
    right: bool = False
    wrap: bool = False
    span: int = 1


@dataclass(frozen=True, slots=True)
class _Cell:
    row: int
    column: int
    text: str
    look: _Look
    tip: str = ""
    rows: int = 1


_PLAIN, _QUIET = _Look(), _Look(quiet=True)
_HEADING, _NUMBER = _Look(quiet=True, right=True), _Look(right=True)
_LARGE, _WORDS = _Look(large=True, right=True), _Look(large=True, wrap=True)
_NOTE = _Look(wrap=True, span=len(_SHOWN))
_FOOTNOTE = _Look(quiet=True, wrap=True, span=len(_SHOWN) + 1)


class ConstantsGrid(QWidget):
    """Shows the table of a sheet as labels whose text can be selected."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self._theme = theme
        self._cells: list[_Cell] = []
        self._labels: list[QLabel] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 2, 0, 2)
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(2)
        theme.changed.connect(self._make_labels)

    def show_table(self, table: Table, quantities: ConstantQuantities) -> None:
        """Show another table; rows of constants are in the order of ``quantities``."""
        old = _shape(self._cells)
        self._cells = list(_cells(table, quantities))
        if _shape(self._cells) != old:
            self._make_labels()
        for label, cell in zip(self._labels, self._cells, strict=True):
            label.setText(cell.text)
            tip = self.tr("local fit, without a law: {0}").format(cell.tip)
            label.setToolTip(tip if cell.look is _LARGE else cell.tip)

    def words(self) -> str:
        """Return every text of the grid, row by row."""
        return "\n".join(cell.text for cell in self._cells if cell.text)

    def _make_labels(self) -> None:
        """Lay the grid out anew: its shape, its font or its colours have changed."""
        for label in self._labels:
            self._grid.removeWidget(label)
            label.hide()
            label.deleteLater()
        self._labels = [self._label(cell) for cell in self._cells]
        drift = any(cell.look is _WORDS for cell in self._cells)
        self._grid.setColumnStretch(1, 1 if drift else 0)

    def _label(self, cell: _Cell) -> QLabel:
        look, label = cell.look, QLabel(cell.text)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        if look.wrap:
            label.setWordWrap(True)
            policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            policy.setHeightForWidth(True)
            label.setSizePolicy(policy)
        if look.quiet:
            label.setStyleSheet(f"color: {self._theme.colours.quiet_text}")
        if look.large:
            label.setFont(self._theme.font(2, bold=True))
        self._grid.addWidget(label, cell.row, cell.column, cell.rows, look.span)
        if look.right:
            self._grid.setAlignment(label, _RIGHT)
        return label


def _shape(cells: list[_Cell]) -> list[tuple[int, int, int, _Look]]:
    return [(cell.row, cell.column, cell.rows, cell.look) for cell in cells]


def _cells(table: Table, quantities: ConstantQuantities) -> Iterator[_Cell]:
    """Yield the cells of a sheet's table as the window shows them."""
    if table.columns:
        yield from _constant_cells(table, quantities)
    else:
        for row, line in enumerate(table.rows):
            yield _Cell(row, 0, line.cells[0], _QUIET)
            yield _Cell(row, 1, line.cells[1], _WORDS)
    if table.footnote and not all(line.note for line in table.rows):
        yield _Cell(len(table.rows) + 1, 0, table.footnote, _FOOTNOTE)


def _constant_cells(table: Table, quantities: ConstantQuantities) -> Iterator[_Cell]:
    for place, column in enumerate(_SHOWN, start=1):
        yield _Cell(0, place, table.columns[column], _HEADING)
    named = zip(table.rows, quantities, strict=True)
    for row, (line, (_, quantity)) in enumerate(named, start=1):
        unit = f" ({quantity.unit.symbol})" if quantity.unit.symbol else ""
        named_by = line.cells[0]  # of a screen grid it says which electrodes mu is between
        rest = named_by.partition(quantity.axis_label)[2]
        yield _Cell(row, 0, f"{quantity.symbol}{rest}{unit}", _PLAIN, named_by)
        if line.note is not None:
            above = table.rows[row - 2].note if row > 1 else None
            if line.note != above:  # one reason for several constants is said once
                notes = [other.note for other in table.rows[row - 1 :]]
                same = len(list(takewhile(partial(eq, line.note), notes)))
                yield _Cell(row, 1, line.note, _NOTE, rows=same)
            continue
        for place, column in enumerate(_SHOWN, start=1):
            if column == _MEASURED:
                yield _Cell(row, place, line.cells[column], _LARGE, line.cells[_LOCAL])
            else:
                yield _Cell(row, place, line.cells[column], _NUMBER)
