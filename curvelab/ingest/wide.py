"""Wide tables: one column a grid step, or transposed, one column a plate voltage."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.ingest.cells import Cells, NumberColumn, read_cells
from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column, Heading, read_name
from curvelab.ingest.scan import Segment
from curvelab.ingest.tables import REQUIRED, Table, sift, stated_unit
from curvelab.ingest.units import AMPERE, Dimension, dimension_of
from curvelab.quantities import VOLT, Unit
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["read_wide"]

_PLATE, _GRID = Column.PLATE_VOLTAGE, Column.GRID_VOLTAGE
_AXES = (_PLATE, _GRID)
_CHOICES = {
    "rows are plate voltages, columns grid voltages": (_PLATE, _GRID),
    "rows are grid voltages, columns plate voltages": (_GRID, _PLATE),
}
_CLEARLY_LARGER = 3.0


@dataclass(frozen=True, slots=True)
class _Group:
    """The columns of one step: position of each quantity."""

    step: float
    places: dict[Column, int]


def read_wide(
    path: str,
    segment: Segment,
    dialect: Dialect,
    answers: Collection[str],
    step_unit: Unit | None = None,
) -> Table:
    """Read a table whose headings are steps as one row a reading, step by step.

    An empty cell is no reading. ``step_unit`` is that of plate currents whose heading states
    none.

    Raises
    ------
    SweepFileError
        If the heading names no plate current.
    AmbiguousFileError
        If nothing tells plate from grid voltage.
    """
    headings = segment.headings or []
    groups = _group(headings)
    strange = [item for item in headings if item.step_of not in (None, *_AXES)]
    if strange:
        reason = f"steps of {strange[0].step_of} in a heading are not read; use one row a reading"
        raise SweepFileError(path, reason, segment.heading_line)
    if not groups:
        reason = "the heading names steps but no plate current"
        raise SweepFileError(path, reason, segment.heading_line)
    axis = next((at for at, item in enumerate(headings) if _is_axis(item)), 0)
    rows_are, corner_unit = _read_corner(headings[axis])
    steps = [at for at, item in enumerate(headings) if item.step is not None]
    extra = [at for at, item in enumerate(headings) if at != axis and _is_extra(item)]
    numbers = {axis: NumberColumn(rows_are or _PLATE, _axis_unit(segment, axis))}
    for at in steps:
        column = headings[at].column or Column.PLATE_CURRENT
        unit = stated_unit(segment, at) or corner_unit
        if unit is None and column is Column.PLATE_CURRENT:
            unit = step_unit
        numbers[at] = NumberColumn(column, unit)
    for at in extra:
        numbers[at] = NumberColumn(_column(headings[at]), stated_unit(segment, at))
    words = {
        item.column: at
        for at, item in enumerate(headings)
        if item.column is not None and item.column.dimension is None
    }
    cells = read_cells(segment, dialect, len(headings), numbers, list(words.values()))
    keep, faults = sift(segment, cells, [axis])
    axes = _axes(path, segment, rows_are, cells.values[axis][keep], answers)
    filled = [
        keep[np.isfinite(cells.values[group.places[Column.PLATE_CURRENT]][keep])]
        for group in groups
    ]
    every = np.concatenate(filled)
    table = Table(
        "wide" if axes[1] is _GRID else "wide, transposed",
        segment.metadata,
        cells.line[every],
        faults=faults,
        unused=_unused(headings, {*numbers, *words.values()}),
        used=[_in_words(axes, groups)],
    )
    table.put(axes[0], cells.values[axis][every], cells.units[axis])
    across = [np.full(rows.size, item.step) for item, rows in zip(groups, filled, strict=True)]
    table.put(axes[1], np.concatenate(across), VOLT)
    for column in dict.fromkeys(numbers[at].column for at in steps):
        _put_steps(table, column, groups, cells, filled)
    for at in extra:
        table.put(numbers[at].column, cells.values[at][every], cells.units[at])
    for column, at in words.items():
        table.words[column] = [cells.words[at][row] for row in every.tolist()]
    table.state(segment.constants)
    return table


def _in_words(axes: tuple[Column, Column], groups: Sequence[_Group]) -> str:
    steps = [group.step for group in groups]
    span = f"from {min(steps):g} to {max(steps):g} V"
    return f"rows of {axes[0]}, {len(steps)} columns of {axes[1]} {span}"


def _is_axis(heading: Heading) -> bool:
    return heading.step is None and heading.column in _AXES


def _is_extra(heading: Heading) -> bool:
    column = heading.column
    known = column is not None and column.dimension is not None and column not in REQUIRED
    return known and heading.step is None


def _column(heading: Heading) -> Column:
    return heading.column or Column.PLATE_CURRENT


def _unused(headings: Sequence[Heading], used: set[int]) -> list[str]:
    return [
        item.text.strip()
        for at, item in enumerate(headings)
        if at not in used and item.text.strip()
    ]


def _axis_unit(segment: Segment, at: int) -> Unit | None:
    unit = stated_unit(segment, at)
    if unit is None and segment.units is not None and at < len(segment.units):
        unit = segment.units[at]
    return unit if unit is not None and dimension_of(unit) is Dimension.VOLTAGE else None


def _read_corner(heading: Heading) -> tuple[Column | None, Unit | None]:
    r"""Return what the corner cell says of the rows, and the unit of the currents.

    ``Va\Vg``, ``Vp / Vg``, ``Vp (V) \ Ip (mA)``, or the name of the rows alone.
    """
    axis = heading.column if heading.column in _AXES else None
    unit: Unit | None = None
    for part in (heading.text, *re.split(r"[\\/|]", heading.text)):
        column, found, _ = read_name(part)
        if axis is None and column in _AXES:
            axis = column
        if column is Column.PLATE_CURRENT:
            unit = found or unit
    return axis, unit


def _axes(
    path: str,
    segment: Segment,
    rows_are: Column | None,
    rows: FloatArray,
    answers: Collection[str],
) -> tuple[Column, Column]:
    """Return what the rows and what the steps are.

    A heading that says so decides; then the values: a voltage that is nowhere positive
    is the grid's; then size, where one range is clearly larger.
    """
    headings = segment.headings or []
    named = {item.step_of for item in headings} & set(_AXES)
    if len(named) == 1:
        return (_PLATE, _GRID) if named == {_GRID} else (_GRID, _PLATE)
    if rows_are is not None:
        return (_PLATE, _GRID) if rows_are is _PLATE else (_GRID, _PLATE)
    steps = np.array([item.step for item in headings if item.step is not None])
    down = (rows.min(initial=0.0), rows.max(initial=0.0))
    across = (steps.min(initial=0.0), steps.max(initial=0.0))
    down_size, across_size = max(-down[0], down[1]), max(-across[0], across[1])
    if across[1] <= 0 < down[1] or (down[0] >= 0 and down_size >= _CLEARLY_LARGER * across_size):
        return _PLATE, _GRID
    if down[1] <= 0 < across[1] or (across[0] >= 0 and across_size >= _CLEARLY_LARGER * down_size):
        return _GRID, _PLATE
    for choice, found in _CHOICES.items():
        if choice in answers:
            return found
    reason = "neither the headings nor the values tell plate from grid voltage"
    raise AmbiguousFileError(path, reason, tuple(_CHOICES), segment.heading_line)


def _group(headings: Sequence[Heading]) -> list[_Group]:
    """Return the columns of each step; a step that stands twice makes two groups."""
    groups: dict[tuple[float, int], dict[Column, int]] = {}
    counts: dict[tuple[float, Column], int] = {}
    for at, item in enumerate(headings):
        if item.step is not None:
            key = (item.step, _column(item))
            counts[key] = counts.get(key, 0) + 1
            groups.setdefault((item.step, counts[key]), {})[_column(item)] = at
    return [
        _Group(step, places)
        for (step, _), places in groups.items()
        if Column.PLATE_CURRENT in places
    ]


def _put_steps(
    table: Table,
    column: Column,
    groups: Sequence[_Group],
    cells: Cells,
    filled: Sequence[IntArray],
) -> None:
    """Stack the columns of one quantity; in SI where their units differ."""
    places = [group.places.get(column) for group in groups]
    units = {cells.units[at] for at in places if at is not None} - {None}
    common = units.pop() if len(units) == 1 else AMPERE if units else None
    parts = []
    for at, rows in zip(places, filled, strict=True):
        part = np.full(rows.size, np.nan) if at is None else cells.values[at][rows]
        unit = None if at is None else cells.units[at]
        parts.append(part if unit is None or unit == common else part * unit.si)
    table.put(column, np.concatenate(parts), common)
