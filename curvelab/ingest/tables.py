"""From segments to tables of readings: long, wide and transposed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.ingest.cells import Cells, NumberColumn, read_cells
from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column, Heading, is_wide, read_name
from curvelab.ingest.numbers import shorten
from curvelab.ingest.scan import Segment
from curvelab.ingest.units import Dimension, dimension_of
from curvelab.quantities import Unit
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["REQUIRED", "Fault", "Table", "read_table"]

REQUIRED = (Column.PLATE_VOLTAGE, Column.GRID_VOLTAGE, Column.PLATE_CURRENT)
_AXES = (Column.PLATE_VOLTAGE, Column.GRID_VOLTAGE)


@dataclass(frozen=True, slots=True)
class Fault:
    """A row or cell that could not be read."""

    line: int
    text: str
    reason: str


@dataclass(slots=True)
class Table:
    """The readings of a segment, one element a reading.

    Attributes
    ----------
    values : dict of Column to ndarray
        In SI where the unit is stated, as written for the columns of ``unsettled``.
    words : dict of Column to sequence of str
        Tube, section, type and direction of each reading, where there are such columns.
    stated : set of Column
        Set-points that a line above the rows states, not a column.
    """

    shape: str
    metadata: dict[str, str]
    values: dict[Column, FloatArray]
    line: IntArray
    words: dict[Column, Sequence[str]] = field(default_factory=dict)
    unsettled: set[Column] = field(default_factory=set)
    stated: set[Column] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)


def read_table(path: str, segment: Segment, dialect: Dialect, answers: Sequence[str]) -> Table:
    """Read the rows of one segment under its heading.

    Raises
    ------
    SweepFileError
        If the heading names no plate voltage, grid voltage or plate current.
    AmbiguousFileError
        If two columns claim to hold the same.
    """
    assert segment.headings is not None  # headless rows are given a heading before
    if is_wide(segment.headings):
        return _WideReader(path, segment, dialect).read()
    return _read_long(path, segment, dialect, answers)


def _unit(segment: Segment, at: int) -> Unit | None:
    """Return the unit of a column from its heading, else from the unit row."""
    assert segment.headings is not None
    heading = segment.headings[at]
    if heading.unit is not None or segment.units is None or at >= len(segment.units):
        return heading.unit
    unit = segment.units[at]
    wanted = Dimension.CURRENT if heading.step is not None else None
    if heading.column is not None:
        wanted = heading.column.dimension
    return unit if unit is not None and dimension_of(unit) is wanted else None


def _choose_columns(
    path: str, segment: Segment, answers: Sequence[str]
) -> tuple[dict[Column, int], list[str]]:
    """Return where each quantity stands, a measured value before a demanded one."""
    assert segment.headings is not None
    places: dict[Column, list[int]] = {}
    unused: list[str] = []
    for at, heading in enumerate(segment.headings):
        if heading.column is not None and heading.step is None:
            places.setdefault(heading.column, []).append(at)
        elif heading.text.strip():
            unused.append(heading.text)
    chosen: dict[Column, int] = {}
    for column, candidates in places.items():
        best = max(segment.headings[at].rank for at in candidates)
        first = [at for at in candidates if segment.headings[at].rank == best]
        if len(first) > 1:
            choices = {f"{column} is column {at + 1}": at for at in first}
            picked = [at for choice, at in choices.items() if choice in answers]
            if not picked:
                reason = f"{len(first)} columns are headed {column}"
                raise AmbiguousFileError(path, reason, tuple(choices), segment.heading_line)
            first = picked
        chosen[column] = first[0]
        unused += [segment.headings[at].text for at in candidates if at != first[0]]
    return chosen, unused


def _read_long(path: str, segment: Segment, dialect: Dialect, answers: Sequence[str]) -> Table:
    assert segment.headings is not None
    places, unused = _choose_columns(path, segment, answers)
    for column in REQUIRED:
        if column not in places and column not in segment.constants:
            raise SweepFileError(path, _missing(segment, column), segment.heading_line)
    numbers = {
        at: NumberColumn(column, _unit(segment, at))
        for column, at in places.items()
        if column.dimension is not None
    }
    words = {column: at for column, at in places.items() if column.dimension is None}
    cells = read_cells(segment, dialect, len(segment.headings), numbers, list(words.values()))
    table = Table("long", segment.metadata, {}, cells.line, unused=unused)
    keep = _sift(table, segment, cells, [places[item] for item in REQUIRED if item in places])
    for at, item in numbers.items():
        _put(table, item.column, cells.values[at][keep], cells.units[at])
    table.words = {
        column: [cells.words[at][row] for row in keep] if len(keep) < len(cells.line) else cells.words[at]
        for column, at in words.items()
    }
    table.line = cells.line[keep]
    _state_constants(table, segment)
    return table


def _missing(segment: Segment, column: Column) -> str:
    assert segment.headings is not None
    names = shorten(", ".join(item.text.strip() for item in segment.headings), 80)
    reason = f"the heading {names!r} names no {column}"
    if column is Column.GRID_VOLTAGE:
        reason += ", and no line such as 'grid_v = -2' states it"
    return reason


def _put(table: Table, column: Column, values: FloatArray, unit: Unit | None) -> None:
    if unit is None:
        table.unsettled.add(column)
    elif unit.si != 1.0:
        values = values * unit.si
    table.values[column] = values


def _state_constants(table: Table, segment: Segment) -> None:
    for column, value in segment.constants.items():
        if column not in table.values:
            table.values[column] = np.full(table.line.size, value)
            table.stated.add(column)


def _sift(table: Table, segment: Segment, cells: Cells, required: Sequence[int]) -> IntArray:
    """Return the rows that are readings; report the others, and cells left empty."""
    good = np.ones(cells.line.size, dtype=bool)
    for at in required:
        good &= np.isfinite(cells.values[at])
    if not cells.faults and good.all():
        return np.arange(cells.line.size)
    texts = dict(zip(segment.line, segment.text, strict=True))
    faults: dict[int, list[tuple[int, str]]] = {}
    for (row, at), reason in cells.faults.items():
        faults.setdefault(row, []).append((at, reason))
        good[row] &= at != -1
    for row in sorted(set(faults) | set(np.flatnonzero(~good).tolist())):
        line = int(cells.line[row])
        found = faults.get(row, [])
        if good[row]:
            for _, reason in found:
                why = f"{reason}; the reading is kept without it"
                table.faults.append(Fault(line, texts[line], why))
            continue
        reasons = [reason for at, reason in found if at == -1 or at in required]
        empty = [at for at in required if not np.isfinite(cells.values[at][row])]
        reason = reasons[0] if reasons else _empty_reason(segment, cells, row, empty[0])
        table.faults.append(Fault(line, texts[line], reason))
    return np.flatnonzero(good)


def _empty_reason(segment: Segment, cells: Cells, row: int, at: int) -> str:
    assert segment.headings is not None
    column = segment.headings[at].column
    if column is None and at == 0:
        return "the row has no voltage in its first cell"
    return f"the row has no {column}"


@dataclass(slots=True)
class _WideReader:
    """Reads a table whose headings are steps and turns it into one row a reading."""

    path: str
    segment: Segment
    dialect: Dialect

    def read(self) -> Table:
        segment = self.segment
        headings = segment.headings or []
        steps = [at for at, item in enumerate(headings) if item.step is not None]
        axis = next((at for at, item in enumerate(headings) if item.column in _AXES), 0)
        extra = {
            at: NumberColumn(item.column, _unit(segment, at))
            for at, item in enumerate(headings)
            if item.column is not None
            and item.step is None
            and at != axis
            and item.column not in REQUIRED
            and item.column.dimension is not None
        }
        corner_axis, current_unit = _read_corner(headings[axis])
        axis_unit = _unit(segment, axis)
        numbers = {axis: NumberColumn(corner_axis or Column.PLATE_VOLTAGE, axis_unit), **extra}
        for at in steps:
            column = headings[at].column or Column.PLATE_CURRENT
            numbers[at] = NumberColumn(column, _unit(segment, at) or current_unit)
        words = {
            item.column: at
            for at, item in enumerate(headings)
            if item.column is not None and item.column.dimension is None
        }
        cells = read_cells(segment, self.dialect, len(headings), numbers, list(words.values()))
        rows_are, steps_are = self.axes(headings, steps, corner_axis, cells.values[axis])
        shape = "wide" if steps_are is Column.GRID_VOLTAGE else "wide, transposed"
        table = Table(shape, segment.metadata, {}, cells.line)
        table.unused = [
            item.text
            for at, item in enumerate(headings)
            if item.text.strip() and at not in numbers and item.column not in words
        ]
        keep = self.sift(table, cells, axis, steps)
        self.melt(table, cells, keep, axis, (rows_are, steps_are), words, extra)
        _state_constants(table, segment)
        return table

    def axes(
        self,
        headings: Sequence[Heading],
        steps: Sequence[int],
        corner: Column | None,
        rows: FloatArray,
    ) -> tuple[Column, Column]:
        """Return what the rows and what the steps are.

        A heading that says so decides; then values: a voltage that is nowhere positive
        is the grid's; then size, where one range is at least three times the other.
        """
        plate, grid = _AXES
        named = {headings[at].step_of for at in steps} & set(_AXES)
        if len(named) == 1:
            return (plate, grid) if named == {grid} else (grid, plate)
        if corner is not None:
            return (plate, grid) if corner is plate else (grid, plate)
        across = np.array([headings[at].step for at in steps], dtype=float)
        down = rows[np.isfinite(rows)]
        if down.size and across.max() <= 0 < down.max():
            return plate, grid
        if down.size and down.max() <= 0 < across.max():
            return grid, plate
        if down.size and np.abs(down).max() >= 3 * np.abs(across).max():
            return plate, grid
        if down.size and np.abs(across).max() >= 3 * np.abs(down).max():
            return grid, plate
        reason = "neither the headings nor the values tell plate from grid voltage"
        raise SweepFileError(self.path, reason, self.segment.heading_line)

    def sift(self, table: Table, cells: Cells, axis: int, steps: Sequence[int]) -> IntArray:
        """Return the rows with a voltage, reporting the others and unreadable cells."""
        keep = _sift(table, self.segment, cells, [axis])
        headings = self.segment.headings or []
        ends = "; the reading is kept without it"
        table.faults = [
            Fault(fault.line, fault.text, fault.reason.removesuffix(ends))
            for fault in table.faults
        ]
        del headings, steps
        return keep

    def melt(
        self,
        table: Table,
        cells: Cells,
        keep: IntArray,
        axis: int,
        axes: tuple[Column, Column],
        words: dict[Column, int],
        extra: dict[int, NumberColumn],
    ) -> None:
        """Stack the step columns, step by step, leaving out empty cells."""
        headings = self.segment.headings or []
        by_step: dict[float, dict[Column, int]] = {}
        for at, heading in enumerate(headings):
            if heading.step is not None:
                column = heading.column or Column.PLATE_CURRENT
                by_step.setdefault(heading.step, {}).setdefault(column, at)
        columns = {column for places in by_step.values() for column in places}
        parts: dict[Column, list[FloatArray]] = {}
        rows: list[IntArray] = []
        units = {column: _common_unit(by_step, column, cells) for column in columns}
        for step, places in by_step.items():
            if Column.PLATE_CURRENT not in places:
                continue
            filled = keep[np.isfinite(cells.values[places[Column.PLATE_CURRENT]][keep])]
            rows.append(filled)
            parts.setdefault(axes[0], []).append(cells.values[axis][filled])
            parts.setdefault(axes[1], []).append(np.full(filled.size, step))
            for column in columns:
                at = places.get(column)
                part = np.full(filled.size, np.nan) if at is None else cells.values[at][filled]
                unit = None if at is None else cells.units[at]
                if unit is not None and unit != units[column]:
                    part = part * unit.si
                parts.setdefault(column, []).append(part)
            for at, item in extra.items():
                parts.setdefault(item.column, []).append(cells.values[at][filled])
        every = np.concatenate(rows) if rows else np.empty(0, dtype=np.int64)
        table.line = cells.line[every]
        table.words = {
            column: [cells.words[at][row] for row in every] for column, at in words.items()
        }
        units[axes[0]] = cells.units[axis]
        units[axes[1]] = Unit("V", 1.0)
        units.update({item.column: cells.units[at] for at, item in extra.items()})
        for column, found in parts.items():
            _put(table, column, np.concatenate(found), units[column])


def _common_unit(
    by_step: dict[float, dict[Column, int]], column: Column, cells: Cells
) -> Unit | None:
    """Return the unit of all step columns of a quantity; SI where they differ."""
    units = {cells.units[places[column]] for places in by_step.values() if column in places}
    if len(units) == 1:
        return units.pop()
    return Unit("", 1.0) if None not in units else None


def _read_corner(heading: Heading) -> tuple[Column | None, Unit | None]:
    r"""Return what the corner cell says of the rows, and a current's unit.

    ``Va\Vg``, ``Vp / Vg``, ``Vp (V) \ Ip (mA)``, or the name of the rows alone.
    """
    if heading.column in _AXES:
        return heading.column, None
    axis: Column | None = None
    unit: Unit | None = heading.unit if heading.column is Column.PLATE_CURRENT else None
    for part in re.split(r"[\\/|]", heading.text):
        column, found, _ = read_name(part)
        if axis is None and column in _AXES:
            axis = column
        if column is Column.PLATE_CURRENT:
            unit = found or unit
    return axis, unit
