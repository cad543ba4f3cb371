"""The list of what could not be read: file, line, reason, and the row itself."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QInputDialog,
    QLabel,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from curvelab.sheets.text import plain
from curvelab.window.lot import Lot
from curvelab.window.record_table import Column, RecordTable, copied_rows, sorted_by_records
from curvelab.workbench.session import Problem

__all__ = ["ProblemList"]


class ProblemList(QWidget):
    """Shows the problems of a lot; copies them as text."""

    answered = Signal(object, str)
    cleared = Signal()
    closed = Signal()

    def __init__(self, lot: Lot, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot = lot
        self._model: RecordTable[Problem] = RecordTable(self)
        self.view = QTableView()
        self._proxy = sorted_by_records(self._model, self)
        self.view.setModel(self._proxy)
        self.view.setAccessibleName(self.tr("Problems: files and rows that could not be read"))
        self.view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.view.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.view.setTabKeyNavigation(False)
        self.view.setShowGrid(False)
        self.view.verticalHeader().hide()
        self.view.horizontalHeader().setStretchLastSection(True)
        self._heading = QLabel()
        line = QHBoxLayout()
        line.addWidget(self._heading, 1)
        self.choose_button = QPushButton(self.tr("Choose a &meaning…"))
        self.choose_button.setToolTip(self.tr("The file can be read in more than one way"))
        self.choose_button.clicked.connect(self._ask)
        line.addWidget(self.choose_button)
        for text, intent in (
            (self.tr("Copy all"), self._copy_all),
            (self.tr("Clear the list"), self.cleared.emit),
            (self.tr("Hide"), self.closed.emit),
        ):
            button = QPushButton(text)
            button.clicked.connect(intent)
            line.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 4, 0, 0)
        layout.addLayout(line)
        layout.addWidget(self.view, 1)
        self.view.selectionModel().selectionChanged.connect(self._enable_choice)
        self.view.activated.connect(self._ask)
        lot.problems_changed.connect(self._show)
        self._show()

    def copy(self) -> None:
        """Copy the selected rows with their headings."""
        QGuiApplication.clipboard().setText(copied_rows(self.view))

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        """Follow a change of the text's size."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._show()

    def _show(self) -> None:
        problems = self._lot.session.problems
        self._model.show(self._columns(), problems)
        self._enable_choice()
        self._heading.setText(self._counted(len(problems)))
        self.view.resizeColumnsToContents()
        header = self.view.horizontalHeader()
        header.resizeSection(3, min(header.sectionSize(3), 640))
        self.view.verticalHeader().setDefaultSectionSize(self.view.fontMetrics().height() + 8)

    def _open_question(self) -> Problem | None:
        """Return the problem that a person can settle: the chosen one, or the first."""
        rows = [index.row() for index in self.view.selectionModel().selectedRows()]
        proxy = self._proxy
        chosen = [self._model.record(proxy.mapToSource(proxy.index(row, 0)).row()) for row in rows]
        candidates = (*chosen, *self._lot.session.problems)
        return next((one for one in candidates if one.choices), None)

    def _enable_choice(self) -> None:
        self.choose_button.setVisible(self._open_question() is not None)

    def _ask(self) -> None:
        """Ask for the meaning of a file, without blocking anything."""
        problem = self._open_question()
        if problem is None:
            return
        dialog = QInputDialog(self)
        dialog.setWindowTitle(problem.file)
        dialog.setLabelText(plain(problem.reason))
        dialog.setComboBoxItems(list(problem.choices))
        dialog.textValueSelected.connect(lambda choice: self.answered.emit(problem, choice))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _copy_all(self) -> None:
        self.view.selectAll()
        self.copy()

    def _counted(self, count: int) -> str:
        if count == 1:
            return self.tr("1 thing to look at")
        return self.tr("{0} things to look at").format(count)

    def _columns(self) -> list[Column[Problem]]:
        return [
            Column(self.tr("what"), lambda problem: problem.kind.value, bold=True),
            Column(self.tr("file"), lambda problem: plain(problem.file)),
            Column(
                self.tr("line"),
                lambda problem: "" if problem.line is None else str(problem.line),
                sort=lambda problem: problem.line or 0,
                number=True,
            ),
            Column(
                self.tr("reason"),
                lambda problem: plain(problem.reason),
                tip=lambda problem: plain(problem.reason),
            ),
            Column(
                self.tr("text"),
                lambda problem: plain(problem.text),
                tip=lambda problem: problem.text or None,
            ),
        ]
