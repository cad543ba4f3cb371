"""The readings as dots: one item, one colour a grid step, cheap to change."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from curvelab.sheets.plot_records import Series

__all__ = ["DotLayer"]


class DotLayer(pg.GraphicsObject):  # type: ignore[misc]
    """Draws every reading of a picture; the stock scatter item takes five times as long."""

    def __init__(self, size: float) -> None:
        super().__init__()
        self._size = size
        self._dots: list[tuple[QPolygonF, QPen]] = []
        self._bounds = QRectF()

    def show_dots(self, series: Sequence[Series], colours: Sequence[str]) -> None:
        """Draw other readings, each step in its colour of ``colours``."""
        self.prepareGeometryChange()
        self._dots = [
            (pg.functions.arrayToQPolygonF(line.x, line.y), self._pen(colours[line.step or 0]))
            for line in series
        ]
        self._bounds = QRectF()
        if series:
            x = np.concatenate([line.x for line in series])
            y = np.concatenate([line.y for line in series])
            left, low = float(x.min()), float(y.min())
            self._bounds = QRectF(left, low, float(x.max()) - left, float(y.max()) - low)
        self.update()

    def boundingRect(self) -> QRectF:  # noqa: N802
        """Return the area of the readings with room for half a dot, in the plot's units."""
        width, height = self.pixelVectors()
        if width is None or height is None:
            return self._bounds
        across, up = width.length() * self._size, height.length() * self._size
        return self._bounds.adjusted(-across, -up, across, up)

    def viewTransformChanged(self) -> None:  # noqa: N802
        """Follow a zoom, which changes how much room half a dot takes."""
        self.prepareGeometryChange()

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw the dots."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for points, pen in self._dots:
            painter.setPen(pen)
            painter.drawPoints(points)

    def _pen(self, colour: str) -> QPen:
        pen = QPen(QColor(colour), self._size)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setCosmetic(True)
        return pen
