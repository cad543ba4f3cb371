"""The blocks of a document as pieces that are painted whole: lines, rows, pictures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from curvelab.drawing.curves import draw_picture
from curvelab.drawing.histograms import HISTOGRAM_HEIGHT, paint_histograms
from curvelab.drawing.ink import RIGHT, Ink
from curvelab.drawing.palette import ACCENT, BLACK, GREY, RULE
from curvelab.sheets.paged import (
    Block,
    Column,
    Curves,
    Heading,
    Histograms,
    NewPage,
    Paragraph,
    RuledTable,
)

__all__ = ["Piece", "Width", "pieces_of"]

_TEXT, _SMALL, _HEADING = 8.0, 7.0, 9.5
_CELL_GAP = 6.0
_ROW_GAP = 4.0
_ABOVE_HEADING, _BELOW_HEADING = 9.0, 4.0
_BELOW_PARAGRAPH = 5.0
_AFTER_PICTURE = 8.0
_LEAST = 5.0  # [pt] smallest type a number shrinks to before it wraps


@dataclass(frozen=True, slots=True)
class Width:
    """What blocks are laid out for: ink, and lengths in points.

    Attributes
    ----------
    width, height : float
        Of the text of a page.
    picture : float
        Height of a picture of curves.
    """

    ink: Ink
    width: float
    height: float
    picture: float = 0.0


@dataclass(frozen=True, slots=True)
class Piece:
    """Something painted whole at a place.

    Attributes
    ----------
    with_next : bool
        Whether it stays on the page of what follows.
    repeat : Piece or None
        What stands above it where it begins a page.
    """

    height: float
    paint: Callable[[float, float], None]
    with_next: bool = False
    repeat: Piece | None = None


def pieces_of(room: Width, block: Block) -> Iterator[Piece]:
    """Yield the pieces of a block, in order."""
    match block:
        case Heading():
            yield _heading(room, block)
        case Paragraph():
            yield from _paragraph(room, block)
        case RuledTable():
            yield from _table(room, block)
        case Histograms():
            yield Piece(
                HISTOGRAM_HEIGHT + _AFTER_PICTURE,
                lambda x, y: paint_histograms(room.ink, (x, y, room.width), block.items),
            )
        case Curves():
            yield Piece(
                room.picture + _AFTER_PICTURE,
                lambda x, y: draw_picture(
                    room.ink, (x, y, room.width, room.picture), block.picture
                ),
            )
        case NewPage():
            return


def _heading(room: Width, block: Heading) -> Piece:
    ink = room.ink
    height = _ABOVE_HEADING + ink.line_height(_HEADING, bold=True) + _BELOW_HEADING
    text = ink.fitted(block.text, _HEADING, room.width, bold=True)

    def paint(x: float, y: float) -> None:
        ink.text(x, y + _ABOVE_HEADING, text, _HEADING, bold=True, colour=ACCENT)

    return Piece(height, paint, with_next=True)


def _paragraph(room: Width, block: Paragraph) -> Iterator[Piece]:
    """Yield a paragraph line by line, so that a long one can go over a page's end."""
    ink, bold = room.ink, block.strong
    lines = [
        line
        for part in block.text.splitlines()
        for line in ink.lines(part, _TEXT, room.width, bold=bold)
    ]
    step = ink.line_height(_TEXT, bold=bold)
    for number, line in enumerate(lines):
        last = number == len(lines) - 1

        def paint(x: float, y: float, line: str = line) -> None:
            ink.text(x, y, line, _TEXT, bold=bold)

        yield Piece(step + (_BELOW_PARAGRAPH if last else 0.0), paint)


def _table(room: Width, table: RuledTable) -> Iterator[Piece]:
    widths = _widths(room, table.columns)
    head = _head_row(room, table.columns, widths)
    rows = [piece for row in table.rows for piece in _row(room, table.columns, widths, row)]
    yield replace(head, with_next=True)
    for row in rows:
        yield replace(row, repeat=head)
    yield _rule(room)


def _widths(room: Width, columns: tuple[Column, ...]) -> list[float]:
    usable = room.width - _CELL_GAP * (len(columns) - 1)
    total = sum(column.share for column in columns)
    return [usable * column.share / total for column in columns]


def _rule(room: Width) -> Piece:
    def paint(x: float, y: float) -> None:
        room.ink.pen(RULE, 0.5)
        room.ink.line(x, y, x + room.width, y)

    return Piece(_ROW_GAP, paint)


def _head_row(room: Width, columns: tuple[Column, ...], widths: list[float]) -> Piece:
    ink = room.ink
    cells = [
        ink.lines(column.heading, _SMALL, width)
        for column, width in zip(columns, widths, strict=True)
    ]
    step = ink.line_height(_SMALL)
    height = max(map(len, cells)) * step + _ROW_GAP

    def paint(x: float, y: float) -> None:
        for column, width, lines in zip(columns, widths, cells, strict=True):
            top = y + height - _ROW_GAP / 2 - len(lines) * step
            for number, line in enumerate(lines):
                at = x + width if column.numbers else x
                align = RIGHT if column.numbers else 0.0
                ink.text(at, top + number * step, line, _SMALL, colour=GREY, align=align)
            x += width + _CELL_GAP

    return Piece(height, paint)


@dataclass(frozen=True, slots=True)
class _Cell:
    lines: tuple[str, ...]
    size: float


def _cell(ink: Ink, column: Column, width: float, text: str) -> _Cell:
    """Return a cell's lines; a number shrinks to stay on one line as far as it can be read."""
    if column.numbers:
        wide = ink.text_width(text, _SMALL)
        size = _SMALL if wide <= width else _SMALL * width / wide
        if size >= _LEAST:
            return _Cell((text,), size)
    lines = [line for part in text.split("\n") for line in ink.lines(part, _SMALL, width)]
    return _Cell(tuple(lines), _SMALL)


def _row(
    room: Width, columns: tuple[Column, ...], widths: list[float], texts: tuple[str, ...]
) -> Iterator[Piece]:
    """Yield a row, in several pieces where it is taller than a good part of a page."""
    ink = room.ink
    step = ink.line_height(_SMALL)
    cells = [
        _cell(ink, column, width, text)
        for column, width, text in zip(columns, widths, texts, strict=True)
    ]
    tallest = max(len(cell.lines) for cell in cells)
    most = max(1, int(0.4 * room.height / step))
    for start in range(0, tallest, most):
        parts = [replace(cell, lines=cell.lines[start : start + most]) for cell in cells]
        lines = max(len(part.lines) for part in parts)
        ruled = start == 0
        last = start + most >= tallest

        def paint(x: float, y: float, parts: list[_Cell] = parts, ruled: bool = ruled) -> None:
            if ruled:
                ink.pen(RULE, 0.5)
                ink.line(x, y, x + room.width, y)
            for column, width, part in zip(columns, widths, parts, strict=True):
                at, align = (x + width, RIGHT) if column.numbers else (x, 0.0)
                for number, line in enumerate(part.lines):
                    top = y + _ROW_GAP / 2 + number * step
                    ink.text(at, top, line, part.size, colour=BLACK, align=align)
                x += width + _CELL_GAP

        yield Piece(lines * step + (_ROW_GAP if last else 0.0), paint)
