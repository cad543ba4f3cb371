"""A type of one's own as a form: identity, base, heater, ratings and points.

The text of the file stays the one thing that is edited: every change here is a change of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from curvelab.errors import CurvelabError
from curvelab.reference.fields import RATING_FIELDS
from curvelab.reference.table import SOURCE_KINDS
from curvelab.reference.typeedit import (
    add_limit,
    add_row,
    add_source,
    remove,
    set_bogey,
    set_origin,
    set_socket,
    set_value,
)
from curvelab.reference.typeparts import Place, Row, TypeParts, parts_of, place_of_refusal
from curvelab.window.edit_table import SOURCE, STATUS, EditTableView
from curvelab.window.theme import Theme
from curvelab.window.type_columns import (
    FROM_MEMORY,
    limit_words,
    origin_columns,
    part_columns,
)
from curvelab.workbench.own_types import known_sources, known_words, with_curves

__all__ = ["TypeForm"]

_CHOSEN_WORDS = ("kind", "cathode")
_NEW_POINT = {"plate_v": "250", "grid_v": "-1", "plate_ma": "1"}
_NEW_HEATER = {"heater_v": "6.3", "heater_a": "0.3", "arrangement": "single"}
_INK = 60  # of 255
_NARROW = QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon


class TypeForm(QScrollArea):
    """Shows the parts of a type file and asks for changes of its text."""

    edited = Signal(str)  # the whole text after a change
    refused = Signal(str)
    file_wanted = Signal()  # with curves that were read off a sheet

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setAccessibleName(self.tr("The type as a form"))
        self._theme, self._text, self._fixed = theme, "", True
        self._parts: TypeParts | None = None
        self.fields: dict[str, QLineEdit | QComboBox] = {}
        self.beside: dict[str, QLabel] = {}
        self.heaters = EditTableView(self.tr("Heaters or filaments"))
        self.limits = EditTableView(self.tr("Limits of the rating systems"))
        self.points = EditTableView(self.tr("Points as a triode"))
        self.pentode_points = EditTableView(self.tr("Points with the screen at its own voltage"))
        self.system, self.limit = QComboBox(), QComboBox()
        self.limit_value = QLineEdit()
        self.curves = EditTableView(self.tr("Published curves, read off"))
        self.curves_source, self.curves_accuracy = QComboBox(), QLineEdit()
        self.source_title, self.source_kind = QLineEdit(), QComboBox()
        self.not_read = QLabel()
        self._buttons: list[QPushButton] = []
        self.buttons: dict[str, QPushButton] = {}
        self._lay_out()

    def show_text(self, text: str, *, fixed: bool) -> None:
        """Show the parts of a text; with ``fixed`` none of them can be changed."""
        self._text, self._fixed = text, fixed
        try:
            self._parts = parts_of(text)
        except CurvelabError as error:
            self._parts = None
            self.not_read.setText(self.tr("Put the file right first: {0}").format(error))
        self.not_read.setVisible(self._parts is None)
        self._body.setVisible(self._parts is not None)
        if self._parts is not None:
            self._show(self._parts)

    def show_refusal(self, message: str | None) -> None:
        """Say beside the field that a refusal is about what is wrong with it; None for nothing."""
        ink = QColor(self._theme.colours.weight["reject"])
        for label in self.beside.values():
            label.setText("")
            label.setStyleSheet(f"color: {ink.name()}")
            label.hide()
        ink.setAlpha(_INK)
        for view in self._views().values():
            view.table.mark(None, "", "", ink)
        found = place_of_refusal(message) if message else None
        if found is None or message is None or self._parts is None:
            return
        place, key = found
        said = f"{key}: {message.partition(': ')[2]}"
        name, row, column = self._where(place, key)
        if name not in self.beside:
            return
        label = self.beside[name]
        label.setText(said)
        label.show()
        if row is not None:
            self._views()[name].table.mark(row, column, said, ink)
        if not self.isAncestorOf(self.focusWidget() or self):
            self.ensureWidgetVisible(label)

    def _where(self, place: Place, key: str) -> tuple[str, int | None, str]:
        """Return the part of the form, the row and the column of a place in the text."""
        if not place or place == ("socket",):
            return key, None, ""
        name = str(place[0])
        if name == "ratings":
            rows = self._parts.limits if self._parts else ()
            for number, row in enumerate(rows):
                if row.place == place and key in (row.values["limit"], "system", *_ORIGIN):
                    own = row.values["limit"] == key
                    return name, number, "value" if own else key
            return name, None, ""
        rows = self._rows_of(name)
        for number, row in enumerate(rows):
            if row.place == place:
                return name, number, key
        return name, None, ""

    def _rows_of(self, name: str) -> tuple[Row, ...]:
        parts = self._parts
        if parts is None:
            return ()
        rows = {
            "heater": parts.heaters,
            "ratings": parts.limits,
            "points": parts.points,
            "pentode_points": parts.pentode_points,
            "curves": parts.curves,
        }
        return rows.get(name, ())

    def _views(self) -> dict[str, EditTableView]:
        return {
            "heater": self.heaters,
            "ratings": self.limits,
            "points": self.points,
            "pentode_points": self.pentode_points,
            "curves": self.curves,
        }

    # Laid out once ------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self._body = QWidget()
        column = QVBoxLayout(self._body)
        column.addWidget(self._identity())
        heater, ratings, points, screened, curves = (
            self._table(name, words)
            for name, words in (
                ("heater", self.tr("Heater or filament")),
                ("ratings", self.tr("Ratings, each under its rating system")),
                ("points", self.tr("Points of the handbook, as a triode")),
                ("pentode_points", self.tr("Points with the screen at a voltage of its own")),
                ("curves", self.tr("Published curves, as read off")),
            )
        )
        self._add_buttons("heater", heater, self.tr("Add a heater"))
        self._add_limit_line(ratings)
        self._add_buttons("points", points, self.tr("Add a point"))
        self._add_buttons("pentode_points", screened, self.tr("Add a point with a screen"))
        self._add_curves_line(curves)
        self._screened = screened
        for group in (heater, ratings, points, screened, curves, self._sources()):
            column.addWidget(group)
        column.addStretch(1)
        whole = QWidget()
        under = QVBoxLayout(whole)
        self.not_read.setWordWrap(True)
        self.not_read.setTextFormat(Qt.TextFormat.PlainText)
        under.addWidget(self.not_read)
        under.addWidget(self._body, 1)
        self.setWidget(whole)
        for name, view in self._views().items():
            view.table.edited.connect(
                lambda row, key, written, name=name: self._change_cell(name, row, key, written)
            )

    def _identity(self) -> QGroupBox:
        group = QGroupBox(self.tr("Identity, base"))
        grid = QGridLayout(group)
        named = (
            ("name", self.tr("Name")),
            ("aliases", self.tr("Also known as")),
            ("kind", self.tr("Kind")),
            ("cathode", self.tr("Cathode")),
            ("near", self.tr("Near types")),
            ("base", self.tr("Base")),
            ("basing_code", self.tr("Basing code")),
        )
        for line, (key, words) in enumerate(named):
            field: QLineEdit | QComboBox = QComboBox() if key in _CHOSEN_WORDS else QLineEdit()
            if isinstance(field, QComboBox):
                field.setEditable(True)
                field.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
                field.addItems(known_words(key))
                edit = field.lineEdit()
                field.activated.connect(lambda _, key=key: self._change_text(key))
            else:
                edit = field
            assert edit is not None
            edit.editingFinished.connect(lambda key=key: self._change_text(key))
            field.setAccessibleName(words)
            label = QLabel(words)
            label.setBuddy(field)
            self.fields[key], self.beside[key] = field, self._wrong_label()
            grid.addWidget(label, line, 0)
            grid.addWidget(field, line, 1)
            grid.addWidget(self.beside[key], line, 2)
        for key in ("aliases", "near"):
            self.fields[key].setToolTip(self.tr("with commas between"))
        grid.setColumnStretch(1, 3)
        grid.setColumnStretch(2, 2)
        return group

    def _table(self, name: str, words: str) -> QGroupBox:
        group = QGroupBox(words)
        column = QVBoxLayout(group)
        self.beside[name] = self._wrong_label()
        column.addWidget(self.beside[name])
        column.addWidget(self._views()[name])
        return group

    def _add_buttons(self, name: str, group: QGroupBox, words: str) -> None:
        line = QHBoxLayout()
        line.addWidget(self._button(f"add-{name}", words, lambda: self._add(name)))
        line.addWidget(self._remove_button(name))
        line.addStretch(1)
        layout = group.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addLayout(line)

    def _add_limit_line(self, group: QGroupBox) -> None:
        self.system.setEditable(True)
        self.system.setAccessibleName(self.tr("Rating system of the new limit"))
        self.limit.setAccessibleName(self.tr("New limit"))
        for key, field in RATING_FIELDS.items():
            self.limit.addItem(limit_words(field), key)
        for box in (self.system, self.limit):
            box.setSizeAdjustPolicy(_NARROW)
            box.setMinimumContentsLength(12)
        self.limit_value.setAccessibleName(self.tr("Figure of the new limit"))
        self.limit_value.setPlaceholderText(self.tr("figure"))
        self.limit_value.setMinimumWidth(70)
        self.limit_value.setMaximumWidth(110)
        self.limit_value.returnPressed.connect(lambda: self._add("ratings"))
        line, under = QHBoxLayout(), QHBoxLayout()
        line.addWidget(self.system, 1)
        line.addWidget(self.limit, 1)
        line.addWidget(self.limit_value)
        under.addWidget(
            self._button("add-ratings", self.tr("Add the limit"), lambda: self._add("ratings"))
        )
        under.addWidget(self._remove_button("ratings"))
        under.addStretch(1)
        layout = group.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addLayout(line)
        layout.addLayout(under)

    def _add_curves_line(self, group: QGroupBox) -> None:
        self.curves_source.setSizeAdjustPolicy(_NARROW)
        self.curves_source.setMinimumContentsLength(12)
        self.curves_source.setAccessibleName(self.tr("Source of the curves"))
        self.curves_accuracy.setPlaceholderText(self.tr("accuracy, such as: about 2 V and 0.1 mA"))
        self.curves_accuracy.setAccessibleName(self.tr("How closely they could be read off"))
        line, under = QHBoxLayout(), QHBoxLayout()
        line.addWidget(self.curves_source, 1)
        line.addWidget(self.curves_accuracy, 1)
        words = self.tr("Curves from a sweep file…")
        under.addWidget(self._button("add-curves", words, self.file_wanted.emit))
        under.addWidget(self._remove_button("curves"))
        under.addStretch(1)
        layout = group.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addLayout(line)
        layout.addLayout(under)

    def take_curves(self, path: Path) -> None:
        """Put the curves of a file into the text."""
        source, accuracy = self.curves_source.currentData(), self.curves_accuracy.text()
        self._try(lambda: with_curves(self._text, path, source, accuracy))

    def _sources(self) -> QGroupBox:
        group = QGroupBox(self.tr("A source of your own"))
        line = QHBoxLayout(group)
        self.source_title.setPlaceholderText(self.tr("title, edition, page or sheet, date"))
        self.source_title.setAccessibleName(self.tr("Title of the source"))
        self.source_kind.addItems(SOURCE_KINDS)
        self.source_kind.setCurrentText("page")
        self.source_kind.setAccessibleName(self.tr("Kind of the source"))
        line.addWidget(self.source_title, 1)
        line.addWidget(self.source_kind)
        line.addWidget(self._button("add-source", self.tr("Add the source"), self._add_source))
        return group

    def _button(self, name: str, words: str, act: Callable[[], None]) -> QPushButton:
        button = QPushButton(words)
        button.setAutoDefault(False)
        button.clicked.connect(lambda: act())
        self.buttons[name] = button
        return button

    def _remove_button(self, name: str) -> QPushButton:
        words = self.tr("Remove the chosen line")
        return self._button(f"remove-{name}", words, lambda: self._remove(name))

    @staticmethod
    def _wrong_label() -> QLabel:
        label = QLabel()
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.hide()
        return label

    # Shown anew with each text ------------------------------------------------------------

    def _show(self, parts: TypeParts) -> None:
        for key, field in self.fields.items():
            written = parts.texts[key]
            if isinstance(field, QComboBox):
                if field.currentText() != written:
                    field.setEditText(written)
                field.setEnabled(not self._fixed)
            else:
                if field.text() != written:
                    field.setText(written)
                field.setReadOnly(self._fixed)
        titles = {**known_sources(), **parts.sources}
        origin = origin_columns(titles)
        for name, columns in part_columns().items():
            self._views()[name].show_rows(
                (*columns, *origin), self._rows_of(name), fixed=self._fixed
            )
        kind = parts.texts["kind"]
        screened = "pentode" in kind or "tetrode" in kind or bool(parts.pentode_points)
        self._screened.setVisible(screened)
        chosen = self.curves_source.currentData()
        self.curves_source.clear()
        self.curves_source.addItem(self.tr("read off which publication?"), "")
        for name, title in reversed(titles.items()):
            self.curves_source.addItem(f"{name}: {title}", name)
        self.curves_source.setCurrentIndex(max(self.curves_source.findData(chosen), 0))
        system = self.system.currentText()
        self.system.clear()
        self.system.addItems(list(dict.fromkeys(row.values["system"] for row in parts.limits)))
        self.system.setEditText(system or self.system.itemText(0) or "design-center")
        for widget in (
            *self.buttons.values(),
            self.system,
            self.limit,
            self.limit_value,
            self.source_title,
            self.source_kind,
            self.curves_source,
            self.curves_accuracy,
        ):
            widget.setEnabled(not self._fixed)

    # What a person does -------------------------------------------------------------------

    def _change_text(self, key: str) -> None:
        field = self.fields[key]
        written = field.currentText() if isinstance(field, QComboBox) else field.text()
        if self._fixed or self._parts is None or written.strip() == self._parts.texts[key]:
            return
        if key in ("base", "basing_code"):
            self._try(lambda: set_socket(self._text, key, written, *self._usual()))
        else:
            self._try(lambda: set_value(self._text, (), key, written))

    def _change_cell(self, name: str, row: Row, key: str, written: str) -> None:
        limit = row.values["limit"] if name == "ratings" else None
        if name == "curves":
            self._try(lambda: set_value(self._text, row.place, key, written))
        elif key in (SOURCE, STATUS):
            origin = {SOURCE: row.source, STATUS: row.status, key: written}
            self._try(
                lambda: set_origin(self._text, row.place, limit, origin[SOURCE], origin[STATUS])
            )
        elif key == "bogey" and written:
            self._try(lambda: set_bogey(self._text, row.place))
        else:
            under = limit if limit is not None and key == "value" else key
            self._try(lambda: set_value(self._text, row.place, under, written))

    def _add(self, name: str) -> None:
        rows = self._rows_of(name)
        origin = (rows[-1].source, FROM_MEMORY) if rows else self._usual()
        if name == "ratings":
            key, written = self.limit.currentData(), self.limit_value.text()
            self._try(
                lambda: add_limit(self._text, self.system.currentText(), key, written, *origin)
            )
            return
        like: Mapping[str, str] = _NEW_HEATER if name == "heater" else _NEW_POINT
        if name == "pentode_points":
            like = {**like, "screen_v": "250"}
        if name != "heater" and not rows:
            like = {**like, "bogey": "true"}
        self._try(lambda: add_row(self._text, name, like, *origin))

    def _remove(self, name: str) -> None:
        row = self._views()[name].chosen
        if row is not None:
            limit = row.values["limit"] if name == "ratings" else None
            self._try(lambda: remove(self._text, row.place, limit))

    def _add_source(self) -> None:
        title, kind = self.source_title.text(), self.source_kind.currentText()
        if self._try(lambda: add_source(self._text, title, kind)[0]):
            self.source_title.clear()

    def _usual(self) -> tuple[str, str]:
        """Return the source and status that a new figure gets."""
        parts = self._parts
        rows = (*parts.heaters, *parts.limits, *parts.points) if parts else ()
        return (rows[0].source if rows else next(iter(known_sources()), ""), FROM_MEMORY)

    def _try(self, change: Callable[[], str]) -> bool:
        try:
            text = change()
        except CurvelabError as error:
            self.refused.emit(str(error))
            return False
        self.edited.emit(text)
        return True


_ORIGIN = (SOURCE, STATUS)
