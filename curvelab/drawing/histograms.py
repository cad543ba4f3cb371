"""Painting histograms: one bar a bin, its verdicts told by pattern before colour."""

from __future__ import annotations

from collections.abc import Sequence

from curvelab.drawing.ink import CENTRE, RIGHT, Ink
from curvelab.drawing.palette import ACCENT, BLACK, GREY, PAPER, RULE
from curvelab.health.records import Verdict
from curvelab.sheets.histogram import Histogram, HistogramBin
from curvelab.sheets.ticks import round_axis

__all__ = ["HISTOGRAM_HEIGHT", "paint_histograms"]

HISTOGRAM_HEIGHT = 138.0  # [pt]
_TEXT, _TITLE = 6.6, 8.0
_GUTTER = 24.0
_LEFT, _ABOVE, _BELOW = 22.0, 26.0, 24.0
_HATCH = 3.0  # [pt] between the lines
_BAR = 0.8  # share of a bin's width
_MOST_TICKS = 9

Box = tuple[float, float, float, float]


def paint_histograms(
    ink: Ink, place: tuple[float, float, float], items: Sequence[Histogram]
) -> None:
    """Paint up to two histograms side by side at (left, top), ``place``'s third the width."""
    left, top, width = place
    each = (width - _GUTTER) / 2
    for number, item in enumerate(items):
        _paint(ink, (left + number * (each + _GUTTER), top, each, HISTOGRAM_HEIGHT), item)


def _paint(ink: Ink, area: Box, item: Histogram) -> None:
    left, top, width, height = area
    ink.text(left, top, ink.fitted(item.title, _TITLE, 0.45 * width, bold=True), _TITLE, bold=True)
    _paint_key(ink, left + width, top + 1.0)
    if item.without:
        ink.text(left, top + 11.0, f"{item.without} without a figure", _TEXT, colour=GREY)
    frame = (left + _LEFT, top + _ABOVE, width - _LEFT, height - _ABOVE - _BELOW)
    axis = round_axis("", 0.0, float(max((part.total for part in item.bins), default=1)), 4)
    ticks = [
        (tick, label)
        for tick, label in zip(axis.ticks, axis.tick_labels, strict=True)
        if tick == int(tick)  # there is no half of a tube
    ]
    x, y, inner, tall = frame
    for tick, label in ticks:
        level = y + tall * (1 - tick / axis.high)
        ink.pen(RULE, 0.5)
        ink.line(x, level, x + inner, level)
        ink.text(x - 3.0, level - 0.6 * _TEXT, label.split(".")[0], _TEXT, colour=GREY, align=RIGHT)
    bins = len(item.bins)
    step = inner / max(bins, 1)
    for number, part in enumerate(item.bins):
        bar = (x + (number + (1 - _BAR) / 2) * step, y, _BAR * step, tall)
        _paint_bar(ink, bar, part, axis.high)
    _paint_scale(ink, frame, item)


def _paint_scale(ink: Ink, frame: Box, item: Histogram) -> None:
    x, y, inner, tall = frame
    bins = item.bins
    step = inner / max(len(bins), 1)
    edges = [*(part.low for part in bins), *(part.high for part in bins[-1:])]
    every = -(-len(edges) // _MOST_TICKS)
    # Counted from 100 %, so that the bogey figure is always named.
    start = next((at for at, edge in enumerate(edges) if edge == 100.0), 0) % every
    for at, edge in enumerate(edges):
        if at % every == start:
            ink.text(x + at * step, y + tall + 2.5, f"{edge:.0f}", _TEXT, colour=GREY, align=CENTRE)
        if edge == 100.0:
            ink.pen(BLACK, 0.8, (3.0, 2.0))
            ink.line(x + at * step, y - 4.0, x + at * step, y + tall)
    ink.pen(BLACK, 0.8)
    ink.line(x, y + tall, x + inner, y + tall)
    ink.text(x + inner / 2, y + tall + 12.0, item.axis_label, _TEXT, align=CENTRE)


def _paint_bar(ink: Ink, bar: Box, part: HistogramBin, highest: float) -> None:
    left, top, width, height = bar
    level = top + height
    for verdict, count in (
        (Verdict.ACCEPT, part.accept),
        (Verdict.HOLD, part.hold),
        (Verdict.REJECT, part.reject),
    ):
        if count:
            tall = height * count / highest
            level -= tall
            _fill(ink, (left, level, width, tall), verdict)
    if part.total:
        at = level - 1.35 * _TEXT
        ink.text(left + width / 2, at, str(part.total), _TEXT, align=CENTRE)


def _fill(ink: Ink, box: Box, verdict: Verdict) -> None:
    """Fill a bar: plain for accept, hatched for hold, black for reject."""
    left, top, width, height = box
    if verdict is Verdict.REJECT:
        ink.fill(*box, BLACK)
        return
    ink.fill(*box, ACCENT if verdict is Verdict.ACCEPT else PAPER)
    ink.pen(ACCENT if verdict is Verdict.ACCEPT else BLACK, 0.6)
    ink.frame(*box)
    if verdict is Verdict.HOLD:
        along = _HATCH
        while along < width + height:  # lines at 45 degrees, cut at the bar's edges
            start, rest = min(along, height), max(along - height, 0.0)
            across, up = min(along, width), max(along - width, 0.0)
            ink.line(left + rest, top + start, left + across, top + up)
            along += _HATCH


def _paint_key(ink: Ink, right: float, top: float) -> None:
    for verdict in reversed(Verdict):
        right -= ink.text_width(str(verdict), _TEXT)
        ink.text(right, top, str(verdict), _TEXT, colour=GREY)
        right -= 11.0
        _fill(ink, (right, top + 0.8, 8.0, 5.6), verdict)
        right -= 8.0
