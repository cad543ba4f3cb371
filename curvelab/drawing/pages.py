"""Painting documents of several pages: laid out first, so that each knows how many there are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from curvelab.drawing.blocks import Piece, Width, pieces_of
from curvelab.drawing.ink import RIGHT, Ink
from curvelab.drawing.palette import ACCENT, GREY, RULE
from curvelab.sheets.paged import Curves, NewPage, PagedDocument

__all__ = ["paint_pages"]

# [pt]: the narrower of A4 and the shorter of Letter, so that either page holds the layout.
_NATURAL = (595.0, 792.0)
_SIDE, _TOP, _BOTTOM = 44.0, 38.0, 30.0
_SMALL, _TEXT, _HEADING = 6.6, 8.0, 9.0
_TITLE_SIZES = (20.0, 15.0, 11.0)
_TITLE_LINES, _SUBTITLE_LINES = 2, 3
_LABEL = 62.0
_GAP = 10.0
_SLACK = 1.0  # [pt] so that rounding turns no page
_LEAST_PICTURE, _MOST_PICTURE = 0.22, 0.72  # of the height of the text


@dataclass(slots=True)
class _Laid:
    """One page: pieces with the height at which each begins [pt]."""

    pieces: list[tuple[float, Piece]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Page:
    ink: Ink
    width: float
    height: float

    @property
    def inner(self) -> float:
        return self.width - 2 * _SIDE

    @property
    def right(self) -> float:
        return self.width - _SIDE


def paint_pages(
    painter: QPainter,
    rect: QRectF,
    documents: Sequence[PagedDocument],
    turn: Callable[[], bool],
) -> int:
    """Paint documents one after another, each beginning a page; return how many pages.

    Parameters
    ----------
    rect : QRectF
        A page [device pixels], A4, Letter or near it.
    turn : callable
        Begins the next page; false ends the painting, as where one page is all there is.
    """
    unit = min(rect.width() / _NATURAL[0], rect.height() / _NATURAL[1])
    page = _Page(Ink(painter, rect.topLeft(), unit), rect.width() / unit, rect.height() / unit)
    painted = 0
    for document in documents:
        laid = _lay_out(page, document)
        for number, each in enumerate(laid, start=1):
            if painted and not turn():
                return painted
            _paint_head(page, document, first=number == 1)
            for y, piece in each.pieces:
                piece.paint(_SIDE, y)
            _paint_foot(page, document, number, len(laid))
            painted += 1
    return painted


def _lay_out(page: _Page, document: PagedDocument) -> list[_Laid]:
    """Return the pages of a document: pieces are never cut, headings never left behind."""
    bottom = page.height - _BOTTOM - _foot_height(page, document) - _GAP
    first, later = (_paint_head(page, document, first=first, only=True) for first in (True, False))
    pieces = _pieces(Width(page.ink, page.inner, bottom - first), document)
    pages = [_Laid()]
    y = first
    for at, piece in enumerate(pieces):
        if pages[-1].pieces and (piece is None or y + _needed(pieces[at:]) > bottom):
            pages.append(_Laid())
            y = later
            if piece is not None and piece.repeat is not None:
                pages[-1].pieces.append((y, piece.repeat))
                y += piece.repeat.height
        if piece is not None:
            pages[-1].pieces.append((y, piece))
            y += piece.height
    return pages


def _pieces(room: Width, document: PagedDocument) -> list[Piece | None]:
    """Return the pieces of a document, None where a page begins."""

    def all_of(room: Width) -> list[Piece | None]:
        return [
            piece
            for block in document.blocks
            for piece in ((None,) if isinstance(block, NewPage) else pieces_of(room, block))
        ]

    pieces = all_of(room)
    pictures = sum(isinstance(block, Curves) for block in document.blocks)
    if not pictures:
        return pieces
    left = room.height - _SLACK - sum(piece.height for piece in pieces if piece is not None)
    most = _MOST_PICTURE * room.height
    height = min(most, max(left / pictures, _LEAST_PICTURE * room.height))
    return all_of(replace(room, picture=height))


def _needed(pieces: Sequence[Piece | None]) -> float:
    """Return the height that the first piece takes with what it must not be parted from."""
    total = 0.0
    for piece in pieces:
        if piece is None:
            break
        total += piece.height
        if not piece.with_next:
            break
    return total


def _paint_head(page: _Page, document: PagedDocument, *, first: bool, only: bool = False) -> float:
    """Paint the head of a page, or ``only`` measure it; return where the text begins."""
    ink, y = page.ink, _TOP
    if not first:
        title = ink.fitted(document.title, _TEXT, page.inner, bold=True)
        if not only:
            ink.text(_SIDE, y, title, _TEXT, bold=True, colour=ACCENT)
            ink.pen(RULE, 0.7)
            ink.line(_SIDE, y + 13.0, page.right, y + 13.0)
        return y + 13.0 + _GAP
    size = next(
        (
            size
            for size in _TITLE_SIZES
            if len(ink.lines(document.title, size, page.inner, bold=True)) <= _TITLE_LINES
        ),
        _TITLE_SIZES[-1],
    )
    title = ink.clamped(document.title, size, page.inner, _TITLE_LINES, bold=True)
    subtitle = ink.clamped(document.subtitle, _HEADING, page.inner, _SUBTITLE_LINES)
    if not only:
        ink.text(_SIDE, y, document.kind, _TEXT, colour=ACCENT)
    y += ink.line_height(_TEXT) + 1.0
    if not only:
        ink.block(_SIDE, y, title, size, page.inner, bold=True)
    y += ink.text_height(title, size, page.inner, bold=True) + 2.0
    if not only:
        ink.block(_SIDE, y, subtitle, _HEADING, page.inner)
    y += ink.text_height(subtitle, _HEADING, page.inner) + 6.0
    if not only:
        ink.fill(_SIDE, y, page.inner, 1.4, ACCENT)
    return y + _GAP


def _foot_height(page: _Page, document: PagedDocument) -> float:
    ink, room = page.ink, page.inner - _LABEL
    words = sum(ink.text_height(text, _SMALL, room) + 2.5 for _, text in document.feet)
    return 6.0 + words + 2.0 + ink.line_height(_SMALL)


def _paint_foot(page: _Page, document: PagedDocument, number: int, count: int) -> None:
    ink, room = page.ink, page.inner - _LABEL
    y = page.height - _BOTTOM - _foot_height(page, document)
    ink.pen(RULE, 0.7)
    ink.line(_SIDE, y, page.right, y)
    y += 6.0
    for label, text in document.feet:
        ink.text(_SIDE, y, label, _SMALL, bold=True)
        y += ink.block(_SIDE + _LABEL, y, text, _SMALL, room) + 2.5
    y += 2.0
    if count > 1:
        ink.text(_SIDE, y, f"page {number} of {count}", _SMALL, colour=GREY)
    made = f"{document.made_with}, {document.date}"
    ink.text(page.right, y, made, _SMALL, colour=GREY, align=RIGHT)
