"""Painting a sheet: one page, the same on paper, in a PDF, as PNG and as SVG."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from curvelab.drawing.columns import facts_height, findings_height, paint_facts, paint_findings
from curvelab.drawing.curves import draw_picture
from curvelab.drawing.ink import CENTRE, RIGHT, Ink
from curvelab.drawing.palette import ACCENT, BLACK, GREY, PAPER, RULE
from curvelab.drawing.table import paint_table, table_height, title_room
from curvelab.health.records import Verdict
from curvelab.sheets.document import SheetDocument

__all__ = ["paint_sheet"]

# [pt]: the narrower of A4 and the shorter of Letter, so that either page holds the layout.
_NATURAL = (595.0, 792.0)
_SIDE, _TOP, _BOTTOM = 44.0, 38.0, 34.0
_GAP = 12.0
_SMALL, _TEXT, _HEADING = 6.6, 8.0, 9.0
_VERDICT_WIDTH, _VERDICT_HEIGHT = 148.0, 44.0
_LEAST_PLOT, _MOST_PLOT = 222.0, 400.0
_TITLE_SIZES = (22.0, 17.0, 13.0)
_TITLE_LINES = 2
_GUTTER = 22.0
_FINDINGS_SHARE = 0.52


def paint_sheet(painter: QPainter, rect: QRectF, document: SheetDocument) -> None:
    """Paint one page into ``rect`` [device pixels], a page of A4, Letter or near it.

    The plot takes what the words leave it; where the words are too many for the page they
    are cut with an ellipsis or a count, and never run out of it.
    """
    unit = min(rect.width() / _NATURAL[0], rect.height() / _NATURAL[1])
    page = _Page(Ink(painter, rect.topLeft(), unit), rect.width() / unit, rect.height() / unit)
    footer_top = page.height - _BOTTOM - _paint_footer(page, document, None)
    y = _paint_header(page, document)
    y = _paint_constants(page, document, y)
    room = footer_top - _GAP - y
    words = min(_words_height(page, document, room), room - _LEAST_PLOT - _GAP)
    plot = min(_MOST_PLOT, room - words - _GAP)
    draw_picture(page.ink, (_SIDE, y, page.inner, plot), document.picture)
    _paint_words(page, document, y + plot + _GAP, footer_top - _GAP - (y + plot + _GAP))
    _paint_footer(page, document, footer_top)


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


def _paint_header(page: _Page, document: SheetDocument) -> float:
    """Paint identity and verdict; return where the next block begins."""
    ink, room = page.ink, page.inner - _VERDICT_WIDTH - _GUTTER
    y = _TOP
    ink.text(_SIDE, y, document.kind, _TEXT, colour=ACCENT)
    y += ink.line_height(_TEXT) + 1.0
    size = next(
        (
            size
            for size in _TITLE_SIZES
            if len(ink.lines(document.title, size, room, bold=True)) <= _TITLE_LINES
        ),
        _TITLE_SIZES[-1],
    )
    title = ink.clamped(document.title, size, room, _TITLE_LINES, bold=True)
    y += ink.block(_SIDE, y, title, size, room, bold=True) + 2.0
    type_line = ink.clamped(document.type_line, _HEADING, room, _TITLE_LINES)
    y += ink.block(_SIDE, y, type_line, _HEADING, room)
    y = max(y, _paint_verdict(page, document)) + 7.0
    ink.fill(_SIDE, y, page.inner, 1.4, ACCENT)
    return y + _GAP


def _paint_verdict(page: _Page, document: SheetDocument) -> float:
    """Paint the verdict so that its weight, not its colour, tells it at arm's length."""
    ink, left = page.ink, page.right - _VERDICT_WIDTH
    word = str(document.verdict).upper()
    box = (left, _TOP + 1.0, _VERDICT_WIDTH, _VERDICT_HEIGHT)
    colour = BLACK
    if document.verdict is Verdict.REJECT:
        ink.fill(*box, BLACK)
        colour = PAPER
    else:
        colour = ACCENT if document.verdict is Verdict.ACCEPT else BLACK
        ink.pen(colour, 1.4)
        ink.frame(*box)
        if document.verdict is Verdict.HOLD:
            ink.pen(colour, 0.6)
            ink.frame(left + 3, _TOP + 4.0, _VERDICT_WIDTH - 6, _VERDICT_HEIGHT - 6)
    size = 26.0
    top = _TOP + 1.0 + (_VERDICT_HEIGHT - ink.line_height(size, bold=True)) / 2
    ink.text(left + _VERDICT_WIDTH / 2, top, word, size, bold=True, colour=colour, align=CENTRE)
    y = _TOP + _VERDICT_HEIGHT + 5.0
    ink.text(left + _VERDICT_WIDTH / 2, y, document.verdict_meaning, _TEXT, align=CENTRE)
    return y + ink.line_height(_TEXT)


def _paint_constants(page: _Page, document: SheetDocument, y: float) -> float:
    ink = page.ink
    ink.text(_SIDE, y, document.table_title, _HEADING, bold=True, colour=ACCENT)
    title = ink.text_width(document.table_title, _HEADING, bold=True)
    if title > title_room(ink, _SIDE, page.inner, document.table):
        y += ink.line_height(_HEADING)
    paint_table(ink, _SIDE, y, page.inner, document.table)
    return y + table_height(ink, page.inner, document.table) + _GAP


def _columns(page: _Page) -> tuple[float, float]:
    """Return the widths of the findings and of the facts."""
    room = page.inner - _GUTTER
    return room * _FINDINGS_SHARE, room * (1 - _FINDINGS_SHARE)


def _words_height(page: _Page, document: SheetDocument, room: float) -> float:
    left, right = _columns(page)
    return max(
        findings_height(page.ink, left, document.findings, room),
        facts_height(page.ink, right, document.facts, room),
    )


def _paint_words(page: _Page, document: SheetDocument, y: float, room: float) -> None:
    left, right = _columns(page)
    paint_findings(page.ink, (_SIDE, y, left, room), document.findings)
    paint_facts(page.ink, (page.right - right, y, right, room), document.facts)


def _paint_footer(page: _Page, document: SheetDocument, y: float | None) -> float:
    """Paint limits of the sheet, cautions and provenance; without ``y`` only measure."""
    ink, label = page.ink, 62.0
    measured = 0.0
    blocks = (("not tested", document.not_said), ("cautions", " ".join(document.cautions)))
    if y is not None:
        ink.pen(RULE, 0.7)
        ink.line(_SIDE, y, page.right, y)
    measured += 6.0
    for heading, text in blocks:
        height = ink.text_height(text, _SMALL, page.inner - label)
        if y is not None:
            ink.text(_SIDE, y + measured, heading, _SMALL, bold=True)
            ink.block(_SIDE + label, y + measured, text, _SMALL, page.inner - label)
        measured += height + 2.5
    measured += 2.0
    if y is not None:
        _paint_provenance(page, document, y + measured)
    return measured + ink.line_height(_SMALL)


def _paint_provenance(page: _Page, document: SheetDocument, y: float) -> None:
    ink = page.ink
    made = f"{document.made_with}, {document.date}"
    ink.text(page.right, y, made, _SMALL, colour=GREY, align=RIGHT)
    tail = f"  SHA-256 {document.sha256}"
    size = 5.6
    room = page.inner - ink.text_width(made, _SMALL) - ink.text_width(tail, size) - 10.0
    name = ink.fitted(document.source_name, size, room)
    ink.text(_SIDE, y + 0.8, name + tail, size, colour=GREY)
