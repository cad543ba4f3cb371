"""Painting labels on their sheets: nothing leaves its label, whatever its text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from curvelab.drawing.ink import LEFT, Ink
from curvelab.drawing.palette import BLACK, GREY, PAPER
from curvelab.sheets.label import Label, LabelDocument, LabelLine, Marks
from curvelab.sheets.label_grid import LabelGrid
from curvelab.sheets.qr_code import QUIET_ZONE, QrCode

__all__ = ["MILLIMETRE", "paint_stickers"]

MILLIMETRE = 72 / 25.4  # [pt]
_LARGEST, _LEAST = 9.0, 5.0  # [pt] type of the lines
_STEP = 0.25
_FIRST = 1.35  # the serial's type over that of the lines
_NARROWEST = 0.72  # a long line shrinks so far before it is cut
_BETWEEN = 1.2  # [mm] between the lines and the code
_CROP = 3.0  # [mm] length of a crop mark
_PAD = 1.0  # [pt] round inverse text


@dataclass(frozen=True, slots=True)
class _Set:
    """A line as it will stand: its text and type [pt]."""

    line: LabelLine
    text: str
    size: float


def paint_stickers(
    painter: QPainter, rect: QRectF, document: LabelDocument, turn: Callable[[], bool]
) -> int:
    """Paint labels sheet by sheet; return how many sheets.

    Parameters
    ----------
    rect : QRectF
        A sheet [device pixels], of the size that the grid names but for what a page's size
        is rounded to; the millimetres are those of the device.
    turn : callable
        Begins the next sheet; false ends the painting.
    """
    unit = painter.device().logicalDpiX() / 72
    ink = Ink(painter, rect.topLeft(), unit)
    sheets = 1 + max((label.spot.sheet for label in document.labels), default=0)
    for sheet in range(sheets):
        if sheet and not turn():
            return sheet
        _paint_marks(ink, document.grid, document.marks)
        for label in document.labels:
            if label.spot.sheet == sheet:
                _paint_label(ink, document, label)
    return sheets


def _paint_label(ink: Ink, document: LabelDocument, label: Label) -> None:
    grid, inset = document.grid, document.inset * MILLIMETRE
    left, top = label.spot.left * MILLIMETRE + inset, label.spot.top * MILLIMETRE + inset
    width, height = grid.width * MILLIMETRE - 2 * inset, grid.height * MILLIMETRE - 2 * inset
    if label.code is not None:
        side = label.code_side * MILLIMETRE
        _paint_code(ink, (left + width - side, top + (height - side) / 2, side), label.code)
        # The code's own quiet zone keeps the lines off it.
        width -= side + max(0.0, _BETWEEN * MILLIMETRE - side * QUIET_ZONE / label.code.modules)
    lines = _settled(ink, label.lines, width, height)
    y = top + max(0.0, (height - _height(ink, lines)) / 2)
    for item in lines:
        _paint_line(ink, left, y, item)
        y += ink.line_height(item.size, bold=item.line.strong)


def _settled(ink: Ink, lines: Sequence[LabelLine], width: float, height: float) -> list[_Set]:
    """Return the lines in the largest type in which all fit, the least weighty left out at need."""
    kept = list(lines)
    while True:
        # What is too long for even the smallest type makes no other line smaller.
        long = {line.text for line in kept if _is_cut(_fitted(ink, line, _LEAST, width))}
        size = _LARGEST
        while size >= _LEAST:
            settled = [_fitted(ink, line, size, width) for line in kept]
            cut = any(_is_cut(item) and item.line.text not in long for item in settled)
            if not cut and _height(ink, settled) <= height:
                return settled
            size -= _STEP
        weakest = max(line.rank for line in kept)
        if weakest == 0:
            return _squeezed(ink, kept, width, height)
        kept = [line for line in kept if line.rank < weakest]


def _fitted(ink: Ink, line: LabelLine, size: float, width: float) -> _Set:
    """Return a line in type that holds it in ``width``; cut where that would be too small."""
    size *= _FIRST if line.name else 1.0
    room = width - (2 * _PAD if line.inverse else 0.0)
    wide = ink.text_width(line.text, size, bold=line.strong)
    if wide > room:
        size *= max(_NARROWEST, 0.995 * room / wide)
    text = ink.fitted(line.text, size, room, bold=line.strong, ends=line.name)
    return _Set(line, text, size)


def _squeezed(ink: Ink, lines: Sequence[LabelLine], width: float, height: float) -> list[_Set]:
    """Return what must stay in as small a type as the label is low."""
    settled = [_fitted(ink, line, _LEAST, width) for line in lines]
    share = min(1.0, height / _height(ink, settled))
    return [_fitted(ink, line, share * _LEAST, width) for line in lines]


def _is_cut(item: _Set) -> bool:
    return item.text != item.line.text


def _height(ink: Ink, lines: Sequence[_Set]) -> float:
    return sum(ink.line_height(item.size, bold=item.line.strong) for item in lines)


def _paint_line(ink: Ink, left: float, y: float, item: _Set) -> None:
    bold = item.line.strong
    if item.line.inverse:
        width = ink.text_width(item.text, item.size, bold=bold) + 2 * _PAD
        ink.fill(left, y, width, ink.line_height(item.size, bold=bold), BLACK)
        ink.text(left + _PAD, y, item.text, item.size, bold=bold, colour=PAPER)
        return
    ink.text(left, y, item.text, item.size, bold=bold, align=LEFT)


def _paint_code(ink: Ink, place: tuple[float, float, float], code: QrCode) -> None:
    """Paint the dark modules, each run of a row in one, so that no seams show between them."""
    left, top, side = place
    module = side / code.modules
    for down, row in enumerate(code.rows, start=QUIET_ZONE):
        start = 0
        while start < len(row):
            stop = start + 1
            while stop < len(row) and row[stop] == row[start]:
                stop += 1
            if row[start]:
                x = left + (start + QUIET_ZONE) * module
                ink.fill(x, top + down * module, (stop - start) * module, module, BLACK)
            start = stop


def _paint_marks(ink: Ink, grid: LabelGrid, marks: Marks) -> None:
    if marks is Marks.NONE:
        return
    ink.pen(GREY, 0.3)
    width, height = grid.width * MILLIMETRE, grid.height * MILLIMETRE
    for row in range(grid.rows):
        for column in range(grid.columns):
            left = (grid.left + column * grid.across) * MILLIMETRE
            top = (grid.top + row * grid.down) * MILLIMETRE
            if marks is Marks.OUTLINE:
                ink.frame(left, top, width, height)
            else:
                _paint_corners(ink, (left, top, width, height))


def _paint_corners(ink: Ink, box: tuple[float, float, float, float]) -> None:
    """Paint a small cross at each corner of a label, as long as the label allows."""
    left, top, width, height = box
    reach = min(_CROP * MILLIMETRE, width / 4, height / 4) / 2
    for x in (left, left + width):
        for y in (top, top + height):
            ink.line(x - reach, y, x + reach, y)
            ink.line(x, y - reach, x, y + reach)
