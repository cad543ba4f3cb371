"""What a person has said about how a bench writes its files.

Without such choices a file speaks for itself. With them nothing else changes: what is not
chosen is read, guessed or asked as ever.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column, Heading, read_heading
from curvelab.ingest.metadata import Key, canonical_key
from curvelab.ingest.scan import Segment
from curvelab.ingest.tables import Table
from curvelab.ingest.units import dimension_of, plain
from curvelab.quantities import Unit
from curvelab.sweep.records import Remark, RemarkCode

__all__ = [
    "CONNECTIONS",
    "NOTHING_CHOSEN",
    "ColumnChoice",
    "GridCurrentSign",
    "GridVoltsSign",
    "ReadingChoices",
    "heading_key",
    "name_by_choice",
    "numbered_heading",
    "state_identity",
]

CONNECTIONS = ("triode", "pentode", "triode-connected")
_MARKS = {",": "decimal commas", ".": "decimal points"}
_RANK_CHOSEN = 3  # above a measured value's


class GridVoltsSign(StrEnum):
    """What a grid voltage without a sign means."""

    AS_WRITTEN = "as written"
    NEGATIVE = "positive numbers mean negative bias"


class GridCurrentSign(StrEnum):
    """Which grid current is written as a positive number."""

    ELECTRONS = "electrons positive"
    REVERSE = "reverse positive"


@dataclass(frozen=True, slots=True)
class ColumnChoice:
    """What the cells under one heading hold.

    Attributes
    ----------
    heading : str
        As the file writes it; `numbered_heading` where there is none.
    column : Column or None
        None for a column that is not to be used.
    unit : Unit or None
        None leaves the unit to the heading and the values.
    """

    heading: str
    column: Column | None
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class ReadingChoices:
    """How files of one bench are to be read; what is None or empty is left to the file.

    Attributes
    ----------
    name : str
        Of the bench description the choices come from; empty for a person's own.
    encoding : str or None
        A key of `curvelab.ingest.decode.ENCODINGS`; a byte-order mark is stronger.
    decimal : str or None
        ``.`` or ``,``.
    columns : tuple of ColumnChoice
        By heading, so that a file with other headings is not touched.
    step_unit : Unit or None
        Of the plate currents under the steps of a wide table that state no unit.
    grid_volts, grid_current
        Signs; a file in the project's own form has its own.
    type_name, connection : str or None
        For files that name none.
    answers : tuple of str
        Choices of an earlier `AmbiguousFileError`.
    overrules : frozenset of str
        Fields (``type_name``, ``connection``, ``grid_current``, ``step_unit``) that also go
        against what the file itself says: a person's corrections of one file, not a bench's.
    """

    name: str = ""
    encoding: str | None = None
    decimal: str | None = None
    columns: tuple[ColumnChoice, ...] = ()
    step_unit: Unit | None = None
    grid_volts: GridVoltsSign | None = None
    grid_current: GridCurrentSign | None = None
    type_name: str | None = None
    connection: str | None = None
    answers: tuple[str, ...] = ()
    overrules: frozenset[str] = frozenset()

    @property
    def said_by(self) -> str:
        """Whose word it is, for remarks."""
        return f"as {self.name!r} says" if self.name else "as you chose"

    def answers_for(self, headings: Iterable[Heading]) -> tuple[str, ...]:
        """Return the answers, with those that a unit chosen for one of these headings gives."""
        units = (
            f"{item.column} in {item.unit.symbol}"
            for text in dict.fromkeys(heading.text for heading in headings)
            if (item := self.of_heading(text)) is not None
            and item.column is not None
            and item.unit is not None
        )
        return (*self.answers, *units)

    def names(self, column: Column) -> bool:
        """Tell whether a heading was chosen for a column."""
        return any(item.column is column for item in self.columns)

    def of_heading(self, text: str) -> ColumnChoice | None:
        """Return what was chosen for a heading."""
        if not self.columns:
            return None
        key = heading_key(text)
        return next((item for item in self.columns if heading_key(item.heading) == key), None)

    def heading(self, cell: str) -> Heading:
        """Return what one heading cell says, or what was chosen for it."""
        found = read_heading(cell)
        chosen = self.of_heading(cell)
        if chosen is not None:
            return self._chosen_heading(cell, found, chosen)
        plate_current = found.column in (None, Column.PLATE_CURRENT)
        if "step_unit" in self.overrules and found.step is not None:
            return replace(found, unit=self.step_unit) if plate_current else found
        return found

    def _chosen_heading(self, cell: str, found: Heading, chosen: ColumnChoice) -> Heading:
        if chosen.column is None:
            return Heading(cell)
        unit = chosen.unit or found.unit
        if unit is not None and dimension_of(unit) is not chosen.column.dimension:
            unit = None
        return Heading(cell, chosen.column, unit, rank=_RANK_CHOSEN)

    def corrected(self, **fields: object) -> ReadingChoices:
        """Return the choices with some made, or taken back with None, by a person."""
        made = frozenset(name for name, value in fields.items() if value is not None)
        overrules = self.overrules.difference(fields) | made
        return replace(self, name="", overrules=overrules, **fields)  # type: ignore[arg-type]

    def with_column(self, choice: ColumnChoice) -> ReadingChoices:
        """Return the choices with that of one heading made or changed by a person."""
        key = heading_key(choice.heading)
        others = (item for item in self.columns if heading_key(item.heading) != key)
        return self.corrected(columns=(*others, choice))

    def without_column(self, heading: str) -> ReadingChoices:
        """Return the choices with that of one heading taken back by a person."""
        key = heading_key(heading)
        kept = tuple(item for item in self.columns if heading_key(item.heading) != key)
        return self.corrected(columns=kept)

    def describe(self, headings: Sequence[Heading], decimal: str) -> list[Remark]:
        """Say which of the choices bear on a file with these headings and this decimal mark."""
        told = [
            _in_words(chosen)
            for text in dict.fromkeys(item.text for item in headings)
            if (chosen := self.of_heading(text)) is not None
        ]
        steps = any(item.step is not None for item in headings)
        if self.step_unit is not None and steps:
            told.append(f"plate current under the steps in {self.step_unit.symbol}")
        if self.decimal == decimal:
            told.append(_MARKS[decimal])
        remarks = [Remark(RemarkCode.CHOSEN, f"{'; '.join(told)}: {self.said_by}")] if told else []
        if self.decimal not in (None, decimal):
            text = (
                f"{_MARKS[decimal]}: the cells can hold nothing else, whatever {self.name!r} says"
            )
            remarks.append(Remark(RemarkCode.CHOSEN, text))
        return remarks


NOTHING_CHOSEN = ReadingChoices()


def heading_key(text: str) -> str:
    """Return a heading as it is compared: without regard to case and blanks."""
    return "".join(plain(text).split()).casefold()


def numbered_heading(at: int) -> str:
    """Return the name of a column, counted from 0, of a file without headings."""
    return f"column {at + 1}"


def _in_words(chosen: ColumnChoice) -> str:
    if chosen.column is None:
        return f"{chosen.heading!r} is not used"
    unit = "" if chosen.unit is None else f" in {chosen.unit.symbol}"
    return f"{chosen.heading!r} is {chosen.column}{unit}"


def name_by_choice(segments: Sequence[Segment], dialect: Dialect, choices: ReadingChoices) -> None:
    """Give segments without a heading the columns that were chosen by number, in place."""
    for segment in segments:
        if segment.headings is not None:
            continue
        width = len(dialect.cells(segment.text[0]))
        names = [numbered_heading(at) for at in range(width)]
        if sum(choices.of_heading(name) is not None for name in names) >= 2:
            segment.headings = [choices.heading(name) for name in names]


def state_identity(tables: Sequence[Table], choices: ReadingChoices) -> list[Remark]:
    """Let tables bear the type and the connection that were chosen, in place."""
    remarks = []
    for field, key, column in (
        ("type_name", Key.TYPE, Column.TYPE),
        ("connection", Key.CONNECTION, None),
    ):
        value = getattr(choices, field)
        if value is None:
            continue
        overrules = field in choices.overrules
        stated = [_state(table, key, value, column, overrules) for table in tables]
        if any(stated):
            remarks.append(Remark(RemarkCode.CHOSEN, f"{key} {value}: {choices.said_by}"))
    return remarks


def _state(table: Table, key: str, value: str, column: Column | None, overrules: bool) -> bool:
    own = [name for name, text in table.metadata.items() if canonical_key(name) == key and text]
    in_column = column is not None and any(table.words.get(column, ()))
    if (own or in_column) and not overrules:
        return False
    for name in own:
        del table.metadata[name]
    if column is not None:
        table.words.pop(column, None)
    table.metadata[key] = value
    return True
