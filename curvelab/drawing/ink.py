"""A painter that thinks in points (1/72 inch) and paints in the pixels of its device."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QPainter,
    QPainterPath,
    QPen,
    QPolygonF,
)

from curvelab.drawing.palette import BLACK
from curvelab.drawing.wrapping import wrap
from curvelab.sweep.records import FloatArray

__all__ = ["CENTRE", "LEFT", "RIGHT", "Ink"]

Align = float  # share of a line's width that lies left of its place
LEFT, CENTRE, RIGHT = 0.0, 0.5, 1.0
_LIGATURES = QFont.Tag("liga")
_FAMILIES = ["DejaVu Sans", "Noto Sans", "Liberation Sans", "Arial"]


class Ink:
    """Text, lines and marks at positions in points on any paint device.

    Everything reaches the device in its own pixels, with pens that have a width there:
    a scaled painter or a cosmetic pen would leave marks in an SVG that other programs
    draw as blobs.

    Parameters
    ----------
    painter : QPainter
        Active on its device.
    origin : QPointF
        Where the point (0, 0) lies, in device pixels.
    unit : float
        Device pixels per point.
    """

    def __init__(self, painter: QPainter, origin: QPointF, unit: float) -> None:
        self._painter = painter
        self._origin = origin
        self._unit = unit
        self._fonts: dict[tuple[float, bool], tuple[QFont, QFontMetricsF]] = {}
        self._widths: dict[tuple[str, float, bool], float] = {}
        self._wrapped: dict[tuple[str, float, float, bool], list[str]] = {}
        painter.setRenderHints(
            QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing
        )

    def box(self, x: float, y: float, width: float, height: float) -> QRectF:
        """Return a rectangle given in points as device pixels."""
        unit = self._unit
        return QRectF(
            self._origin.x() + x * unit, self._origin.y() + y * unit, width * unit, height * unit
        )

    def _point(self, x: float, y: float) -> QPointF:
        return QPointF(self._origin.x() + x * self._unit, self._origin.y() + y * self._unit)

    def _font(self, size: float, bold: bool) -> tuple[QFont, QFontMetricsF]:
        if (size, bold) not in self._fonts:
            device = self._painter.device()
            font = QFont(_FAMILIES)
            font.setBold(bold)
            font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
            font.setFeature(_LIGATURES, 0)  # a hash or "file" must be found letter by letter
            font.setPointSizeF(size * self._unit * 72.0 / device.logicalDpiY())
            self._fonts[size, bold] = font, QFontMetricsF(font, device)
        return self._fonts[size, bold]

    def text_width(self, text: str, size: float, *, bold: bool = False) -> float:
        """Return the width of one line of text [pt]."""
        key = (text, size, bold)
        if key not in self._widths:
            advance = self._font(size, bold)[1].horizontalAdvance(text)
            self._widths[key] = advance / self._unit
        return self._widths[key]

    def line_height(self, size: float, *, bold: bool = False) -> float:
        """Return the height of one line [pt]."""
        return self._font(size, bold)[1].height() / self._unit

    def text_height(self, text: str, size: float, width: float, *, bold: bool = False) -> float:
        """Return the height of text wrapped into ``width`` [pt]."""
        return len(self.lines(text, size, width, bold=bold)) * self.line_height(size, bold=bold)

    def lines(self, text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
        """Return text wrapped into ``width`` [pt]."""
        key = (text, size, width, bold)
        if key not in self._wrapped:  # each block is measured before it is painted
            measure = partial(self.text_width, size=size, bold=bold)
            self._wrapped[key] = wrap(text, width, measure)
        return self._wrapped[key]

    def clamped(
        self, text: str, size: float, width: float, most: int, *, bold: bool = False
    ) -> str:
        """Return ``text``, cut with an ellipsis where it needs more than ``most`` lines."""
        lines = self.lines(text, size, width, bold=bold)
        if len(lines) <= most:
            return text
        last = self.fitted(" ".join(lines[most - 1 :]), size, width, bold=bold)
        return " ".join([*lines[: most - 1], last])

    def text(  # noqa: PLR0913 - place, size and look of one piece of text
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = BLACK,
        align: Align = LEFT,
    ) -> None:
        """Paint one line with its top at ``y`` and its left end, middle or right end at ``x``."""
        font, metrics = self._font(size, bold)
        self._painter.setFont(font)
        self._painter.setPen(QColor(colour))
        left = x if align == LEFT else x - self.text_width(text, size, bold=bold) * align
        start = self._point(left, y)
        self._painter.drawText(QPointF(start.x(), start.y() + metrics.ascent()), text)

    def block(  # noqa: PLR0913 - place, size and look of one block of text
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        width: float,
        *,
        bold: bool = False,
        colour: str = BLACK,
    ) -> float:
        """Paint text wrapped into ``width`` with its top at ``y``; return its height [pt]."""
        lines = self.lines(text, size, width, bold=bold)
        step = self.line_height(size, bold=bold)
        for number, line in enumerate(lines):
            self.text(x, y + number * step, line, size, bold=bold, colour=colour)
        return len(lines) * step

    def fitted(
        self, text: str, size: float, width: float, *, bold: bool = False, ends: bool = False
    ) -> str:
        """Return ``text``, shortened with an ellipsis where one line cannot hold it.

        Parameters
        ----------
        ends : bool
            Keep both ends, as of names that differ in their last letters, and not the start.
        """
        metrics = self._font(size, bold)[1]
        mode = Qt.TextElideMode.ElideMiddle if ends else Qt.TextElideMode.ElideRight
        return metrics.elidedText(text, mode, width * self._unit)

    def pen(self, colour: str, width: float, dashes: Sequence[float] = ()) -> None:
        """Take a pen of ``width`` [pt]; ``dashes`` are lengths in pen widths."""
        pen = QPen(QColor(colour), width * self._unit)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap if dashes else Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        if dashes:
            pen.setDashPattern(list(dashes))
        self._painter.setPen(pen)

    def line(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """Draw a straight line with the pen taken last."""
        self._painter.drawLine(self._point(x1, y1), self._point(x2, y2))

    def polyline(self, x: FloatArray, y: FloatArray) -> None:
        """Draw a line through points [pt] with the pen taken last."""
        path = QPainterPath()
        path.addPolygon(self._polygon(x, y))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawPath(path)

    def polygon(self, x: FloatArray, y: FloatArray) -> None:
        """Draw a closed outline with the pen taken last."""
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawPolygon(self._polygon(x, y))

    def dots(self, x: FloatArray, y: FloatArray, radius: float, colour: str) -> None:
        """Paint a disc at each point: a stroke without length, with a round cap."""
        self.pen(colour, 2 * radius)
        self._painter.drawPoints(self._polygon(x, y))

    def rings(self, x: FloatArray, y: FloatArray, radius: float) -> None:
        """Draw a ring round each point with the pen taken last."""
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        size = radius * self._unit
        for point in self._points(x, y):
            self._painter.drawEllipse(point, size, size)

    def fill(self, x: float, y: float, width: float, height: float, colour: str) -> None:
        """Fill a rectangle."""
        self._painter.fillRect(self.box(x, y, width, height), QColor(colour))

    def frame(self, x: float, y: float, width: float, height: float) -> None:
        """Outline a rectangle with the pen taken last."""
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawRect(self.box(x, y, width, height))

    def _polygon(self, x: FloatArray, y: FloatArray) -> QPolygonF:
        return QPolygonF(self._points(x, y))

    def _points(self, x: FloatArray, y: FloatArray) -> list[QPointF]:
        across = self._origin.x() + np.asarray(x) * self._unit
        down = self._origin.y() + np.asarray(y) * self._unit
        points = zip(across.tolist(), down.tolist(), strict=True)
        return [QPointF(left, top) for left, top in points]
