"""What the columns of a file hold, each with its unit, and boxes to put that right."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QScrollArea, QWidget

from curvelab.ingest.choices import ColumnChoice, ReadingChoices
from curvelab.ingest.headings import Column
from curvelab.ingest.layout import ColumnSeen
from curvelab.ingest.units import Dimension, units_of
from curvelab.sheets.text import plain
from curvelab.window.intake.choice_box import ChoiceBox
from curvelab.workbench.import_preview import FilePreview

__all__ = ["ColumnForm"]

_NOT_USED = "-"
_LONGEST_HEADING = 28


class ColumnForm(QScrollArea):
    """A line a column: heading, first cells, quantity, unit.

    The steps of a wide table share one line, with the unit of the currents under them.
    """

    changed = Signal(object)
    rebuilt = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAccessibleName(self.tr("Columns of the file"))
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.holds: dict[str, ChoiceBox[Any]] = {}
        self.units: dict[str, ChoiceBox[Any]] = {}
        self.step_unit: ChoiceBox[Any] | None = None
        self._choices = ReadingChoices()
        self._shown: tuple[str, ...] | None = None
        self._cells: dict[str, QLabel] = {}
        self._columns: dict[str, Column | None] = {}

    def show_preview(self, seen: FilePreview) -> None:
        """Show the columns of a file; boxes that are there already keep the keyboard."""
        self._choices = seen.choices
        columns = () if seen.layout is None else seen.layout.columns
        single = [item for item in columns if item.step is None]
        steps = [item for item in columns if item.step is not None]
        names = (*(item.heading for item in single), *(["steps"] if steps else []))
        if names != self._shown:
            self._build(single, steps)
            self._shown = names
        for item in single:
            self._fill(item, seen)
        if self.step_unit is not None and steps:
            self._fill_steps(steps, seen)

    def _build(self, single: list[ColumnSeen], steps: list[ColumnSeen]) -> None:
        page = QWidget()
        grid = QGridLayout(page)
        grid.setContentsMargins(0, 0, 4, 0)
        grid.setVerticalSpacing(3)
        self.holds, self.units, self._cells, self.step_unit = {}, {}, {}, None
        for at, text in enumerate(
            (self.tr("Heading"), self.tr("First cells"), self.tr("Holds"), self.tr("Unit"))
        ):
            title = QLabel(f"<b>{text}</b>")
            grid.addWidget(title, 0, at)
        for row, item in enumerate(single, start=1):
            self._add_row(grid, row, item.heading)
        if steps:
            self._add_steps(grid, len(single) + 1)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(2, 2)
        grid.setColumnStretch(3, 1)
        self.setWidget(page)
        self._fit()
        self.rebuilt.emit()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        """Follow a change of the text's size."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._fit()

    def _fit(self) -> None:
        """Take the room that the lines need, and no more."""
        page = self.widget()
        if page is not None:
            self.setMaximumHeight(page.sizeHint().height() + 2)

    def boxes(self) -> list[QWidget]:
        """Return the boxes in the order of the columns."""
        pairs = zip(self.holds.values(), self.units.values(), strict=True)
        steps = [] if self.step_unit is None else [self.step_unit]
        return [*(box for pair in pairs for box in pair), *steps]

    def _add_row(self, grid: QGridLayout, row: int, heading: str) -> None:
        short = plain(heading)
        if len(short) > _LONGEST_HEADING:
            short = f"{short[: _LONGEST_HEADING - 1]}…"
        label = QLabel(short)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setToolTip(plain(heading))
        cells = self._cells[heading] = QLabel()
        cells.setTextFormat(Qt.TextFormat.PlainText)
        holds = self.holds[heading] = ChoiceBox[Any](
            self.tr("What column {0} holds").format(plain(heading))
        )
        unit = self.units[heading] = ChoiceBox[Any](
            self.tr("Unit of column {0}").format(plain(heading))
        )
        unit.setMinimumContentsLength(8)
        label.setBuddy(holds)
        holds.said.chosen.connect(lambda value: self._choose(heading, value))
        unit.said.chosen.connect(lambda value: self._choose_unit(heading, value))
        for at, part in enumerate((label, cells, holds, unit)):
            grid.addWidget(part, row, at)

    def _add_steps(self, grid: QGridLayout, row: int) -> None:
        label = QLabel(self.tr("steps"))
        cells = self._cells["steps"] = QLabel()
        self.step_unit = ChoiceBox[Any](self.tr("Unit of the currents under the steps"))
        self.step_unit.setMinimumContentsLength(8)
        label.setBuddy(self.step_unit)
        self.step_unit.said.chosen.connect(
            lambda value: self.changed.emit(self._choices.corrected(step_unit=value))
        )
        grid.addWidget(label, row, 0)
        grid.addWidget(cells, row, 1, 1, 2)
        grid.addWidget(self.step_unit, row, 3)

    def _fill(self, item: ColumnSeen, seen: FilePreview) -> None:
        chosen = self._choices.of_heading(item.heading)
        self._columns[item.heading] = item.column
        shown = ", ".join(plain(cell) for cell in item.cells)
        self._cells[item.heading].setText(shown if len(shown) <= 40 else f"{shown[:39]}…")
        not_used = self.tr("not used")
        kinds = [(column.value, column) for column in Column]
        wanted = None if chosen is None else chosen.column or _NOT_USED
        found = item.column.value if item.column is not None else not_used
        self.holds[item.heading].show_choices(
            found if chosen is None else self.tr("as found"),
            [(not_used, _NOT_USED), *kinds],
            wanted,
        )
        self._fill_unit(item, seen)

    def _fill_unit(self, item: ColumnSeen, seen: FilePreview) -> None:
        box, chosen = self.units[item.heading], self._choices.of_heading(item.heading)
        dimension = None if item.column is None else item.column.dimension
        box.setEnabled(dimension is not None)
        if dimension is None or item.column is None:
            box.show_choices("", [], None)
            return
        found = item.unit.symbol if item.unit is not None else self._guessed(item.column, seen)
        unit = None if chosen is None else chosen.unit
        units = [(one.symbol, one) for one in units_of(dimension)]
        box.show_choices(found if unit is None else self.tr("as found"), units, unit)

    def _guessed(self, column: Column, seen: FilePreview) -> str:
        unit = None if seen.reading is None else seen.reading.units.get(column)
        return self.tr("not known") if unit is None else self.tr("{0}, guessed").format(unit.symbol)

    def _fill_steps(self, steps: list[ColumnSeen], seen: FilePreview) -> None:
        values = [item.step for item in steps if item.step is not None]
        text = self.tr("{0} columns, from {1} to {2} V")
        self._cells["steps"].setText(
            text.format(len(steps), f"{min(values):g}", f"{max(values):g}")
        )
        if self.step_unit is None:
            return
        stated = steps[0].unit
        found = self._guessed(Column.PLATE_CURRENT, seen)
        if seen.reading is not None and Column.PLATE_CURRENT not in seen.reading.guessed:
            found = seen.reading.units[Column.PLATE_CURRENT].symbol
        elif stated is not None:
            found = stated.symbol
        chosen = self._choices.step_unit
        units = [(one.symbol, one) for one in units_of(Dimension.CURRENT)]
        self.step_unit.show_choices(found if chosen is None else self.tr("as found"), units, chosen)

    def _choose(self, heading: str, value: object) -> None:
        if value is None:
            self.changed.emit(self._choices.without_column(heading))
            return
        column = value if isinstance(value, Column) else None
        self.changed.emit(self._choices.with_column(ColumnChoice(heading, column)))

    def _choose_unit(self, heading: str, unit: Any) -> None:
        column = self._columns.get(heading)
        if column is not None:
            self.changed.emit(self._choices.with_column(ColumnChoice(heading, column, unit)))
