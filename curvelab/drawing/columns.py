"""Painting findings and facts: two columns of words that never leave their place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.drawing.ink import Ink
from curvelab.drawing.palette import ACCENT, BLACK, GREY
from curvelab.drawing.strokes import paint_shape
from curvelab.sheets.document import FindingLine
from curvelab.sheets.facts import Fact

__all__ = ["facts_height", "findings_height", "paint_facts", "paint_findings"]

_HEADING, _TEXT, _SMALL = 9.0, 8.0, 7.0
_BELOW_HEADING = 15.0
_INDENT = 14.0
_LABEL = 52.0
_BETWEEN = 5.0
_FACT_BETWEEN = 2.5
_MOST_SENTENCE_LINES, _FIGURE_LINES = 9, 3
_ROUNDING = 0.5
_MORE = 11.0
_MOST_FACT_LINES = 9

Area = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _Item:
    """A finding as it will stand in the column, its texts cut to their lines."""

    finding: FindingLine
    sentence: str
    figure: str
    height: float


def findings_height(ink: Ink, width: float, findings: Sequence[FindingLine], room: float) -> float:
    """Return the height [pt] of the findings, of as many as ``room`` holds."""
    items = _items(ink, width, findings, room)
    more = _MORE if len(items) < len(findings) or not findings else 0.0
    return _BELOW_HEADING + sum(item.height for item in items) + more


def paint_findings(ink: Ink, area: Area, findings: Sequence[FindingLine]) -> None:
    """Paint the findings, the worst first; those without room are counted."""
    left, y, width, room = area
    ink.text(left, y, "Findings", _HEADING, bold=True, colour=ACCENT)
    y += _BELOW_HEADING
    items = _items(ink, width, findings, room)
    for item in items:
        _paint_finding(ink, left, y, width, item)
        y += item.height
    hidden = len(findings) - len(items)
    if hidden:
        what = "finding" if hidden == 1 else "findings"
        ink.text(left, y, f"and {hidden} more {what} in the CSV", _TEXT, bold=True)
    elif not findings:
        ink.text(left, y, "none", _TEXT)


def _items(ink: Ink, width: float, findings: Sequence[FindingLine], room: float) -> list[_Item]:
    """Return the findings that fit, with as many lines each as let all of them fit."""
    items: list[_Item] = []
    for lines in range(_MOST_SENTENCE_LINES, 1, -1):
        items = [_item(ink, width - _INDENT, finding, lines) for finding in findings]
        if _BELOW_HEADING + sum(item.height for item in items) <= room + _ROUNDING:
            return items
    while items and _BELOW_HEADING + sum(i.height for i in items) + _MORE > room + _ROUNDING:
        items.pop()
    return items


def _item(ink: Ink, width: float, finding: FindingLine, lines: int) -> _Item:
    sentence = ink.clamped(finding.sentence, _TEXT, width, lines)
    figure = ink.clamped(finding.figure, _SMALL, width, min(lines, _FIGURE_LINES))
    height = ink.line_height(_TEXT, bold=True) + ink.text_height(sentence, _TEXT, width) + _BETWEEN
    if figure:
        height += ink.text_height(figure, _SMALL, width)
    return _Item(finding, sentence, figure, height)


def _paint_finding(ink: Ink, left: float, y: float, width: float, item: _Item) -> None:
    inner, start, finding = width - _INDENT, left + _INDENT, item.finding
    if finding.shape is not None:
        ink.pen(BLACK, 0.9)
        paint_shape(ink, finding.shape, np.array([left + 4.5]), np.array([y + 5.0]))
    word = f"{finding.severity.upper()}  "
    code_at = start + ink.text_width(word, _TEXT, bold=True)
    ink.text(start, y, word, _TEXT, bold=True)
    ink.text(code_at, y, finding.code, _TEXT, bold=True, colour=ACCENT)
    y += ink.line_height(_TEXT, bold=True)
    y += ink.block(start, y, item.sentence, _TEXT, inner)
    if item.figure:
        ink.block(start, y, item.figure, _SMALL, inner, colour=GREY)


def facts_height(ink: Ink, width: float, facts: Sequence[Fact], room: float) -> float:
    """Return the height [pt] of the facts, cut to what ``room`` holds."""
    lines = _fact_lines(ink, width, facts, room)
    return _BELOW_HEADING + sum(_fact_heights(ink, width, facts, lines))


def paint_facts(ink: Ink, area: Area, facts: Sequence[Fact]) -> None:
    """Paint label and text of each fact, with as many lines each as there is room for."""
    left, y, width, room = area
    ink.text(left, y, "How it was measured", _HEADING, bold=True, colour=ACCENT)
    y += _BELOW_HEADING
    lines = _fact_lines(ink, width, facts, room)
    for fact, height in zip(facts, _fact_heights(ink, width, facts, lines), strict=True):
        ink.text(left, y, fact.label, _SMALL, colour=GREY)
        inner = width - _LABEL
        ink.block(left + _LABEL, y, ink.clamped(fact.text, _SMALL, inner, lines), _SMALL, inner)
        y += height


def _fact_lines(ink: Ink, width: float, facts: Sequence[Fact], room: float) -> int:
    """Return the most lines a fact may have so that all of them fit."""
    for lines in range(_MOST_FACT_LINES, 1, -1):
        if _BELOW_HEADING + sum(_fact_heights(ink, width, facts, lines)) <= room + _ROUNDING:
            return lines
    return 1


def _fact_heights(ink: Ink, width: float, facts: Sequence[Fact], lines: int) -> list[float]:
    inner = width - _LABEL
    return [
        ink.text_height(ink.clamped(fact.text, _SMALL, inner, lines), _SMALL, inner) + _FACT_BETWEEN
        for fact in facts
    ]
