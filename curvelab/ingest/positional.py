"""Columns without a heading, told apart by what their values can be."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import permutations

import numpy as np

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.ingest.cells import NumberColumn, read_cells
from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column, Heading
from curvelab.ingest.scan import Segment
from curvelab.ingest.tables import REQUIRED
from curvelab.sweep.records import FloatArray, Remark, RemarkCode

__all__ = ["name_columns"]


def name_columns(
    path: str, segments: Sequence[Segment], dialect: Dialect, answers: Collection[str]
) -> list[Remark]:
    """Give segments without a heading the one that their values allow, in place.

    Raises
    ------
    SweepFileError
        If the number of columns is not that of the quantities needed.
    AmbiguousFileError
        If the values allow more than one assignment, or none.
    """
    bare = [segment for segment in segments if segment.headings is None]
    if not bare:
        return []
    wanted = [column for column in REQUIRED if column not in bare[0].constants]
    first = bare[0]
    width = len([cell for cell in dialect.cells(first.text[0]) if cell])
    if width != len(wanted):
        reason = (
            f"there is no heading that can be understood over {width} columns of numbers; "
            f"without one only {len(wanted)} columns ({', '.join(wanted)}) can be told apart"
        )
        raise SweepFileError(path, reason, first.line[0])
    columns = _numbers(bare, dialect, width)
    order = _only_order(path, columns, wanted, first.line[0], answers)
    for segment in bare:
        segment.headings = [Heading("", column) for column in order]
    text = f"no heading: the columns are read as {', '.join(order)}, as their values allow"
    return [Remark(RemarkCode.COLUMNS, text, guessed=True, weighs=True)]


def _numbers(segments: Sequence[Segment], dialect: Dialect, width: int) -> FloatArray:
    as_any = {at: NumberColumn(Column.PLATE_VOLTAGE, None) for at in range(width)}
    parts = []
    for segment in segments:
        cells = read_cells(segment, dialect, width, as_any, ())
        parts.append(np.array([cells.values[at] for at in range(width)]))
    together = np.concatenate(parts, axis=1)
    return together[:, np.isfinite(together).all(axis=0)]


def _only_order(
    path: str,
    values: FloatArray,
    wanted: Sequence[Column],
    line: int,
    answers: Collection[str],
) -> tuple[Column, ...]:
    orders = list(permutations(wanted))
    answered = [order for order in orders if _choice(order) in answers]
    if answered:
        return answered[0]
    possible = [order for order in orders if _allows(dict(zip(order, values, strict=True)))]
    if len(possible) != 1:
        choices = tuple(_choice(order) for order in possible or orders)
        reason = "the columns have no heading and their values do not tell which is which"
        raise AmbiguousFileError(path, reason, choices, line)
    return possible[0]


def _choice(order: Sequence[Column]) -> str:
    return f"columns are {', '.join(order)}"


def _allows(values: dict[Column, FloatArray]) -> bool:
    """Tell whether values can be those of a tube.

    A grid is nowhere positive and somewhere negative; a plate is not negative and
    reaches 10 V; current is not negative and rises with plate *and* with grid voltage.
    """
    grid = values.get(Column.GRID_VOLTAGE)
    plate = values.get(Column.PLATE_VOLTAGE)
    current = values.get(Column.PLATE_CURRENT)
    if grid is None or plate is None or current is None or plate.size < 4:
        return False
    if not (grid.max() <= 0 > grid.min() and plate.min() >= 0 and plate.max() >= 10):
        return False
    if current.min() < -0.01 * np.abs(current).max():
        return False
    design = np.column_stack([np.ones_like(plate), plate, grid])
    slopes, _, rank, _ = np.linalg.lstsq(design, current, rcond=None)
    return bool(rank == 3 and slopes[1] > 0 and slopes[2] > 0)
