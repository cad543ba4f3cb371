"""Painting a curve picture: axes, quiet reference, loud tube, marks, labels and key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from curvelab.drawing.clipping import inside_runs
from curvelab.drawing.ink import CENTRE, RIGHT, Ink
from curvelab.drawing.key import paint_key
from curvelab.drawing.labels import spread
from curvelab.drawing.palette import BLACK, GREY, PAPER, RULE, step_colours, text_ink
from curvelab.drawing.strokes import STROKES, member_stroke, paint_crosses, paint_shape
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.ticks import Axis
from curvelab.sweep.records import FloatArray

__all__ = ["draw_picture", "paint_curves", "paint_stack"]

_TEXT = 7.0  # [pt]
_GAP = 3.0
_REACH = 6.0  # from a curve's end to its label
_MOVED = 2.0  # a label this far from its curve's end is tied to it by a line
_LINE = 8.6  # distance between end labels
_DOT = 1.6
_ABOVE_AXIS = 11.0  # where the axis of currents is named, and ratings stand
_MOST_MARKS = 24  # a finding shown by hundreds of readings must not hide the curve
_NATURAL = (480.0, 300.0)  # [pt] a picture by itself is laid out for


def paint_curves(painter: QPainter, rect: QRectF, picture: CurvePicture) -> None:
    """Paint a picture into ``rect`` [device pixels], type sizes in proportion."""
    unit = min(rect.width() / _NATURAL[0], rect.height() / _NATURAL[1])
    ink = Ink(painter, rect.topLeft(), unit)
    edge = 8.0
    draw_picture(
        ink,
        (edge, edge, rect.width() / unit - 2 * edge, rect.height() / unit - 2 * edge),
        picture,
    )


def paint_stack(painter: QPainter, rect: QRectF, pictures: Sequence[CurvePicture]) -> None:
    """Paint pictures over one another, each as high as the others."""
    height = rect.height() / len(pictures)
    for place, picture in enumerate(pictures):
        top = rect.top() + place * height
        paint_curves(painter, QRectF(rect.left(), top, rect.width(), height), picture)


@dataclass(frozen=True, slots=True)
class _Frame:
    """The plot's rectangle [pt] and what its edges mean."""

    left: float
    top: float
    width: float
    height: float
    x_axis: Axis
    y_axis: Axis

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    def across(self, x: FloatArray) -> FloatArray:
        axis = self.x_axis
        return self.left + (x - axis.low) / (axis.high - axis.low) * self.width

    def down(self, y: FloatArray) -> FloatArray:
        axis = self.y_axis
        return self.bottom - (y - axis.low) / (axis.high - axis.low) * self.height

    def runs(self, series: Series) -> list[tuple[FloatArray, FloatArray]]:
        """Return the parts of a line inside the plot [pt]."""
        x_range = (self.x_axis.low, self.x_axis.high)
        y_range = (self.y_axis.low, self.y_axis.high)
        parts = inside_runs(series.x, series.y, x_range, y_range)
        return [(self.across(x), self.down(y)) for x, y in parts]


def draw_picture(ink: Ink, area: tuple[float, float, float, float], picture: CurvePicture) -> None:
    """Draw a picture into ``area``, (left, top, width, height) in points of ``ink``."""
    left, top, width, height = area
    key_height = paint_key(ink, left, top, width, picture)
    frame = _frame(ink, (left, top + key_height, width, height - key_height), picture)
    _draw_scales(ink, frame)
    colours = step_colours(picture.step_count)
    for series in picture.series:
        _draw_series(ink, frame, series, picture, colours)
    for mark in picture.marks:
        shown = np.unique(np.linspace(0, mark.x.size - 1, _MOST_MARKS).astype(int))
        ink.pen(BLACK, 0.9)
        paint_shape(ink, mark.shape, frame.across(mark.x[shown]), frame.down(mark.y[shown]))
    _draw_limit_labels(ink, frame, picture)
    _draw_end_labels(ink, frame, picture, colours)
    ink.pen(BLACK, 0.8)
    ink.line(frame.left, frame.bottom, frame.right, frame.bottom)
    ink.line(frame.left, frame.top, frame.left, frame.bottom)


def _frame(ink: Ink, area: tuple[float, float, float, float], picture: CurvePicture) -> _Frame:
    """Leave room for tick labels, axis names and the labels at the curves' ends."""
    left, top, width, height = area
    ticks = max(ink.text_width(label, _TEXT) for label in picture.y.tick_labels)
    ends = [ink.text_width(item.label, _TEXT) for item in picture.series if item.end_label]
    before = ticks + 2 * _GAP
    after = max([*ends, ink.text_width(picture.x.tick_labels[-1], _TEXT) / 2]) + _REACH + 1.0
    below = 3.2 * _TEXT + _GAP
    above = 1.8 * _TEXT
    return _Frame(
        left + before,
        top + above,
        width - before - after,
        height - above - below,
        picture.x,
        picture.y,
    )


def _draw_scales(ink: Ink, frame: _Frame) -> None:
    ink.pen(RULE, 0.5)
    for x in frame.across(np.array(frame.x_axis.ticks)):
        ink.line(x, frame.top, x, frame.bottom)
    for y in frame.down(np.array(frame.y_axis.ticks)):
        ink.line(frame.left, y, frame.right, y)
    for x, label in zip(
        frame.across(np.array(frame.x_axis.ticks)), frame.x_axis.tick_labels, strict=True
    ):
        ink.text(x, frame.bottom + _GAP, label, _TEXT, colour=GREY, align=CENTRE)
    for y, label in zip(
        frame.down(np.array(frame.y_axis.ticks)), frame.y_axis.tick_labels, strict=True
    ):
        ink.text(frame.left - _GAP, y - 0.6 * _TEXT, label, _TEXT, colour=GREY, align=RIGHT)
    middle = frame.left + frame.width / 2
    ink.text(middle, frame.bottom + 1.7 * _TEXT, frame.x_axis.label, _TEXT, align=CENTRE)
    ink.text(frame.left, frame.top - _ABOVE_AXIS, frame.y_axis.label, _TEXT)


def _draw_series(
    ink: Ink, frame: _Frame, series: Series, picture: CurvePicture, colours: list[str]
) -> None:
    colour = colours[series.step or 0] if colours else BLACK
    if series.role is Role.MEASURED:
        ink.dots(frame.across(series.x), frame.down(series.y), _DOT, colour)
        return
    if series.role.is_points:
        ink.pen(colour if series.role is Role.LEFT_OUT else GREY, 0.9)
        paint_crosses(ink, frame.across(series.x), frame.down(series.y))
        return
    if series.member is None:
        stroke = STROKES[series.role]
    else:
        stroke = member_stroke(series.member, len(picture.members))
    ink.pen(stroke.colour or colour, stroke.width, stroke.dashes)
    for x, y in frame.runs(series):
        ink.polyline(x, y)


def _draw_limit_labels(ink: Ink, frame: _Frame, picture: CurvePicture) -> None:
    """Write each rating where its line enters the plot from above, or at a level's end."""
    taken = frame.left + ink.text_width(frame.y_axis.label, _TEXT) + 2 * _GAP
    for role in (Role.DISSIPATION, Role.PLATE_LIMIT, Role.LIMIT):
        for series in picture.of_role(role):
            runs = frame.runs(series)
            if not runs:
                continue
            x, y = runs[0]
            if y[0] == y[-1]:  # a level: beside its end, above the line
                ink.text(x[-1], y[-1] - 1.4 * _TEXT, series.label, _TEXT, colour=GREY, align=RIGHT)
                continue
            half = ink.text_width(series.label, _TEXT) / 2
            at = max(taken + half, min(float(x[np.argmin(y)]), frame.right - half))
            ink.text(at, frame.top - _ABOVE_AXIS, series.label, _TEXT, colour=GREY, align=CENTRE)


def _draw_end_labels(ink: Ink, frame: _Frame, picture: CurvePicture, colours: list[str]) -> None:
    """Write each grid step beside the end of its curve, moved apart where they would touch."""
    ends = [
        (float(frame.across(series.x[-1:])[0]), float(frame.down(series.y[-1:])[0]), series)
        for series in picture.series
        if series.end_label and series.y[-1] <= frame.y_axis.high
    ]
    ends.sort(key=lambda end: end[0])
    while ends:
        reach = ends[0][0] + ink.text_width(ends[0][2].label, _TEXT) + _REACH
        column = sorted((end for end in ends if end[0] <= reach), key=lambda end: end[1])
        ends = [end for end in ends if end[0] > reach]
        most = max(2, int(frame.height / _LINE))
        if len(column) > most:
            kept = np.unique(np.linspace(0, len(column) - 1, most).astype(int))
            column = [column[position] for position in kept]
        low, high = frame.top, frame.bottom - 0.55 * _LINE
        for (x, y, series), level in zip(
            column, spread([end[1] for end in column], _LINE, low, high), strict=True
        ):
            colour = BLACK if series.step is None else colours[series.step]
            width = ink.text_width(series.label, _TEXT)
            if x + _REACH + width < frame.right:  # inside the plot: keep the grid lines off it
                ink.fill(x + _REACH - 0.5, level - 0.5 * _TEXT, width + 1.0, _TEXT, PAPER)
            if abs(level - y) > _MOVED:  # not up to the label, where it would look like a minus
                ink.pen(colour, 0.4)
                ink.line(x + 1.5, y, x + _REACH - 2.0, level)
            written = text_ink(colour, PAPER)
            ink.text(x + _REACH, level - 0.6 * _TEXT, series.label, _TEXT, colour=written)
