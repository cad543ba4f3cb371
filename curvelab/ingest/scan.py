"""From lines to segments: which lines are metadata, headings, set-points and readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from curvelab.ingest.dialect import COMMENT_MARKS, Dialect, separator_line
from curvelab.ingest.headings import Column, Heading, is_long, is_wide, read_heading
from curvelab.ingest.metadata import canonical_key, read_assignments, read_pair, succeed
from curvelab.ingest.numbers import is_missing, looks_numeric, shorten
from curvelab.ingest.units import find_unit
from curvelab.quantities import Unit

__all__ = ["LONGEST_LINE", "Scan", "Segment", "scan"]

LONGEST_LINE = 10_000

# A line that begins so under a heading is a row; whether it can be read is seen later.
_ROW_START = frozenset("+-.0123456789")


@dataclass(slots=True)
class Segment:
    """Rows under one heading, with what was said of them before.

    ``metadata`` is shared by the segments of one tube: a line that comes after the
    readings (a footer) still speaks of them.
    """

    metadata: dict[str, str]
    constants: dict[Column, float]
    headings: list[Heading] | None
    heading_line: int = 0
    units: list[Unit | None] | None = None
    line: list[int] = field(default_factory=list)
    text: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Scan:
    """All segments of a file, and the lines that belong to none."""

    segments: list[Segment] = field(default_factory=list)
    not_understood: list[tuple[int, str, str]] = field(default_factory=list)
    titles: list[tuple[int, str]] = field(default_factory=list)
    first_heading: tuple[int, str] | None = None


def scan(lines: Sequence[str], dialect: Dialect) -> Scan:
    """Sort the lines of a file into segments."""
    return _Scanner(dialect).run(lines)


class _Scanner:
    """The state between one line and the next."""

    def __init__(self, dialect: Dialect) -> None:
        self.dialect = dialect
        self.scan = Scan()
        self.metadata: dict[str, str] = {}
        self.pending: dict[str, str] = {}
        self.headings: list[Heading] | None = None
        self.heading_line = 0
        self.units: list[Unit | None] | None = None
        self.constants: dict[Column, float] = {}
        self.segment: Segment | None = None
        self.commented: tuple[int, list[Heading]] | None = None

    def run(self, lines: Sequence[str]) -> Scan:
        too_long = max(map(len, lines), default=0) > LONGEST_LINE
        for number, line in enumerate(lines, 1):
            if self.segment is not None and line[:1] in _ROW_START:
                if not (too_long and len(line) > LONGEST_LINE):
                    self.segment.line.append(number)
                    self.segment.text.append(line)
                    continue
            text = line.strip(" \ufeff\f")
            if len(text) > LONGEST_LINE:
                reason = f"the line is {len(text)} characters long"
                self.scan.not_understood.append((number, text, reason))
            elif text and text.strip(";,\t |"):
                self.take(number, text)
        self.close_block()
        return self.scan

    def take(self, number: int, text: str) -> None:
        """Sort one line."""
        if text.startswith(COMMENT_MARKS):
            self.take_comment(number, text.lstrip("#%/").strip())
            return
        if separator_line(text) is not None:
            return
        cells = self.dialect.cells(text)
        filled = [cell for cell in cells if cell]
        numbers = sum(1 for cell in filled if looks_numeric(cell) or is_missing(cell))
        if not cells[0] and self.headings is None and self.take_heading(number, text, cells):
            return  # a wide heading of bare numbers under an empty corner
        if numbers == len(filled) and (self.headings is not None or numbers > 1):
            self.add_row(number, text)
        elif self.is_unit_row(cells):
            self.units = [find_unit(cell) for cell in cells]
        elif self.take_set_point(text, cells):
            pass
        elif self.take_heading(number, text, cells):
            pass
        elif self.is_row(cells, numbers):
            self.add_row(number, text)
        elif not self.take_metadata(text, filled):
            self.take_text(number, text, filled)

    def add_row(self, number: int, text: str) -> None:
        """Put a line among the rows of the present segment, opening one if need be."""
        if self.segment is None:
            self.close_block()
            headings = self.headings
            if headings is None and self.commented is not None:
                self.heading_line, headings = self.commented
                self.headings = headings
            self.segment = Segment(
                self.metadata, dict(self.constants), headings, self.heading_line, self.units
            )
            self.scan.segments.append(self.segment)
        self.segment.line.append(number)
        self.segment.text.append(text)

    def close_block(self) -> None:
        """Give gathered metadata to the present tube, or open the next with them."""
        if not self.pending:
            return
        following = succeed(self.metadata, self.pending) if self.scan.segments else None
        if following is None:
            self.metadata.update(self.pending)
        else:
            self.metadata = following
        self.pending = {}

    def take_comment(self, number: int, text: str) -> None:
        """Read a comment: set-points, a pair, a commented heading, or free text."""
        if self.take_set_point(text, []):
            return
        pair = read_pair(text)
        if pair is not None:
            self.add_pair(pair)
            return
        headings = [read_heading(cell) for cell in self.dialect.cells(text)]
        if is_long(headings) and self.headings is None:
            self.commented = (number, headings)

    def add_pair(self, pair: tuple[str, str]) -> None:
        key, value = pair
        self.pending[key] = value
        self.segment = None

    def is_unit_row(self, cells: list[str]) -> bool:
        """Tell whether cells are the units of the heading just above."""
        if self.headings is None or self.segment is not None or self.units is not None:
            return False
        filled = [cell for cell in cells if cell.strip("-")]
        return bool(filled) and all(find_unit(cell) is not None for cell in filled)

    def take_set_point(self, text: str, cells: list[str]) -> bool:
        """Read ``grid_v = -2`` and the like; the block that follows is at that voltage."""
        if sum(1 for cell in cells if cell) > 2 and "=" not in text:
            return False
        found = read_assignments(text)
        if found is None and len(cells) >= 2 and not any(cells[2:]):
            found = read_assignments(f"{cells[0]}={cells[1]}") if cells[0] and cells[1] else None
        if found is None:
            return False
        self.segment = None
        for column, value in found.items():
            self.constants[column] = value
            if column in (Column.SCREEN_VOLTAGE, Column.HEATER_VOLTAGE):
                self.pending[column.value] = repr(value) + " V"
        return True

    def take_heading(self, number: int, text: str, cells: list[str]) -> bool:
        """Read a heading; under a heading of words only a second long one counts."""
        headings = [read_heading(cell) for cell in cells]
        pair = read_pair(text)
        if pair is not None and canonical_key(pair[0]) is not None and len(cells) <= 2:
            return False
        if not (is_long(headings) or (is_wide(headings) and not self.has_word_column())):
            return False
        self.headings, self.heading_line, self.units = headings, number, None
        self.segment = None
        if self.scan.first_heading is None:
            self.scan.first_heading = (number, text)
        return True

    def has_word_column(self) -> bool:
        """Tell whether rows may begin with a word, so that one is no wide heading."""
        return any(
            item.column is not None and item.column.dimension is None
            for item in self.headings or ()
        )

    def is_row(self, cells: list[str], numbers: int) -> bool:
        """Tell whether cells under a heading are a row, readable or not.

        A line of prose or a pair has one cell, or none that is a number.
        """
        if self.headings is None:
            return False
        words = sum(1 for item in self.headings if item.column and item.column.dimension is None)
        clock = sum(1 for item in self.headings if item.column is Column.TIME)
        enough = max(1, (len(self.headings) - words - clock) // 2)
        return numbers >= enough or (numbers >= 1 and len(cells) >= len(self.headings) > 1)

    def take_metadata(self, text: str, filled: list[str]) -> bool:
        """Read a pair without a comment mark."""
        pair = read_pair(text)
        if pair is None and len(filled) == 2 and canonical_key(filled[0]) is not None:
            pair = (filled[0], filled[1])
        if pair is None:
            return False
        known = canonical_key(pair[0]) is not None
        if not known and (len(filled) > 2 or self.segment is not None and len(filled) > 1):
            return False
        self.add_pair(pair)
        return True

    def take_text(self, number: int, text: str, filled: list[str]) -> None:
        """Keep a line that is nothing of the above."""
        if self.scan.first_heading is None and len(filled) > 1:
            self.scan.first_heading = (number, text)
        if self.scan.segments or self.headings is not None:
            reason = "the line is neither a reading, a heading nor a key with its value"
            self.scan.not_understood.append((number, text, reason))
        else:
            self.scan.titles.append((number, shorten(text)))
