"""What a file looks like before its values mean anything: for a person who looks at it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from curvelab.errors import SweepFileError
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices, name_by_choice, numbered_heading
from curvelab.ingest.decode import decode, split_lines
from curvelab.ingest.dialect import Dialect
from curvelab.ingest.headings import Column
from curvelab.ingest.positional import name_columns
from curvelab.ingest.reader import find_dialect
from curvelab.ingest.scan import Scan, Segment, scan
from curvelab.ingest.tables import stated_unit
from curvelab.quantities import Unit
from curvelab.sweep.records import SourceFile

__all__ = ["ColumnSeen", "Layout", "look_at"]

_CELLS_SHOWN = 3


@dataclass(frozen=True, slots=True)
class ColumnSeen:
    """One column of a file.

    Attributes
    ----------
    heading : str
        As written; ``column 1`` and so on where there is none. It names the column in a
        choice.
    column : Column or None
        What it is taken for.
    unit : Unit or None
        As stated or chosen; None where the values decide.
    step : float or None
        Of a wide table [V].
    cells : tuple of str
        The first cells under it.
    """

    heading: str
    column: Column | None
    unit: Unit | None
    step: float | None
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """How a file is written."""

    encoding: str
    dialect: Dialect
    columns: tuple[ColumnSeen, ...]
    lines: tuple[str, ...]


def look_at(source: SourceFile, choices: ReadingChoices = NOTHING_CHOSEN) -> Layout:
    """Return how a file is written, without reading a value of it.

    Raises
    ------
    SweepFileError
        If the file is empty or no text.
    """
    text, encoding = decode(source, choices.encoding)
    lines = split_lines(text)
    dialect = find_dialect(lines, choices)
    scanned = scan(lines, dialect, choices.heading)
    name_by_choice(scanned.segments, dialect, choices)
    answers = choices.answers_for(scanned.headings)
    with suppress(SweepFileError):  # columns that cannot be told apart are shown by number
        name_columns(source.path, scanned.segments, dialect, answers)
    columns = _columns(scanned, dialect, choices)
    return Layout(encoding, dialect, columns, tuple(lines))


def _columns(scanned: Scan, dialect: Dialect, choices: ReadingChoices) -> tuple[ColumnSeen, ...]:
    """Return the columns of the table with most rows."""
    if not scanned.segments:
        return ()
    segment = max(scanned.segments, key=lambda item: len(item.line))
    rows = [dialect.cells(text) for text in segment.text[:_CELLS_SHOWN]]
    width = max(map(len, rows), default=0)
    names = _names(scanned, segment, dialect, width)
    headings = segment.headings or [choices.heading(name) for name in names]
    return tuple(
        ColumnSeen(
            heading.text.strip() or (names[at] if at < width else numbered_heading(at)),
            heading.column,
            heading.unit if segment.headings is None else stated_unit(segment, at),
            heading.step,
            _cells(rows, at),
        )
        for at, heading in enumerate(headings)
    )


def _names(scanned: Scan, segment: Segment, dialect: Dialect, width: int) -> list[str]:
    """Return what columns without a heading are called: by a line of words above, or by number."""
    if scanned.first_heading is not None and scanned.first_heading[0] < segment.line[0]:
        words = dialect.heading_cells(scanned.first_heading[1])
        if len(words) == width and all(words):
            return words
    return [numbered_heading(at) for at in range(width)]


def _cells(rows: Sequence[Sequence[str]], at: int) -> tuple[str, ...]:
    return tuple(row[at] for row in rows if at < len(row))
