"""From the rows of a segment to columns of numbers: whole columns at once where they are clean."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column
from curvelab.ingest.numbers import LARGEST, is_missing, read_number, read_quantity, shorten
from curvelab.ingest.scan import Segment
from curvelab.ingest.units import dimension_of
from curvelab.quantities import SECOND, Unit
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["Cells", "NumberColumn", "read_cells"]

_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{1,2}(?:[.,]\d+)?)")
_DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class NumberColumn:
    """A column whose cells should be numbers."""

    column: Column
    unit: Unit | None


@dataclass(slots=True)
class Cells:
    """The cells of a segment's rows.

    Attributes
    ----------
    values : dict of int to ndarray
        By position in the heading, as written; NaN where a cell is empty or unreadable.
    units : dict of int to Unit or None
        Unit of each, from the heading, the unit row or the cells themselves.
    words : dict of int to sequence of str
        The columns of words.
    faults : dict of (int, int) to str
        By row and position, why a cell that is not empty could not be read. Position
        -1 speaks of the whole row.
    """

    line: IntArray
    values: dict[int, FloatArray]
    units: dict[int, Unit | None]
    words: dict[int, Sequence[str]]
    faults: dict[tuple[int, int], str] = field(default_factory=dict)


def read_cells(
    segment: Segment,
    dialect: Dialect,
    width: int,
    numbers: Mapping[int, NumberColumn],
    words: Sequence[int],
) -> Cells:
    """Read the columns at the given positions of every row of a segment.

    Parameters
    ----------
    width : int
        Number of cells of the heading.
    """
    positions = list(numbers)
    clean = _whole_columns(segment.text, dialect, width, positions, words)
    if clean is not None:
        return Cells(
            line=np.array(segment.line, dtype=np.int64),
            values=clean[0],
            units={at: item.unit for at, item in numbers.items()},
            words=clean[1],
        )
    return _RowReader(segment, dialect, width, numbers, words).read()


def _whole_columns(
    lines: Sequence[str],
    dialect: Dialect,
    width: int,
    positions: Sequence[int],
    words: Sequence[int],
) -> tuple[dict[int, FloatArray], dict[int, Sequence[str]]] | None:
    """Convert clean rows column by column; None if any row needs a closer look."""
    if dialect.decimal == ",":
        if any("." in line for line in lines):
            return None
        lines = [line.replace(",", ".") for line in lines]
    separator = None if dialect.separator == " " else dialect.separator
    all_used = len(positions) == width
    # Told which columns to use, numpy no longer minds rows of different width.
    if not all_used and not _are_even(lines, separator, width):
        return None
    try:
        table = np.loadtxt(
            lines,
            delimiter=separator,
            comments=None,
            usecols=None if all_used else positions,
            ndmin=2,
        )
    except ValueError:
        return None
    if table.shape[1] != len(positions) or not np.abs(table).max(initial=0.0) < LARGEST:
        return None
    order = sorted(positions) if all_used else positions
    columns: dict[int, FloatArray] = dict(zip(order, table.T, strict=True))
    cells = [line.split(separator) for line in lines] if words else []
    texts: dict[int, Sequence[str]] = {at: [row[at].strip() for row in cells] for at in words}
    return columns, texts


def _are_even(lines: Sequence[str], separator: str | None, width: int) -> bool:
    """Tell whether every row has the cells of the heading, or one empty one more."""
    if any('"' in line for line in lines):
        return False
    if separator is None:
        return all(len(line.split()) == width for line in lines)
    counts = {line.count(separator) for line in lines}
    if counts == {width}:
        return all(line.rstrip(" ").endswith(separator) for line in lines)
    return counts == {width - 1}


class _RowReader:
    """Reads row by row, keeping what is wrong with each."""

    def __init__(
        self,
        segment: Segment,
        dialect: Dialect,
        width: int,
        numbers: Mapping[int, NumberColumn],
        words: Sequence[int],
    ) -> None:
        self.segment = segment
        self.dialect = dialect
        self.width = width
        self.numbers = numbers
        self.units = {at: item.unit for at, item in numbers.items()}
        self.words: dict[int, list[str]] = {at: [] for at in words}
        self.clocks: set[int] = set()
        self.faults: dict[tuple[int, int], str] = {}

    def read(self) -> Cells:
        values = np.full((len(self.numbers), len(self.segment.text)), np.nan)
        line: list[int] = []
        for number, text in zip(self.segment.line, self.segment.text, strict=True):
            cells = self.dialect.cells(text)
            while cells and not cells[-1]:
                cells.pop()
            if not cells:
                continue
            row = len(line)
            line.append(number)
            self.check_width(row, cells)
            for slot, at in enumerate(self.numbers):
                values[slot, row] = self.number(row, at, cells[at] if at < len(cells) else "")
            for at, found in self.words.items():
                found.append(cells[at] if at < len(cells) else "")
        arrays = dict(zip(self.numbers, values[:, : len(line)], strict=True))
        for at in self.clocks:
            arrays[at] = _from_first(arrays[at])
        return Cells(
            np.array(line, dtype=np.int64), arrays, self.units, dict(self.words), self.faults
        )

    def check_width(self, row: int, cells: Sequence[str]) -> None:
        if len(cells) > self.width:
            reason = f"the row has {len(cells)} cells where the heading has {self.width}"
            self.faults[row, -1] = reason

    def number(self, row: int, at: int, cell: str) -> float:
        """Return a cell's number in the unit of its column, or NaN."""
        if not cell:
            return np.nan
        wanted = self.numbers[at].column
        value = read_number(cell, self.dialect.decimal)
        if value is not None and at not in self.clocks:
            return value
        if wanted is Column.TIME and (seconds := _clock(cell)) is not None:
            if row == 0 or at in self.clocks:
                self.clocks.add(at)
                self.units[at] = SECOND
                return seconds
        value = self.with_unit(row, at, cell)
        if value is None:
            why = is_missing(cell) or "cannot be read as a number"
            self.faults[row, at] = f"{wanted} {shorten(cell, 30)!r} {why}"
            return np.nan
        return value

    def with_unit(self, row: int, at: int, cell: str) -> float | None:
        """Read a cell that carries its own unit; the first one speaks for its column."""
        value, unit = read_quantity(cell, self.dialect.decimal) or (0.0, None)
        if unit is None or dimension_of(unit) is not self.numbers[at].column.dimension:
            return None
        own = self.units[at]
        if own is None:
            if row > 0:
                return None
            self.units[at] = own = unit
        return value if own == unit else own.from_si(unit.to_si(value))


def _clock(cell: str) -> float | None:
    """Return the seconds of a clock time or a date with time, or None."""
    found = _CLOCK.fullmatch(cell)
    if found is not None:
        hours, minutes, seconds = found.groups(default="0")
        return 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds.replace(",", "."))
    try:
        moment = datetime.fromisoformat(cell)
    except ValueError:
        return None
    midnight = datetime(1970, 1, 1, tzinfo=moment.tzinfo)
    return (moment - midnight).total_seconds()


def _from_first(seconds: FloatArray) -> FloatArray:
    """Count from the first reading; a clock that jumps back has passed midnight."""
    known = np.flatnonzero(np.isfinite(seconds))
    if known.size == 0:
        return seconds
    result = seconds.copy()
    days = np.cumsum(np.diff(seconds[known], prepend=seconds[known[0]]) < -_DAY / 2)
    result[known] += _DAY * days - seconds[known[0]]
    return result
