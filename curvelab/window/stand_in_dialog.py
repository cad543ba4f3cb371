"""May one type stand in for another? Asked, and answered in words, a table and curves."""

from __future__ import annotations

import html
from collections.abc import Iterable

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QTableView,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from curvelab.reference.substitution import Suitability
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.stand_in import StandInCell, StandInRow
from curvelab.sheets.wording import CAUTIONS
from curvelab.window.dividers import DividedParts
from curvelab.window.library_names import library_names, nearest_type
from curvelab.window.plots.markers import role_icon, shape_icon
from curvelab.window.plots.tube_plot import TubePlot
from curvelab.window.record_table import Column, RecordTable
from curvelab.window.room import open_as_large
from curvelab.window.tasks import Failure, TaskQueue
from curvelab.window.theme import Theme
from curvelab.workbench.stand_in import StandInAnswer, StandInQuestion, ask_stand_in

__all__ = ["StandInDialog"]

_SIZE = (1120, 760)
_INK = {
    Suitability.DIRECT: "accept",
    Suitability.WITH_CONDITIONS: "hold",
    Suitability.NOT: "reject",
}


class StandInDialog(QDialog):
    """Two types, the place in the amplifier, and the answer.

    With ``built_for``, the type of a tube looked at, its nearest relative is compared at once.
    """

    def __init__(
        self,
        theme: Theme,
        tasks: TaskQueue,
        parent: QWidget | None = None,
        *,
        built_for: str | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("May another type go in?"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._theme, self._tasks = theme, tasks
        self._answer: StandInAnswer | None = None
        self.old, self.new = QComboBox(), QComboBox()
        self.known = QCheckBox(self.tr("&Its operating point in this amplifier is known"))
        self.plate_volts = self._spin(self.tr("Plate voltage"), 250.0, (1.0, 5000.0), " V")
        self.grid_volts = self._spin(self.tr("Grid voltage"), -8.0, (-1000.0, 50.0), " V")
        self.screen_volts = self._spin(self.tr("Screen voltage"), 0.0, (0.0, 2000.0), " V")
        self.screen_volts.setSpecialValueText(self.tr("as a triode"))
        self.resistance = self._spin(
            self.tr("Resistance of the plate circuit"), 0.0, (0.0, 1000.0), " kohm"
        )
        self.ask = QPushButton(self.tr("&Compare"))
        self.words = QTextBrowser()
        self.words.setAccessibleName(self.tr("Verdict, conditions and cautions"))
        self.rows: RecordTable[StandInRow] = RecordTable(self)
        self.table = QTableView()
        self.plot = TubePlot(theme)
        self.plot.setAccessibleName(self.tr("Curves of both types"))
        self._key = QHBoxLayout()
        self._lay_out()
        for box in (self.old, self.new):
            box.addItems(library_names())
            box.setEditable(True)
            box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.new.setCurrentIndex(min(1, self.new.count() - 1))
        self.known.toggled.connect(self._show_place)
        self.ask.clicked.connect(self.compare)
        self._show_place(False)
        theme.changed.connect(self._show)
        open_as_large(self, *_SIZE)
        self._show()
        near = nearest_type(built_for) if built_for else None
        if built_for and near:
            self.old.setCurrentText(built_for)
            self.new.setCurrentText(near)
            self.compare()

    def compare(self) -> None:
        """Ask what is set, in the background."""
        at: tuple[float, ...] | None = None
        if self.known.isChecked():
            at = (self.plate_volts.value(), self.grid_volts.value())
            if self.screen_volts.value() > 0:
                at = (*at, self.screen_volts.value())
        question = StandInQuestion(
            self.old.currentText(), self.new.currentText(), at, self.resistance.value() * 1e3
        )
        self.ask.setEnabled(False)
        self.words.setPlainText(self.tr("Comparing…"))
        self._tasks.start(lambda *hooks: ask_stand_in(question, *hooks), self._receive)

    def _receive(self, outcome: object) -> None:
        if not isValid(self):  # closed while the answer was sought
            return
        self.ask.setEnabled(True)
        self._answer = outcome if isinstance(outcome, StandInAnswer) else None
        self._show()
        if isinstance(outcome, Failure):
            self.words.setPlainText(outcome.reason)

    def _spin(
        self, name: str, value: float, bounds: tuple[float, float], unit: str
    ) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(*bounds)
        box.setDecimals(1)
        box.setSuffix(unit)
        box.setValue(value)
        box.setAccessibleName(name)
        return box

    def _lay_out(self) -> None:
        form = QGridLayout()
        named: tuple[tuple[str, QWidget], ...] = (
            (self.tr("&Built for"), self.old),
            (self.tr("&To go in"), self.new),
            (self.tr("&Plate"), self.plate_volts),
            (self.tr("&Grid"), self.grid_volts),
            (self.tr("&Screen"), self.screen_volts),
            (self.tr("Plate circuit &resistance"), self.resistance),
        )
        for place, (text, box) in enumerate(named):
            label = QLabel(text)
            label.setBuddy(box)
            if not box.accessibleName():
                box.setAccessibleName(text.replace("&", ""))
            row, column = (0, 2 * place) if place < 2 else (1, 2 * (place - 2))
            form.addWidget(label, row, column)
            form.addWidget(box, row, column + 1)
        form.addWidget(self.known, 0, 4, 1, 3)
        form.addWidget(self.ask, 0, 7)
        self.ask.setDefault(True)
        self.table.setModel(self.rows)
        self.table.setAccessibleName(self.tr("Both types side by side"))
        self.table.setSelectionBehavior(QTableView.SelectionBehavior.SelectRows)
        self.table.setTabKeyNavigation(False)
        self.table.verticalHeader().hide()
        self.table.horizontalHeader().setStretchLastSection(True)
        curves = QWidget()
        under = QVBoxLayout(curves)
        under.setContentsMargins(0, 0, 0, 0)
        under.addLayout(self._key)
        under.addWidget(self.plot, 1)
        right = DividedParts(Qt.Orientation.Vertical)
        right.addWidget(curves)
        right.addWidget(self.table)
        across = DividedParts(Qt.Orientation.Horizontal)
        across.addWidget(self.words)
        across.addWidget(right)
        across.setSizes([_SIZE[0] * 3 // 8, _SIZE[0] * 5 // 8])
        right.setSizes([_SIZE[1] * 3 // 5, _SIZE[1] * 2 // 5])
        layout = QVBoxLayout(self)
        layout.addLayout(form)
        layout.addWidget(across, 1)

    def _show_place(self, known: bool) -> None:
        for box in (self.plate_volts, self.grid_volts, self.screen_volts):
            box.setEnabled(known)

    def _show(self) -> None:
        answer = self._answer
        hint = self.tr("Choose the type the amplifier was built for and the one to go in.")
        self.words.setHtml(self._verdict(answer) if answer else f"<p>{html.escape(hint)}</p>")
        found = answer.found if answer else None
        names = (found.old, found.new) if found else ("", "")
        self.rows.show(
            (
                Column("", lambda row: row.what),
                Column(self.tr("compared"), lambda row: row.outcome),
                Column(names[0], lambda row: _shown(row.old)),
                Column(names[1], lambda row: _shown(row.new)),
            ),
            answer.rows if answer else (),
        )
        self._fit_columns()
        self._show_curves(answer.picture if answer else None)

    def _fit_columns(self) -> None:
        share = self.table.viewport().width() // 4
        for column in range(3):
            self.table.setColumnWidth(column, share)
        self.table.resizeRowsToContents()

    def _show_curves(self, picture: CurvePicture | None) -> None:
        self.plot.setVisible(picture is not None)
        self.plot.show_pictures(picture)
        while (item := self._key.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.setParent(None)
                widget.deleteLater()
        if picture is None or self._answer is None:
            return
        colours, found = self._theme.colours, self._answer.found
        ink = colours.weight["note"]
        entries = [
            (role_icon(Role.FITTED, colours.steps(3)[1]), found.new),
            (role_icon(Role.REFERENCE, colours.reference), found.old),
            *(
                [(role_icon(Role.EXTRAPOLATED, colours.steps(3)[1]), self.tr("extrapolated"))]
                if any(_beyond(line) for line in picture.series)
                else []
            ),
            *((shape_icon(mark.shape, ink), mark.code) for mark in picture.marks),
        ]
        for icon, words in entries:
            sample = QLabel()
            sample.setPixmap(icon.pixmap(20, 16))
            self._key.addWidget(sample)
            self._key.addWidget(QLabel(words))
        self._key.addStretch(1)

    def _verdict(self, answer: StandInAnswer) -> str:
        found = answer.found
        ink = self._theme.colours.weight[_INK[found.suitability]]
        title = self.tr("{0} in place of {1}").format(found.new, found.old)
        parts = [
            f"<p>{html.escape(title)}</p>"
            f'<h2 style="color: {ink}">{html.escape(found.suitability.value)}</h2>',
            _listed(self.tr("Against it"), found.against),
            _listed(self.tr("Conditions"), found.conditions),
            _listed(self.tr("Not known"), found.unknown),
            _listed(self.tr("Wiring"), (answer.wiring,) if answer.wiring else ()),
            _listed(self.tr("Types of yours that could not be read"), answer.problems),
            _listed(self.tr("House rules, editable"), found.house_rules),
            _listed(self.tr("Cautions"), CAUTIONS),
        ]
        return "".join(parts)


def _beyond(line: Series) -> bool:
    return line.role in (Role.EXTRAPOLATED, Role.REFERENCE_EXTRAPOLATED)


def _listed(title: str, lines: Iterable[str]) -> str:
    items = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
    return f"<h4>{html.escape(title)}</h4><ul>{items}</ul>" if items else ""


def _shown(cell: StandInCell) -> str:
    words = " ".join(cell.parts)
    memory = QCoreApplication.translate("StandInDialog", "check the sheet")
    return f"{words} ({memory})" if cell.from_memory else words
