"""Long tables and blocks: one row a reading."""

from __future__ import annotations

from collections.abc import Collection

from curvelab.errors import AmbiguousFileError, SweepFileError
from curvelab.ingest.cells import NumberColumn, read_cells
from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column
from curvelab.ingest.numbers import shorten
from curvelab.ingest.scan import Segment
from curvelab.ingest.tables import REQUIRED, Table, sift, stated_unit

__all__ = ["read_long"]


def read_long(
    path: str,
    segment: Segment,
    dialect: Dialect,
    answers: Collection[str],
    needed: Collection[Column] = REQUIRED,
) -> Table:
    """Read a table with one row a reading; set-points may stand in a line above it.

    Parameters
    ----------
    needed : collection of Column
        What every reading must have.

    Raises
    ------
    SweepFileError
        If one of the needed quantities is neither a column nor stated.
    AmbiguousFileError
        If two columns claim to hold the same.
    """
    headings = segment.headings or []
    places, unused = _choose_columns(path, segment, answers)
    for column in needed:
        if column not in places and column not in segment.constants:
            raise SweepFileError(path, _missing(segment, column), segment.heading_line)
    numbers = {
        at: NumberColumn(column, stated_unit(segment, at))
        for column, at in places.items()
        if column.dimension is not None
    }
    words = {column: at for column, at in places.items() if column.dimension is None}
    cells = read_cells(segment, dialect, len(headings), numbers, list(words.values()))
    required = [places[column] for column in needed if column in places]
    keep, faults = sift(segment, cells, required)
    table = Table("long", segment.metadata, cells.line[keep], faults=faults, unused=unused)
    table.used = [
        f"{column} from {shorten(name, 30)!r}"
        for column, at in places.items()
        if (name := headings[at].text.strip())
    ]
    for at, item in numbers.items():
        table.put(item.column, cells.values[at][keep], cells.units[at])
    for column, at in words.items():
        table.words[column] = [cells.words[at][row] for row in keep.tolist()]
    table.state(segment.constants)
    return table


def _choose_columns(
    path: str, segment: Segment, answers: Collection[str]
) -> tuple[dict[Column, int], list[str]]:
    """Return where each quantity stands, and the headings that are not used.

    A measured value goes before a plain one, and that before a demanded one.
    """
    headings = segment.headings or []
    candidates: dict[Column, list[int]] = {}
    unused = [item.text.strip() for item in headings if item.column is None and item.text.strip()]
    for at, heading in enumerate(headings):
        if heading.column is not None:
            candidates.setdefault(heading.column, []).append(at)
    chosen: dict[Column, int] = {}
    for column, places in candidates.items():
        best = max(headings[at].rank for at in places)
        first = [at for at in places if headings[at].rank == best]
        if len(first) > 1:
            choices = {f"{column} is column {at + 1}": at for at in first}
            first = [at for choice, at in choices.items() if choice in answers]
            if not first:
                reason = f"{len(choices)} columns are headed {column}"
                raise AmbiguousFileError(path, reason, tuple(choices), segment.heading_line)
        chosen[column] = first[0]
        unused += [headings[at].text.strip() for at in places if at != first[0]]
    return chosen, unused


def _missing(segment: Segment, column: Column) -> str:
    names = ", ".join(item.text.strip() for item in segment.headings or [])
    reason = f"the heading {shorten(names, 80)!r} names no {column}"
    if column is Column.PLATE_CURRENT:
        return reason
    symbol = "grid_v = -2" if column is Column.GRID_VOLTAGE else "plate_v = 250"
    return f"{reason}, and no line such as '{symbol}' states it"
