"""The readings of one segment, whatever its shape was."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np

from curvelab.ingest.cells import Cells
from curvelab.ingest.headings import Column
from curvelab.ingest.scan import Segment
from curvelab.ingest.units import Dimension, dimension_of
from curvelab.quantities import Unit
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["REQUIRED", "Fault", "Table", "adopt_units", "sift", "stated_unit"]

REQUIRED = (Column.PLATE_VOLTAGE, Column.GRID_VOLTAGE, Column.PLATE_CURRENT)


@dataclass(frozen=True, slots=True)
class Fault:
    """A row, cell or line that could not be read."""

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
    units : dict of Column to Unit
        The units that were stated.
    stated : set of Column
        Set-points that a line above the rows states, not a column.
    set_up : dict of Column to float
        Settings [SI] in which the tables of one tube may differ, where they are stated.
    used, unused : list of str
        What the columns that are read hold, and the headings of the others.
    """

    shape: str
    metadata: dict[str, str]
    line: IntArray
    values: dict[Column, FloatArray] = field(default_factory=dict)
    words: dict[Column, Sequence[str]] = field(default_factory=dict)
    unsettled: set[Column] = field(default_factory=set)
    units: dict[Column, Unit] = field(default_factory=dict)
    stated: set[Column] = field(default_factory=set)
    set_up: dict[Column, float] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    used: list[str] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)

    def put(self, column: Column, values: FloatArray, unit: Unit | None) -> None:
        """Add a column, in SI if its unit is stated."""
        self.values[column] = values
        self.unsettled.add(column)
        if unit is not None:
            self.apply_unit(column, unit)

    def apply_unit(self, column: Column, unit: Unit) -> None:
        """Turn a column as written into SI."""
        self.unsettled.discard(column)
        self.units[column] = unit
        if unit.si != 1.0:
            self.values[column] = self.values[column] * unit.si

    def state(self, constants: dict[Column, float]) -> None:
        """Add the set-points [V] that lines above the rows state and no column holds."""
        for column, value in constants.items():
            if column not in self.values:
                self.values[column] = np.full(self.line.size, value)
                self.stated.add(column)
                self.used.append(f"{column} as stated above the rows")


def adopt_units(tables: Sequence[Table]) -> None:
    """Let a table without a unit take the one that another of its file states, in place."""
    stated: dict[Column, Unit] = {}
    for table in tables:
        stated = {**table.units, **stated}
    for table in tables:
        for column in sorted(table.unsettled & set(stated)):
            table.apply_unit(column, stated[column])


def stated_unit(segment: Segment, at: int) -> Unit | None:
    """Return the unit of a column from its heading, else from the unit row."""
    heading = (segment.headings or [])[at]
    if heading.unit is not None or segment.units is None or at >= len(segment.units):
        return heading.unit
    unit = segment.units[at]
    wanted = Dimension.CURRENT if heading.step is not None else None
    if heading.column is not None:
        wanted = heading.column.dimension
    return unit if unit is not None and dimension_of(unit) is wanted else None


def sift(segment: Segment, cells: Cells, required: Collection[int]) -> tuple[IntArray, list[Fault]]:
    """Part the rows that can be used from those that cannot.

    Returns
    -------
    ndarray of int
        Rows in which every required position holds a number.
    list of Fault
        The other rows, each with one reason, and the unreadable cells of good rows.
    """
    good = np.ones(cells.line.size, dtype=bool)
    for at in required:
        good &= np.isfinite(cells.values[at])
    if not cells.faults and good.all():
        return np.arange(cells.line.size), []
    by_row: dict[int, dict[int, str]] = {}
    for (row, at), reason in cells.faults.items():
        by_row.setdefault(row, {})[at] = reason
        good[row] &= at != -1
    faults = []
    for row in sorted(set(by_row) | set(np.flatnonzero(~good).tolist())):
        line = int(cells.line[row])
        text = segment.text[bisect_left(segment.line, line)]
        found = by_row.get(row, {})
        if good[row]:
            reasons = [f"{reason}; the rest of the row is kept" for reason in found.values()]
        else:
            needed = [reason for at, reason in found.items() if at == -1 or at in required]
            reasons = needed[:1] or [_empty_reason(segment, cells, row, required)]
        faults += [Fault(line, text, reason) for reason in reasons]
    return np.flatnonzero(good), faults


def _empty_reason(segment: Segment, cells: Cells, row: int, required: Collection[int]) -> str:
    at = next(at for at in required if not np.isfinite(cells.values[at][row]))
    column = (segment.headings or [])[at].column
    return "the row has no voltage of its own" if column is None else f"the row has no {column}"
