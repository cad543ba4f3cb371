"""One file of the import preview: what was made of it, and boxes to put it right."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from PySide6.QtCore import QModelIndex, Signal
from PySide6.QtGui import QFontDatabase, QTextCursor
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPlainTextEdit,
    QPushButton,
    QSizePolicy,
    QTableView,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from curvelab.ingest.choices import NOTHING_CHOSEN
from curvelab.sheets.text import plain
from curvelab.sweep.records import SetAside
from curvelab.window.intake.column_form import ColumnForm
from curvelab.window.intake.file_form import FileForm
from curvelab.window.record_table import Column, RecordTable, sorted_by_records
from curvelab.window.theme import Theme
from curvelab.workbench.import_preview import FilePreview

__all__ = ["FilePanel"]


class FilePanel(QWidget):
    """Shows a preview; ``changed`` has new choices, ``alike`` asks for the same in others."""

    changed = Signal(object)
    alike = Signal()
    confirmed = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._seen: FilePreview | None = None
        self._verdict = QLabel()
        self._verdict.setWordWrap(True)
        self.ways = QComboBox()
        self.ways.setAccessibleName(self.tr("Ways in which the file can be read"))
        self.ways.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.ways.activated.connect(self._answer)
        self.form = FileForm()
        self.columns = ColumnForm()
        self.alike_button = QPushButton(self.tr("Read the files with the same &headings alike"))
        self.confirm_button = QPushButton(self.tr("The &guesses are right"))
        self.confirm_button.setToolTip(
            self.tr("Choose what was guessed, so that nothing is left open in this file")
        )
        self.confirm_button.clicked.connect(self.confirmed)
        self.remarks = QListWidget()
        self.remarks.setAccessibleName(self.tr("Understood and guessed"))
        self.remarks.setWordWrap(True)
        self._rows: RecordTable[SetAside] = RecordTable(self)
        self.set_aside = QTableView()
        self.text = QPlainTextEdit()
        self.tabs = QTabWidget()
        self._make_tabs()
        self._lay_out()
        self.set_aside.activated.connect(self._go_to_line)
        self.form.changed.connect(self.changed)
        self.columns.changed.connect(self.changed)
        self.columns.rebuilt.connect(self._order_keys)
        self.alike_button.clicked.connect(self.alike)
        theme.when_changed(self._paint_theme)

    def _make_tabs(self) -> None:
        self.set_aside.setModel(sorted_by_records(self._rows, self))
        self.set_aside.setAccessibleName(self.tr("Rows set aside"))
        self.set_aside.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.set_aside.setTabKeyNavigation(False)
        self.set_aside.verticalHeader().hide()
        self.set_aside.horizontalHeader().setStretchLastSection(True)
        self.text.setReadOnly(True)
        self.text.setAcceptDrops(False)
        self.text.setTabChangesFocus(True)
        self.text.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.text.setAccessibleName(self.tr("Text of the file"))
        self.tabs.addTab(self.remarks, self.tr("&Understood and guessed"))
        self.tabs.addTab(self.set_aside, self.tr("Set a&side"))
        self.tabs.addTab(self.text, self.tr("Te&xt of the file"))

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.addWidget(self.confirm_button)
        line.addWidget(self.alike_button)
        line.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._verdict)
        layout.addWidget(self.ways)
        layout.addWidget(self.form)
        layout.addWidget(self.columns, 3)
        layout.addLayout(line)
        layout.addWidget(self.tabs, 4)

    def _order_keys(self) -> None:
        """Put the boxes of the columns, which were made last, where they stand on the screen."""
        order = [self.form.connection, *self.columns.boxes(), self.confirm_button]
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def show_preview(self, seen: FilePreview | None) -> None:
        """Show one file, or that there is none."""
        another = seen is not None and (self._seen is None or seen.path != self._seen.path)
        self._seen = seen
        if another and seen is not None and seen.reason is not None:
            self.tabs.setCurrentWidget(self.text)  # what it is can be seen there alone
        self.setEnabled(seen is not None)
        if seen is None:
            seen = FilePreview(Path(), NOTHING_CHOSEN)
        self._verdict.setText(plain(self._said(seen)))
        self._paint_verdict()
        self._show_ways(seen)
        self.confirm_button.setEnabled(bool(seen.weighty))
        self.form.show_preview(seen)
        self.columns.show_preview(seen)
        self._show_tabs(seen)

    def _said(self, seen: FilePreview) -> str:
        if self._seen is None:
            return ""
        if seen.reading is None:
            where = "" if seen.line is None else self.tr("line {0}: ").format(seen.line)
            return where + (seen.question or self.tr("being read"))
        tubes = ", ".join(
            f"{sweep.title} ({len(sweep.readings)})" for sweep in seen.reading.sweeps[:4]
        )
        more = len(seen.reading.sweeps) - 4
        told = self.tr("{0} and {1} more").format(tubes, more) if more > 0 else tubes
        return self.tr("Tubes, with how many readings: {0}").format(told)

    def _show_ways(self, seen: FilePreview) -> None:
        self.ways.setVisible(bool(seen.ways))
        self.ways.clear()
        self.ways.addItem(self.tr("choose a meaning"))
        self.ways.addItems(list(seen.ways))

    def _show_tabs(self, seen: FilePreview) -> None:
        self.remarks.clear()
        reading = seen.reading
        for remark in () if reading is None else reading.remarks:
            self.remarks.addItem(
                self.tr("guessed: {0}").format(plain(remark.text))
                if remark.guessed
                else plain(remark.text)
            )
        rows = () if reading is None else reading.set_aside
        self._rows.show(self._row_columns(), rows)
        self.set_aside.resizeColumnsToContents()
        self.set_aside.horizontalHeader().resizeSection(1, 220)
        count = self.tr("Set a&side ({0})").format(len(rows))
        self.tabs.setTabText(1, count if rows else self.tr("Set a&side"))
        numbered = (f"{at:>4}  {plain(line)}" for at, line in enumerate(seen.lines, start=1))
        self.text.setPlainText("\n".join(numbered))

    def _row_columns(self) -> list[Column[SetAside]]:
        return [
            Column(
                self.tr("line"), lambda row: str(row.line), sort=lambda row: row.line, number=True
            ),
            Column(self.tr("text"), lambda row: plain(row.text), tip=lambda row: plain(row.text)),
            Column(
                self.tr("reason"), lambda row: plain(row.reason), tip=lambda row: plain(row.reason)
            ),
        ]

    def _go_to_line(self, index: QModelIndex) -> None:
        """Show the row that was set aside where it stands in the file."""
        model = self.set_aside.model()
        line = int(str(model.index(index.row(), 0).data()))
        block = self.text.document().findBlockByNumber(line - 1)
        self.text.setTextCursor(QTextCursor(block))
        self.tabs.setCurrentWidget(self.text)

    def _answer(self, at: int) -> None:
        if self._seen is not None and at > 0:
            answers = (*self._seen.choices.answers, self._seen.ways[at - 1])
            self.changed.emit(self._seen.choices.corrected(answers=answers))

    def _paint_theme(self) -> None:
        fixed = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
        fixed.setPointSizeF(self._theme.font().pointSizeF())
        self.text.setFont(fixed)
        self._verdict.setFont(self._theme.font(1, bold=True))
        self._paint_verdict()

    def _paint_verdict(self) -> None:
        colours = self._theme.colours
        asked = self._seen is not None and self._seen.reason is not None
        self._verdict.setStyleSheet(
            f"color: {colours.weight['caution'] if asked else colours.text}"
        )
