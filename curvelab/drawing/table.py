"""Painting the table of a sheet: words on the left, numbers aligned on the right."""

from __future__ import annotations

from curvelab.drawing.ink import RIGHT, Ink
from curvelab.drawing.palette import BLACK, GREY, RULE
from curvelab.sheets.tables import Table, TableRow

__all__ = ["paint_table", "table_height", "title_room"]

_TEXT, _SMALL = 8.6, 7.2
_ROW = 14.5
_HEAD = 15.0
_FIRST = 0.29  # share of the first column; the numbers divide the rest
_NOTE_LINES = 2


def table_height(ink: Ink, width: float, table: Table) -> float:
    """Return the height the table takes [pt], its heading line included."""
    rows = sum(_row_height(ink, width, row) for row in table.rows)
    return _HEAD + rows + (_ROW if table.footnote else 0.0)


def title_room(ink: Ink, left: float, width: float, table: Table) -> float:
    """Return how wide a title may be to share the heading line [pt]."""
    if len(table.columns) < 2:
        return width
    first = _edges(left, width, table)[0] - ink.text_width(table.columns[1], _SMALL)
    return first - left - 6.0


def paint_table(ink: Ink, left: float, top: float, width: float, table: Table) -> None:
    """Paint the table; the heading line leaves its left end to the title of the block."""
    for edge, heading in zip(_edges(left, width, table), table.columns[1:], strict=True):
        ink.text(edge, top + 1.5, heading, _SMALL, colour=GREY, align=RIGHT)
    y = top + _HEAD
    for row in table.rows:
        ink.pen(RULE, 0.5)
        ink.line(left, y, left + width, y)
        _paint_row(ink, (left, y, width), table, row)
        y += _row_height(ink, width, row)
    ink.pen(RULE, 0.5)
    ink.line(left, y, left + width, y)
    if table.footnote:
        ink.text(left + width, y + 3.0, table.footnote, _SMALL, colour=GREY, align=RIGHT)


def _edges(left: float, width: float, table: Table) -> list[float]:
    """Return the right edge of every column of numbers."""
    numbers = max(len(table.columns) - 1, 0)
    each = width * (1 - _FIRST) / max(numbers, 1)
    return [left + width * _FIRST + (column + 1) * each for column in range(numbers)]


def _note(ink: Ink, width: float, row: TableRow) -> str:
    """Return what runs across the row, in place of numbers or as the only answer."""
    text = row.note if row.note is not None else row.cells[1]
    return ink.clamped(text, _TEXT, _note_width(width), _NOTE_LINES)


def _runs_across(row: TableRow) -> bool:
    return row.note is not None or len(row.cells) == 2


def _row_height(ink: Ink, width: float, row: TableRow) -> float:
    if not _runs_across(row):
        return _ROW
    return max(_ROW, ink.text_height(_note(ink, width, row), _TEXT, _note_width(width)) + 4.5)


def _note_width(width: float) -> float:
    return width * (1 - _FIRST) - 8.0


def _paint_row(ink: Ink, place: tuple[float, float, float], table: Table, row: TableRow) -> None:
    left, y, width = place
    ink.text(left, y + 2.2, row.cells[0], _TEXT)
    if _runs_across(row):
        start = left + width * _FIRST + 8.0
        colour = GREY if row.note is not None else BLACK
        note = _note(ink, width, row)
        ink.block(start, y + 2.2, note, _TEXT, _note_width(width), colour=colour)
        return
    for number, (edge, cell) in enumerate(
        zip(_edges(left, width, table), row.cells[1:], strict=True)
    ):
        ink.text(edge, y + 2.2, cell, _TEXT, bold=number == 0, align=RIGHT)
