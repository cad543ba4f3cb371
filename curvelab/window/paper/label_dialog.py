"""Labels before they are printed: the sheet by its millimetres, and how it will look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from curvelab.errors import LabelSheetError
from curvelab.sheets.label import LabelDocument, LabelPrint, Marks
from curvelab.sheets.label_grid import LabelGrid
from curvelab.window.paper.label_preview import LabelPreview
from curvelab.window.room import open_as_large

__all__ = ["LabelDialog"]

_LONGEST = 1000.0  # [mm]
_MOST = 100
_COUNTED = ("columns", "rows")
_SIZE = (900, 720)


class LabelDialog(QDialog):
    """Asks for the sheet; shows each page as it will be.

    Signals
    -------
    changed : LabelPrint
        The labels are wanted otherwise; `show_document` shows them.
    save_wanted, print_wanted : LabelDocument
        Write them to a file, or print them.
    """

    changed = Signal(object)
    save_wanted = Signal(object)
    print_wanted = Signal(object)

    def __init__(self, sheets: Mapping[str, LabelGrid], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Labels"))
        self._sheets = dict(sheets)
        self._document: LabelDocument | None = None
        self.sheet = QComboBox()
        for name in self._sheets:
            self.sheet.addItem(self.tr("{0} mm").format(name), name)
        self.sheet.addItem(self.tr("as measured below"), None)
        names = [item.name for item in fields(LabelGrid)]
        self.counts = {name: self._count() for name in _COUNTED}
        self.lengths = {name: self._length() for name in names if name not in _COUNTED}
        self.start = QSpinBox()
        self.start.setRange(1, _MOST * _MOST)
        self.marks = QComboBox()
        for mark, words in (
            (Marks.NONE, self.tr("none")),
            (Marks.OUTLINE, self.tr("outlines, for a test on plain paper")),
            (Marks.CROP, self.tr("crop marks")),
        ):
            self.marks.addItem(words, mark)
        self.wrong = QLabel()
        self.wrong.setWordWrap(True)
        self.page = QSpinBox()
        self.page.setAccessibleName(self.tr("Number of the sheet"))
        self.of = QLabel()
        self.preview = LabelPreview()
        self._lay_out()
        self.sheet.currentIndexChanged.connect(self._take_sheet)
        self.start.valueChanged.connect(self._tell)
        self.marks.currentIndexChanged.connect(self._tell)
        self.page.valueChanged.connect(self._show_page)
        open_as_large(self, *_SIZE)

    def begin(self) -> None:
        """Ask for the labels as the form says at first."""
        self._take_sheet()

    def show_document(self, document: LabelDocument) -> None:
        """Show the labels that were wanted."""
        self._document = document
        self.preview.show_sheet(document, 0)
        count = self.preview.sheets
        with QSignalBlocker(self.page):
            self.page.setRange(1, count)
            self.page.setValue(1)
        labels = len(document.labels)
        without = sum(label.code is None for label in document.labels)
        said = self.tr("of {0}; {1} labels").format(count, labels)
        if without:
            said += self.tr(", {0} of them too small for a code").format(without)
        self.of.setText(said)
        self._enable()

    def refuse(self, reason: str) -> None:
        """Say why there are no labels as they were wanted."""
        self._document = None
        self.wrong.setText(reason)
        self.preview.show_sheet(None, 0)
        self.of.clear()
        self._enable()

    def _count(self) -> QSpinBox:
        count = QSpinBox()
        count.setRange(1, _MOST)
        count.valueChanged.connect(self._measure)
        return count

    def _length(self) -> QDoubleSpinBox:
        length = QDoubleSpinBox()
        length.setRange(0.0, _LONGEST)
        length.setDecimals(2)
        length.setSingleStep(0.1)
        length.setSuffix(" mm")
        length.valueChanged.connect(self._measure)
        return length

    def _lay_out(self) -> None:
        form = QFormLayout()
        named: tuple[tuple[str, QWidget], ...] = (
            (self.tr("&Sheet"), self.sheet),
            (self.tr("Page &width"), self.lengths["page_width"]),
            (self.tr("Page &height"), self.lengths["page_height"]),
            (self.tr("First label from the &left"), self.lengths["left"]),
            (self.tr("First label from the &top"), self.lengths["top"]),
            (self.tr("Label w&idth"), self.lengths["width"]),
            (self.tr("Label h&eight"), self.lengths["height"]),
            (self.tr("Pitch &across"), self.lengths["across"]),
            (self.tr("Pitch &down"), self.lengths["down"]),
            (self.tr("&Columns"), self.counts["columns"]),
            (self.tr("&Rows"), self.counts["rows"]),
            (self.tr("Radius of the c&orners"), self.lengths["corner"]),
            (self.tr("&Begin at label"), self.start),
            (self.tr("&Marks"), self.marks),
        )
        for words, part in named:
            form.addRow(words, part)
            part.setAccessibleName(words.replace("&", ""))
        hint = QLabel(self.tr("Print at 100 %: a printer that fits pages moves every label."))
        hint.setWordWrap(True)
        left = QVBoxLayout()
        left.addLayout(form)
        left.addWidget(hint)
        left.addWidget(self.wrong)
        left.addStretch(1)
        turn = QHBoxLayout()
        turn.addWidget(QLabel(self.tr("Sheet")))
        turn.addWidget(self.page)
        turn.addWidget(self.of, 1)
        right = QVBoxLayout()
        right.addLayout(turn)
        right.addWidget(self.preview, 1)
        across = QHBoxLayout()
        across.addLayout(left)
        across.addLayout(right, 1)
        box = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.save = QPushButton(self.tr("Sa&ve as PDF…"))
        self.print_button = QPushButton(self.tr("&Print…"))
        box.addButton(self.save, QDialogButtonBox.ButtonRole.ActionRole)
        box.addButton(self.print_button, QDialogButtonBox.ButtonRole.ActionRole)
        self.save.setDefault(True)
        self.save.clicked.connect(lambda: self.save_wanted.emit(self._document))
        self.print_button.clicked.connect(lambda: self.print_wanted.emit(self._document))
        box.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addLayout(across, 1)
        layout.addWidget(box)

    def _take_sheet(self) -> None:
        """Write the lengths of a sheet that is known by name into the fields."""
        grid = self._sheets.get(str(self.sheet.currentData()))
        if grid is not None:
            for name, length in self.lengths.items():
                with QSignalBlocker(length):
                    length.setValue(getattr(grid, name))
            for name, count in self.counts.items():
                with QSignalBlocker(count):
                    count.setValue(getattr(grid, name))
        self._tell()

    def _measure(self) -> None:
        """Let the fields hold what a person has measured."""
        with QSignalBlocker(self.sheet):
            self.sheet.setCurrentIndex(self.sheet.count() - 1)
        self._tell()

    def _tell(self) -> None:
        try:
            grid = LabelGrid(
                **{name: box.value() for name, box in self.lengths.items()},
                columns=self.counts["columns"].value(),
                rows=self.counts["rows"].value(),
            )
        except LabelSheetError as error:
            self.refuse(str(error))
            return
        with QSignalBlocker(self.start):
            self.start.setMaximum(grid.columns * grid.rows)
        self.wrong.clear()
        self.of.setText(self.tr("laying out…"))
        self._document = None
        self._enable()
        self.changed.emit(LabelPrint(grid, self.start.value(), self.marks.currentData()))

    def _show_page(self, number: int) -> None:
        self.preview.show_sheet(self._document, number - 1)

    def _enable(self) -> None:
        for button in (self.save, self.print_button):
            button.setEnabled(self._document is not None)
