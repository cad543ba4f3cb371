"""From lines to segments: which lines are metadata, headings, set-points and readings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from curvelab.ingest.dialect import COMMENT_MARKS, Dialect, separator_line
from curvelab.ingest.headings import Column, Heading, is_long, is_wide, read_heading
from curvelab.ingest.metadata import (
    add_pair,
    canonical_key,
    read_assignments,
    read_pair,
    read_set_up,
    succeed,
)
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
    readings (a footer) still speaks of them. ``set_up`` is what the lines before it
    state of those settings that a bench may change from one block to the next.
    """

    metadata: dict[str, str]
    constants: dict[Column, float]
    headings: list[Heading] | None
    heading_line: int = 0
    units: list[Unit | None] | None = None
    line: list[int] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    set_up: dict[Column, float] = field(default_factory=dict)


@dataclass(slots=True)
class Scan:
    """All segments of a file, and the lines that belong to none."""

    segments: list[Segment] = field(default_factory=list)
    not_understood: list[tuple[int, str, str]] = field(default_factory=list)
    titles: list[tuple[int, str]] = field(default_factory=list)
    first_heading: tuple[int, str] | None = None

    @property
    def headings(self) -> list[Heading]:
        """The headings of every segment."""
        return [item for segment in self.segments for item in segment.headings or ()]


def scan(
    lines: Sequence[str], dialect: Dialect, read: Callable[[str], Heading] = read_heading
) -> Scan:
    """Sort the lines of a file into segments; ``read`` tells what a heading cell says."""
    return _Scanner(dialect, read).run(lines)


@dataclass(frozen=True, slots=True)
class _Line:
    """One line with its cells; ``numbers`` counts those that hold or miss a number."""

    number: int
    text: str
    cells: list[str]
    filled: list[str]
    numbers: int


class _Scanner:
    """The state between one line and the next."""

    def __init__(self, dialect: Dialect, read: Callable[[str], Heading]) -> None:
        self.dialect = dialect
        self.read_cell = read
        self.scan = Scan()
        self.metadata: dict[str, str] = {}
        self.pending: dict[str, str] = {}
        self.headings: list[Heading] | None = None
        self.heading_line = 0
        self.units: list[Unit | None] | None = None
        self.constants: dict[Column, float] = {}
        self.segment: Segment | None = None
        self.commented: tuple[int, list[Heading]] | None = None
        self.heading_is_comment = False
        # What a line may be, in the order in which it is tried.
        self.kinds = (
            self.take_empty_corner,
            self.take_clean_row,
            self.take_units,
            self.take_set_point,
            self.take_heading,
            self.take_known_pair,
            self.take_damaged_row,
            self.take_metadata,
            self.take_text,
        )

    def run(self, lines: Sequence[str]) -> Scan:
        """Sort every line."""
        like_row = [line[:1] in _ROW_START for line in lines]
        if max(map(len, lines), default=0) > LONGEST_LINE:
            like_row = [
                like and len(line) <= LONGEST_LINE
                for like, line in zip(like_row, lines, strict=True)
            ]
        like_row.append(False)
        at = 0
        while at < len(lines):
            if self.segment is not None and like_row[at]:
                end = like_row.index(False, at)
                self.segment.line.extend(range(at + 1, end + 1))
                self.segment.text.extend(lines[at:end])
                at = end
            else:
                self.take_line(at + 1, lines[at].strip(" \ufeff\f"))
                at += 1
        self.close_block()
        return self.scan

    def take_line(self, number: int, text: str) -> None:
        """Sort one line unless it is empty or too long to be looked at."""
        if len(text) > LONGEST_LINE:
            reason = f"the line is {len(text)} characters long"
            self.scan.not_understood.append((number, text, reason))
        elif text and text.strip(";,\t |"):
            self.take(number, text)

    def take(self, number: int, text: str) -> None:
        """Sort one line."""
        if text.startswith('"') and text[1:].lstrip().startswith(COMMENT_MARKS):
            text = text.replace('"', "")  # a spreadsheet quotes a comment that holds a comma
        if text.startswith(COMMENT_MARKS):
            self.take_comment(number, text.lstrip("#%/").strip())
            return
        if self.take_labelled_row(number, text) or separator_line(text) is not None:
            return
        cells = self.dialect.cells(text)
        filled = [cell for cell in cells if cell]
        if not filled:
            return
        numbers = sum(1 for cell in filled if looks_numeric(cell) or is_missing(cell))
        line = _Line(number, text, cells, filled, numbers)
        for take_as in self.kinds:
            if take_as(line):
                return

    def take_labelled_row(self, number: int, text: str) -> bool:
        """Read at a glance a row that begins with a tube's name.

        It has the cells of the heading, and the second begins like a number.
        """
        if self.segment is None or self.headings is None or ":" in text or "=" in text:
            return False
        first = self.headings[0].column
        if first is None or first.dimension is not None:
            return False
        separator = self.dialect.separator
        if text.count(separator) != len(self.headings) - 1:
            return False
        if text.partition(separator)[2].lstrip()[:1] not in _ROW_START:
            return False
        self.segment.line.append(number)
        self.segment.text.append(text)
        return True

    def take_comment(self, number: int, text: str) -> None:
        """Read a comment: set-points, a pair, a commented heading, or free text."""
        pair = read_pair(text)
        if self.set_points(read_assignments(text)):
            return
        if pair is not None:
            self.add_pair(pair)
            return
        headings = [self.read_cell(cell) for cell in self.dialect.heading_cells(text)]
        if is_long(headings) and (self.headings is None or self.heading_is_comment):
            self.commented = (number, headings)
            self.segment = None

    def take_empty_corner(self, line: _Line) -> bool:
        """Read a wide heading of bare numbers under an empty corner."""
        if line.cells[0] or not (self.headings is None or self.repeats_heading(line)):
            return False
        return self.take_heading(line)

    def repeats_heading(self, line: _Line) -> bool:
        """Tell whether a line is the heading above once more."""
        return [item.text.strip() for item in self.headings or ()] == line.cells

    def take_clean_row(self, line: _Line) -> bool:
        """Read a row of nothing but numbers."""
        if line.numbers < len(line.filled) or (self.headings is None and line.numbers < 2):
            return False
        return self.add_row(line)

    def take_units(self, line: _Line) -> bool:
        """Read the units of the heading just above."""
        if self.headings is None or self.segment is not None or self.units is not None:
            return False
        filled = [cell for cell in line.cells if cell.strip("-")]
        if not filled or any(find_unit(cell) is None for cell in filled):
            return False
        self.units = [find_unit(cell) for cell in line.cells]
        return True

    def take_set_point(self, line: _Line) -> bool:
        """Read ``grid_v = -2`` and the like; the block that follows is at that voltage."""
        if len(line.filled) > 2 and "=" not in line.text:
            return False
        found = read_assignments(line.text)
        if found is None and len(line.filled) == 2:
            found = read_assignments("=".join(line.filled))
        return self.set_points(found)

    def take_heading(self, line: _Line) -> bool:
        """Read a heading, the first or a later one."""
        pair = read_pair(line.text)
        if pair is not None and canonical_key(pair[0]) is not None and len(line.cells) <= 2:
            return False
        headings = self.read_headings(line)
        if headings is None:
            return False
        self.headings, self.heading_line, self.units = headings, line.number, None
        self.segment = self.commented = None
        self.heading_is_comment = False
        if self.scan.first_heading is None:
            self.scan.first_heading = (line.number, line.text)
        return True

    def take_damaged_row(self, line: _Line) -> bool:
        """Read a row under a heading some of whose cells are no numbers.

        A line of prose or a pair has one cell, or hardly one that is a number.
        """
        if self.headings is None:
            return False
        columns = [item.column for item in self.headings]
        words = sum(1 for item in columns if item is not None and item.dimension is None)
        words += columns.count(Column.TIME)
        enough = max(1, (len(columns) - words) // 2)
        full = line.numbers >= 1 and len(line.cells) >= len(columns) > 1
        return (line.numbers >= enough or full) and self.add_row(line)

    def take_known_pair(self, line: _Line) -> bool:
        """Read a pair of a known key, even if its value looks like half a row."""
        pair = read_pair(line.text, ":=")
        if pair is None or canonical_key(pair[0]) is None:
            return False
        self.add_pair(pair)
        return True

    def take_metadata(self, line: _Line) -> bool:
        """Read a pair without a comment mark."""
        pair = read_pair(line.text)
        if pair is None and len(line.filled) == 2 and canonical_key(line.filled[0]) is not None:
            pair = (line.filled[0], line.filled[1])
        if pair is None:
            return False
        most = 1 if self.segment is not None else 2
        if canonical_key(pair[0]) is None and len(line.filled) > most:
            return False
        self.add_pair(pair)
        return True

    def take_text(self, line: _Line) -> bool:
        """Keep a line that is nothing of the above."""
        if self.scan.first_heading is None and len(line.filled) > 1:
            self.scan.first_heading = (line.number, line.text)
        if self.scan.segments or self.headings is not None:
            reason = "the line is neither a reading, a heading nor a key with its value"
            self.scan.not_understood.append((line.number, line.text, reason))
        else:
            self.scan.titles.append((line.number, shorten(line.text)))
        return True

    def read_headings(self, line: _Line) -> list[Heading] | None:
        """Return the cells of a line as headings, or None if they are none."""
        ways = [line.cells]
        if self.dialect.separator == " ":
            ways.insert(0, self.dialect.heading_cells(line.text))
        for cells in ways:
            headings = [self.read_cell(cell) for cell in cells]
            if is_long(headings) or (is_wide(headings) and self.may_be_wide(cells)):
                return headings
        return None

    def may_be_wide(self, cells: list[str]) -> bool:
        """Tell a later wide heading from a row whose first cell is no number.

        It repeats the corner of the one before, or its steps are more than numbers.
        """
        if self.headings is None or cells[0] == self.headings[0].text.strip():
            return True
        return sum(1 for cell in cells[1:] if any(map(str.isalpha, cell))) >= 2

    def add_row(self, line: _Line) -> bool:
        """Put a line among the rows of the present segment, opening one if need be."""
        if self.segment is None:
            self.close_block()
            if self.commented is not None:
                self.heading_line, self.headings = self.commented
                self.commented, self.heading_is_comment, self.units = None, True, None
            self.segment = Segment(
                self.metadata, dict(self.constants), self.headings, self.heading_line, self.units
            )
            self.segment.set_up = read_set_up(self.metadata)
            self.scan.segments.append(self.segment)
        self.segment.line.append(line.number)
        self.segment.text.append(line.text)
        return True

    def add_pair(self, pair: tuple[str, str]) -> None:
        """Gather metadata for the block that follows."""
        add_pair(self.pending, *pair)
        self.segment = None

    def set_points(self, found: dict[Column, float] | None) -> bool:
        """Take set-points for the rows that follow; False if there are none."""
        if found is None:
            return False
        self.segment = None
        for column, value in found.items():
            self.constants[column] = value
            if column in (Column.SCREEN_VOLTAGE, Column.HEATER_VOLTAGE):
                self.pending[column.value] = f"{value!r} V"
        return True

    def close_block(self) -> None:
        """Give gathered metadata to the present tube, or open the next with them."""
        if not self.pending:
            return
        following = succeed(self.metadata, self.pending) if self.scan.segments else None
        if following is None:
            for key, value in self.pending.items():
                add_pair(self.metadata, key, value)
        else:
            self.metadata = following
        self.pending = {}
