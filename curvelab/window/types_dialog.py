"""The types of the library; those of one's own are copied, edited, imported and exported here."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QItemSelectionModel, Qt, QTimer
from PySide6.QtGui import QColor, QFontDatabase, QTextCursor, QTextFormat
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QTableView,
    QTabWidget,
    QTextEdit,
    QVBoxLayout,
    QWidget,
)

from curvelab.errors import CurvelabError
from curvelab.reference.records import TubeType
from curvelab.reference.typeplace import line_of_refusal
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.output import write_output
from curvelab.sheets.type_text import type_text
from curvelab.window.dividers import DividedParts
from curvelab.window.files import FileDialogs
from curvelab.window.record_table import Column, RecordTable, sorted_by_records
from curvelab.window.room import open_as_large
from curvelab.window.theme import Theme
from curvelab.window.type_form import TypeForm
from curvelab.workbench.own_types import (
    check_type_text,
    copy_type,
    export_type,
    import_type,
    keep_type_text,
)
from curvelab.workbench.type_library import current_types

__all__ = ["TypesDialog"]

_SIZE = (1120, 760)
_COLUMNS_OF_TEXT = 84
_CHECK_AFTER_MS = 300
_FILTERS = ["TOML (*.toml)"]


class TypesDialog(QDialog):
    """A list of types beside what is known of one, and its file."""

    def __init__(self, theme: Theme, dialogs: FileDialogs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Types of tubes"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._theme, self._dialogs = theme, dialogs
        self._own: dict[str, Path] = {}
        self._name, self._saved = "", ""
        self._line: int | None = None
        self._bad = False
        self.search, self.copy_name = QLineEdit(), QLineEdit()
        self._rows: RecordTable[TubeType] = RecordTable(self)
        self.view = QTableView()
        self.readable, self.editor = QPlainTextEdit(), QPlainTextEdit()
        self.form = TypeForm(theme)
        self.pages, self.said = QTabWidget(), QLabel()
        self.copy = QPushButton(self.tr("&Copy to a type of my own"))
        self.take_in = QPushButton(self.tr("&Import…"))
        self.give_away = QPushButton(self.tr("&Export…"))
        self.replace = QCheckBox(self.tr("Import &over mine of the same name"))
        self.save = QPushButton(self.tr("&Save"))
        self.undo = QPushButton(self.tr("&Back to what was saved"))
        self._later = QTimer(self, singleShot=True, interval=_CHECK_AFTER_MS)
        self._lay_out()
        self._connect()
        open_as_large(self, *_SIZE)
        self.refresh()

    def refresh(self, name: str | None = None) -> None:
        """Read the types anew and show one of them."""
        joined = current_types()
        self._own = joined.own
        mark = self.tr("mine")
        self._rows.show(
            (
                Column(self.tr("type"), lambda item: item.name, bold=True),
                Column("", lambda item: mark if item.name in self._own else ""),
                Column(self.tr("kind"), lambda item: item.kind),
                Column(self.tr("also"), lambda item: ", ".join(item.aliases)),
            ),
            tuple(joined.types.types.values()),
        )
        self.view.resizeColumnsToContents()
        self.view.resizeRowsToContents()
        self._choose(name or self._name or joined.types.names[0])
        self._say("\n".join(joined.problems), bad=bool(joined.problems))

    @property
    def unsaved(self) -> bool:
        """Whether the file was edited and not saved."""
        return not self.editor.isReadOnly() and self.editor.toPlainText() != self._saved

    def check(self) -> bool:
        """Say whether the edited file keeps the rules; mark the line that does not."""
        try:
            found = check_type_text(self.editor.toPlainText(), self._name)
        except CurvelabError as error:
            self._refuse(str(error))
            return False
        self._mark(None)
        self.form.show_refusal(None)
        self._say(self.tr("{0}: keeps the rules").format(found.name))
        return True

    def keep(self) -> None:
        """Save the edited file, if it keeps the rules."""

        def write() -> None:
            found = keep_type_text(self.editor.toPlainText(), self._name)
            self._saved = self.editor.toPlainText()
            self.refresh(found.name)
            self._say(self.tr("Saved {0}").format(found.name))

        self._try(write)
        if self._line is not None:
            place = self.editor.document().findBlockByNumber(self._line - 1)
            self.editor.setTextCursor(QTextCursor(place))
            if self.pages.currentWidget() is self.editor:
                self.editor.setFocus()

    def make_copy(self) -> None:
        """Copy the chosen type under the name given."""

        def write() -> None:
            name = self.copy_name.text().strip()
            copy_type(self._name, name)
            self.refresh(name)
            self.copy_name.clear()
            self.pages.setCurrentWidget(self.form)
            self._say(
                self.tr(
                    "Every figure in it is from memory until you find it printed for the new type"
                )
            )

        if not self._keeps_the_edit():
            self._try(write)

    def reject(self) -> None:
        """Close, unless an edit would be lost."""
        if not self._keeps_the_edit():
            super().reject()

    def _lay_out(self) -> None:
        left, right = QWidget(), QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        self.search.setPlaceholderText(self.tr("Search"))
        self.search.setClearButtonEnabled(True)
        column.addWidget(self.search)
        column.addWidget(self.view, 1)
        self.copy_name.setPlaceholderText(self.tr("name of the new type"))
        for parts in (
            (self.copy_name, self.copy),
            (self.take_in, self.replace, self.give_away),
        ):
            line = QHBoxLayout()
            for part in parts:
                line.addWidget(part)
            column.addLayout(line)
        self._prepare_view()
        fixed = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
        for page, words in (
            (self.readable, self.tr("What is known of it")),
            (self.editor, self.tr("Its file")),
        ):
            page.setFont(fixed)
            page.setAccessibleName(words)
            page.setTabChangesFocus(True)
            page.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.pages.addTab(self.readable, self.tr("What is known of it"))
        self.pages.addTab(self.form, self.tr("As a form"))
        self.pages.addTab(self.editor, self.tr("Its file"))
        self.readable.setReadOnly(True)
        named: tuple[tuple[QWidget, str], ...] = (
            (self.search, self.tr("Search the types")),
            (self.copy_name, self.tr("Name of the new type")),
            (self.said, self.tr("What was found in the file")),
        )
        for widget, words in named:
            widget.setAccessibleName(words)
        self.said.setWordWrap(True)
        self.said.setTextFormat(Qt.TextFormat.PlainText)
        self.said.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        under = QVBoxLayout(right)
        under.setContentsMargins(0, 0, 0, 0)
        under.addWidget(self.pages, 1)
        under.addWidget(self.said)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(self.undo)
        line.addWidget(self.save)
        under.addLayout(line)
        across = DividedParts(Qt.Orientation.Horizontal)
        across.addWidget(left)
        across.addWidget(right)
        across.setSizes([_SIZE[0] * 2 // 5, _SIZE[0] * 3 // 5])
        QVBoxLayout(self).addWidget(across)
        for button in (self.copy, self.take_in, self.give_away, self.save, self.undo):
            button.setAutoDefault(False)  # Enter in the search must do nothing else

    def _prepare_view(self) -> None:
        self._sorted = sorted_by_records(self._rows, self)
        self.view.setModel(self._sorted)
        self.view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.view.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.view.setAccessibleName(self.tr("Types of the library"))
        self.view.setTabKeyNavigation(False)
        self.view.setWordWrap(False)
        self.view.setSortingEnabled(True)
        self.view.sortByColumn(0, Qt.SortOrder.AscendingOrder)
        self.view.verticalHeader().hide()
        self.view.horizontalHeader().setStretchLastSection(True)

    def _connect(self) -> None:
        self.search.textChanged.connect(self._sorted.setFilterFixedString)
        self.view.selectionModel().currentRowChanged.connect(lambda *_: self._follow())
        self.editor.textChanged.connect(self._edited)
        self.form.edited.connect(self._take_from_form)
        self.form.refused.connect(lambda reason: self._say(reason, bad=True))
        self.form.file_wanted.connect(
            lambda: self._dialogs.ask_file(
                self.tr("Curves that you read off"),
                [self.tr("Sweep files (*.csv *.tsv *.txt)"), self.tr("All files (*)")],
                lambda paths: self.form.take_curves(paths[0]),
            )
        )
        self.pages.currentChanged.connect(lambda _: self._fill_form())
        self._later.timeout.connect(self.check)
        self.copy.clicked.connect(self.make_copy)
        self.copy_name.returnPressed.connect(self.make_copy)
        self.take_in.clicked.connect(self._import)
        self.give_away.clicked.connect(self._export)
        self.save.clicked.connect(self.keep)
        self.undo.clicked.connect(lambda: self._show_type(self._name))
        self._theme.changed.connect(self._paint_theme)

    def _choose(self, name: str) -> None:
        """Show a type, and choose its row where the search lets it be seen."""
        self._show_type(name)
        for row in range(self._sorted.rowCount()):
            index = self._sorted.index(row, 0)
            if index.data() == name:
                flags = QItemSelectionModel.SelectionFlag
                self.view.selectionModel().setCurrentIndex(index, flags.ClearAndSelect | flags.Rows)
                self.view.scrollTo(index)

    def _follow(self) -> None:
        index = self.view.currentIndex()
        if not index.isValid():
            return
        name = self._rows.record(self._sorted.mapToSource(index).row()).name
        if name == self._name:
            return
        if self._keeps_the_edit():
            edited = self._name
            QTimer.singleShot(0, self, lambda: self._back_to(edited))
        else:
            self._show_type(name)

    def _back_to(self, name: str) -> None:
        text = self.editor.toPlainText()
        self._choose(name)
        self.editor.setPlainText(text)
        self._keeps_the_edit()

    def _show_type(self, name: str) -> None:
        own = name in self._own
        try:
            text = export_type(name)
            self.readable.setPlainText(
                type_text(current_types().types.find(name)[0], _COLUMNS_OF_TEXT)
            )
        except CurvelabError as error:
            self._refuse(str(error))
            return
        self._name = name
        self.editor.setReadOnly(not own)
        self.editor.setPlainText(text)
        self._saved = self.editor.toPlainText()
        self._later.stop()
        self._mark(None)
        self._fill_form()
        self.form.show_refusal(None)
        self._say("" if own else self.tr("It came with the program: copy it to change a figure"))
        self._show_state()

    def _take_from_form(self, text: str) -> None:
        """Put a change of the form into the text, where it can be undone."""
        cursor = QTextCursor(self.editor.document())
        cursor.select(QTextCursor.SelectionType.Document)
        cursor.insertText(text)
        self._later.stop()
        self._fill_form()
        self.check()

    def _fill_form(self) -> None:
        """Show the text as it is now in the form, where the form is looked at."""
        if self.pages.currentWidget() is self.form:
            self.form.show_text(self.editor.toPlainText(), fixed=self.editor.isReadOnly())
            if self.unsaved:
                self.check()

    def _edited(self) -> None:
        self._show_state()
        if self.unsaved:
            self._later.start()

    def _show_state(self) -> None:
        self.save.setEnabled(self.unsaved)
        self.undo.setEnabled(self.unsaved)

    def _keeps_the_edit(self) -> bool:
        """Say that an edit would be lost, where there is one."""
        if self.unsaved:
            self._say(self.tr("{0} is edited: save it, or go back first").format(self._name), True)
        return self.unsaved

    def _import(self) -> None:
        def take(paths: list[Path]) -> None:
            def read() -> None:
                name = ""
                for path in paths:
                    name = import_type(path, replace=self.replace.isChecked())[0].name
                self.refresh(name)
                self._say(self.tr("Imported {0}").format(name))

            self._try(read)

        if not self._keeps_the_edit():
            self._dialogs.ask_some(self.tr("Import types"), _FILTERS, take)

    def _export(self) -> None:
        def write(paths: list[Path]) -> None:
            def save() -> None:
                write_output(paths[0], export_type(self._name).encode("utf-8"))
                self._say(self.tr("Saved {0}").format(paths[0]))

            self._try(save)

        name = f"{safe_file_stem(self._name, None, set())}.toml"
        self._dialogs.ask_target(self.tr("Export the type"), name, _FILTERS, write)

    def _try(self, work: Callable[[], None]) -> None:
        try:
            work()
        except (CurvelabError, OSError, UnicodeDecodeError) as error:
            self._refuse(str(error))

    def _refuse(self, reason: str) -> None:
        line = line_of_refusal(self.editor.toPlainText(), reason) if self.unsaved else None
        self._mark(line)
        self.form.show_refusal(reason if self.unsaved else None)
        self._say(self.tr("line {0}: {1}").format(line, reason) if line else reason, bad=True)

    def _say(self, text: str, bad: bool = False) -> None:
        self._bad = bad
        self.said.setText(text)
        self._paint_said()

    def _paint_said(self) -> None:
        ink = self._theme.colours.weight["reject" if self._bad else "note"]
        self.said.setStyleSheet(f"color: {ink}")

    def _paint_theme(self) -> None:
        self._mark(self._line)
        self._fill_form()
        self._paint_said()

    def _mark(self, line: int | None) -> None:
        """Colour the line of the file that a refusal is about."""
        self._line = line
        marks: list[QTextEdit.ExtraSelection] = []
        if line is not None:
            mark = QTextEdit.ExtraSelection()
            ink = QColor(self._theme.colours.weight["reject"])
            ink.setAlpha(60)
            mark.format.setBackground(ink)
            mark.format.setProperty(QTextFormat.Property.FullWidthSelection, True)
            mark.cursor = QTextCursor(self.editor.document().findBlockByNumber(line - 1))
            marks.append(mark)
        self.editor.setExtraSelections(marks)
