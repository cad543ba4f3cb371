"""A type of one's own as a form: identity, base, heater, ratings and points.

The text of the file stays the one thing that is edited: every change here is a change of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

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
from curvelab.reference.fields import RATING_FIELDS, Field
from curvelab.reference.records import Status
from curvelab.reference.table import SOURCE_KINDS
from curvelab.reference.typeedit import (
    Place,
    Row,
    TypeParts,
    add_limit,
    add_row,
    add_source,
    parts_of,
    place_of_refusal,
    remove,
    set_bogey,
    set_origin,
    set_socket,
    set_value,
)
from curvelab.window.edit_table import SOURCE, STATUS, EditColumn, EditTableView
from curvelab.window.theme import Theme
from curvelab.workbench.own_types import known_sources, known_words

__all__ = ["TypeForm"]

_MEMORY = Status.FROM_MEMORY.value
_ARRANGED = {name: name for name in ("single", "series", "parallel", "filament", "common")}
_CHOSEN_WORDS = ("kind", "cathode")
_NEW_POINT = {"plate_v": "250", "grid_v": "-1", "plate_ma": "1"}
_NEW_HEATER = {"heater_v": "6.3", "heater_a": "0.3", "arrangement": "single"}
_INK = 60  # of 255
_NARROW = QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon


class TypeForm(QScrollArea):
    """Shows the parts of a type file and asks for changes of its text."""

    edited = Signal(str)  # the whole text after a change
    refused = Signal(str)

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
        }
        return rows.get(name, ())

    def _views(self) -> dict[str, EditTableView]:
        return {
            "heater": self.heaters,
            "ratings": self.limits,
            "points": self.points,
            "pentode_points": self.pentode_points,
        }

    # Laid out once ------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self._body = QWidget()
        column = QVBoxLayout(self._body)
        column.addWidget(self._identity())
        heater, ratings, points, screened = (
            self._table(name, words)
            for name, words in (
                ("heater", self.tr("Heater or filament")),
                ("ratings", self.tr("Ratings, each under its rating system")),
                ("points", self.tr("Points of the handbook, as a triode")),
                ("pentode_points", self.tr("Points with the screen at a voltage of its own")),
            )
        )
        self._add_buttons("heater", heater, self.tr("Add a heater"))
        self._add_limit_line(ratings)
        self._add_buttons("points", points, self.tr("Add a point"))
        self._add_buttons("pentode_points", screened, self.tr("Add a point with a screen"))
        self._screened = screened
        for group in (heater, ratings, points, screened, self._sources()):
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
            self.limit.addItem(_words(field), key)
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
        origin = self._origin_columns(parts)
        for name, columns in self._columns().items():
            self._views()[name].show_rows(
                (*columns, *origin), self._rows_of(name), fixed=self._fixed
            )
        kind = parts.texts["kind"]
        screened = "pentode" in kind or "tetrode" in kind or bool(parts.pentode_points)
        self._screened.setVisible(screened)
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
        ):
            widget.setEnabled(not self._fixed)

    def _origin_columns(self, parts: TypeParts) -> tuple[EditColumn, EditColumn]:
        titles = {**known_sources(), **parts.sources}
        choices = {name: f"{name}: {title}" for name, title in titles.items()}
        return (
            EditColumn(self.tr("status"), STATUS, choices=self._kinds()),
            EditColumn(self.tr("source"), SOURCE, choices=choices, words=choices),
        )

    def _kinds(self) -> dict[str, str]:
        """Return how well a figure may be known, in the file's words and in those shown."""
        return {
            _MEMORY: self.tr("from memory"),
            Status.VERIFIED.value: self.tr("verified (seen printed)"),
        }

    def _columns(self) -> dict[str, tuple[EditColumn, ...]]:
        limits = {key: _words(field) for key, field in RATING_FIELDS.items()}
        volts = {
            "plate_v": self.tr("Vp (V)"),
            "screen_v": self.tr("Vs (V)"),
            "grid_v": self.tr("Vg (V)"),
        }
        bias = {"cathode_ohm": self.tr("Rk (ohm)"), "supply_v": self.tr("supply (V)")}
        drawn = {"plate_ma": self.tr("Ip (mA)"), "screen_ma": self.tr("Is (mA)")}
        slopes = {
            "mu": self.tr("mu"),
            "mu_g1_g2": self.tr("mu g1-g2"),
            "gm_umho": self.tr("gm (µmho)"),
            "rp_ohm": self.tr("rp (ohm)"),
        }
        bogey = EditColumn(self.tr("bogey"), "bogey", ticked=True)

        def of(*keys: str) -> tuple[EditColumn, ...]:
            titles = volts | bias | drawn | slopes
            return (*(EditColumn(titles[key], key) for key in keys), bogey)

        return {
            "heater": (
                EditColumn(self.tr("volts"), "heater_v"),
                EditColumn(self.tr("amperes"), "heater_a"),
                EditColumn(self.tr("arrangement"), "arrangement", choices=_ARRANGED),
            ),
            "ratings": (
                EditColumn(self.tr("limit"), "limit", fixed=True, words=limits),
                EditColumn(self.tr("figure"), "value"),
                EditColumn(self.tr("rating system"), "system"),
            ),
            "points": of(
                "plate_v",
                "grid_v",
                "cathode_ohm",
                "supply_v",
                "plate_ma",
                "mu",
                "gm_umho",
                "rp_ohm",
            ),
            "pentode_points": of(
                "plate_v",
                "screen_v",
                "grid_v",
                "cathode_ohm",
                "plate_ma",
                "screen_ma",
                "gm_umho",
                "rp_ohm",
                "mu_g1_g2",
            ),
        }

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
        if key in (SOURCE, STATUS):
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
        origin = (rows[-1].source, _MEMORY) if rows else self._usual()
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
        return (rows[0].source if rows else next(iter(known_sources()), ""), _MEMORY)

    def _try(self, change: Callable[[], str]) -> bool:
        try:
            text = change()
        except CurvelabError as error:
            self.refused.emit(str(error))
            return False
        self.edited.emit(text)
        return True


_ORIGIN = (SOURCE, STATUS)


def _words(field: Field) -> str:
    return f"{field.name.replace('_', ' ')} ({field.unit.symbol})"
