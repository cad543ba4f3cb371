"""The cursor of the plot: two thin lines, drawn in pixels, moved by mouse or keys."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

__all__ = ["Crosshair"]


class Crosshair(pg.GraphicsObject):  # type: ignore[misc]
    """Two lines through one point of the plot."""

    def __init__(self, view: pg.ViewBox) -> None:
        super().__init__(view)
        self._view = view
        self._at: QPointF | None = None
        self._pen = QPen()
        self.setZValue(60)

    @property
    def at(self) -> QPointF | None:
        """Where it stands, in the plot's coordinates; None while hidden."""
        return self._at

    def set_colour(self, colour: str) -> None:
        """Draw it in another colour."""
        self._pen = QPen(QColor(colour), 1.0)
        self.update()

    def move_to(self, at: QPointF | None) -> None:
        """Move it, or hide it."""
        self._at = at
        self.update()

    def boundingRect(self) -> QRectF:  # noqa: N802
        """Return the area of the plot, in pixels."""
        return QRectF(self._view.rect())

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw the two lines."""
        if self._at is None:
            return
        point, area = self._view.mapFromView(self._at), self.boundingRect()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(self._pen)
        painter.drawLine(QLineF(area.left(), point.y(), area.right(), point.y()))
        painter.drawLine(QLineF(point.x(), area.top(), point.x(), area.bottom()))
