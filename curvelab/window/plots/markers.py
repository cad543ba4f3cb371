"""Marker shapes of findings, as the plot draws them and as a key shows them."""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from curvelab.sheets.plot_records import Role, Shape

__all__ = ["SYMBOLS", "dashed_icon", "role_icon", "shape_icon"]

# The plotting library's own letters for the shapes.
SYMBOLS = MappingProxyType(
    {
        Shape.RING: "o",
        Shape.SQUARE: "s",
        Shape.DIAMOND: "d",
        Shape.TRIANGLE: "t1",
        Shape.INVERTED_TRIANGLE: "t",
        Shape.PENTAGON: "p",
    }
)
_CORNERS = MappingProxyType(
    {
        Shape.SQUARE: ((-1, -1), (1, -1), (1, 1), (-1, 1)),
        Shape.DIAMOND: ((0, -1.3), (1, 0), (0, 1.3), (-1, 0)),
        Shape.TRIANGLE: ((0, -1.1), (1.1, 0.9), (-1.1, 0.9)),
        Shape.INVERTED_TRIANGLE: ((0, 1.1), (1.1, -0.9), (-1.1, -0.9)),
        Shape.PENTAGON: ((0, -1.1), (1.05, -0.3), (0.65, 0.9), (-0.65, 0.9), (-1.05, -0.3)),
    }
)
_LINE_STYLES = MappingProxyType(
    {
        Role.FITTED: (2.0, Qt.PenStyle.SolidLine),
        Role.EXTRAPOLATED: (1.2, Qt.PenStyle.DotLine),
        Role.REFERENCE: (1.4, Qt.PenStyle.DashLine),
        Role.DISSIPATION: (1.4, Qt.PenStyle.DashDotLine),
        Role.UP_PASS: (2.0, Qt.PenStyle.SolidLine),
        Role.DOWN_PASS: (2.0, Qt.PenStyle.DashLine),
    }
)
_SCALE = 2.0  # drawn twice as large, so that it is sharp on a dense screen too


@lru_cache(maxsize=64)
def shape_icon(shape: Shape, colour: str, size: int = 16) -> QIcon:
    """Return the outline of a marker."""
    path, half = QPainterPath(), size * 0.3
    if shape is Shape.RING:
        path.addEllipse(QPointF(0, 0), half, half)
    else:
        path.addPolygon(QPolygonF([QPointF(half * x, half * y) for x, y in _CORNERS[shape]]))
        path.closeSubpath()
    pixmap = _blank(size, size)
    painter = _painter(pixmap)
    painter.translate(size / 2, size / 2)
    painter.setPen(QPen(QColor(colour), 1.6))
    painter.drawPath(path)
    painter.end()
    return QIcon(pixmap)


def role_icon(role: Role, colour: str) -> QIcon:
    """Return a short sample of how a role is drawn: a key beside its switch."""
    width, height = 20, 16
    pixmap = _blank(width, height)
    painter = _painter(pixmap)
    if role in _LINE_STYLES:
        thickness, style = _LINE_STYLES[role]
        painter.setPen(QPen(QColor(colour), thickness, style))
        painter.drawLine(QPointF(1, height / 2), QPointF(width - 1, height / 2))
    else:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(colour))
        for x in (4.0, 10.0, 16.0):
            painter.drawEllipse(QRectF(x - 2.5, height / 2 - 2.5, 5, 5))
    painter.end()
    return QIcon(pixmap)


@lru_cache(maxsize=64)
def dashed_icon(colour: str, width: float, dashes: tuple[float, ...]) -> QIcon:
    """Return a short sample of a line with dashes of its own."""
    wide, height = 30, 16
    pixmap = _blank(wide, height)
    painter = _painter(pixmap)
    pen = QPen(QColor(colour), width)
    if dashes:
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        pen.setDashPattern(list(dashes))
    painter.setPen(pen)
    painter.drawLine(QPointF(1, height / 2), QPointF(wide - 1, height / 2))
    painter.end()
    return QIcon(pixmap)


def _blank(width: int, height: int) -> QPixmap:
    pixmap = QPixmap(int(width * _SCALE), int(height * _SCALE))
    pixmap.setDevicePixelRatio(_SCALE)
    pixmap.fill(Qt.GlobalColor.transparent)
    return pixmap


def _painter(pixmap: QPixmap) -> QPainter:
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    return painter
