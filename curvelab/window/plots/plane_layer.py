"""The cells of a plane, coloured and numbered: one item of the plot."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QImage,
    QPainter,
    QPen,
)
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from curvelab.drawing.palette import diverging_colours, ink_on
from curvelab.sheets.plane_picture import PlanePicture
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["PlaneLayer"]

_DOT = 3.0
_AIR = 1.35  # a number takes this many times its own width and height


class PlaneLayer(pg.GraphicsObject):  # type: ignore[misc]
    """Draws a picture of percents in pixels over the plot.

    What the published figures do not back is hatched; readings are dots; numbers stand in as
    many cells as have room for them.
    """

    def __init__(self, view: pg.ViewBox) -> None:
        super().__init__(view)
        self._view = view
        self._picture: PlanePicture | None = None
        self._image = QImage()
        self._colours = np.empty((0, 0, 3), dtype=np.uint8)
        self._font, self._ink = QFont(), QColor("black")
        self._dots = True
        self.setZValue(20)
        view.sigTransformChanged.connect(self._place)
        view.sigResized.connect(self._place)

    def show_picture(
        self, picture: PlanePicture | None, font: QFont, ink: str, *, dark: bool
    ) -> None:
        """Draw another picture."""
        self._picture, self._font, self._ink = picture, font, QColor(ink)
        if picture is not None:
            known = np.isfinite(picture.percent)
            share = np.where(known, picture.percent, 0.0) / picture.end
            self._colours = diverging_colours(share, dark=dark)
            cells = np.zeros((*picture.percent.shape, 4), dtype=np.uint8)
            cells[..., :3], cells[..., 3] = self._colours, np.where(known, 255, 0)
            rows = np.ascontiguousarray(cells.transpose(1, 0, 2)[::-1])  # the top row first
            height, width = rows.shape[:2]
            image = QImage(rows.data, width, height, 4 * width, QImage.Format.Format_RGBA8888)
            self._image = image.copy()  # the bytes do not outlive this function
        self.update()

    def show_dots(self, shown: bool) -> None:
        """Show or hide the readings."""
        self._dots = shown
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
        """Draw cells, hatching, readings and numbers."""
        picture = self._picture
        if picture is None or not picture.percent.size:
            return
        painter.setClipRect(self.boundingRect())
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, False)
        painter.drawImage(self._area(picture), self._image)
        x, y = self._edges(picture)
        hatch = QBrush(self._ink, Qt.BrushStyle.BDiagPattern)
        for column, row in np.argwhere(picture.extrapolated):
            painter.fillRect(_cell(x, y, column, row), hatch)
        if self._dots:
            self._paint_readings(painter, picture)
        self._paint_numbers(painter, picture, x, y)

    def _place(self, *_: object) -> None:
        self.prepareGeometryChange()
        self.update()

    def _area(self, picture: PlanePicture) -> QRectF:
        x, y = self._edges(picture)
        return QRectF(QPointF(x[0], y[-1]), QPointF(x[-1], y[0]))

    def _edges(self, picture: PlanePicture) -> tuple[FloatArray, FloatArray]:
        """Return the edges of the columns and of the rows [px]."""
        return self._pixels(picture.plate_edges, picture.grid_edges)

    def _pixels(
        self, plate_voltage: FloatArray, grid_voltage: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return voltages as places across and down [px]."""
        (left, right), (low, high) = self._view.viewRange()
        first = self._view.mapFromView(QPointF(left, low))
        last = self._view.mapFromView(QPointF(right, high))
        across = (last.x() - first.x()) / (right - left)
        up = (last.y() - first.y()) / (high - low)
        x = first.x() + (np.asarray(plate_voltage) - left) * across
        return x, first.y() + (np.asarray(grid_voltage) - low) * up

    def _paint_readings(self, painter: QPainter, picture: PlanePicture) -> None:
        points = pg.functions.arrayToQPolygonF(*self._pixels(*picture.readings.T))
        pen = QPen(self._ink, _DOT)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        painter.drawPoints(points)

    def _paint_numbers(
        self, painter: QPainter, picture: PlanePicture, x: FloatArray, y: FloatArray
    ) -> None:
        """Write percents, each in the middle of a cell, as near to each other as is readable."""
        painter.setFont(self._font)
        metrics = QFontMetricsF(self._font)
        room = metrics.horizontalAdvance("−000"), metrics.height()
        every = [
            max(1, int(np.ceil(_AIR * need / max(abs(edges[1] - edges[0]), 1e-6))))
            for need, edges in zip(room, (x, y), strict=True)
        ]
        known = np.isfinite(picture.percent)
        reach = int(np.ceil((room[0] / max(abs(x[1] - x[0]), 1e-6) - 1) / 2))
        for column in _spaced(picture.percent.shape[0], every[0]):
            for row in _spaced(picture.percent.shape[1], every[1]):
                if known[max(column - reach, 0) : column + reach + 1, row].all():
                    self._paint_number(painter, metrics, (column, row), _cell(x, y, column, row))

    def _paint_number(
        self, painter: QPainter, metrics: QFontMetricsF, at: tuple[int, int], cell: QRectF
    ) -> None:
        assert self._picture is not None
        value, colour = float(self._picture.percent[at]), self._colours[at]
        text = "0" if round(value) == 0 else f"{value:+.0f}".replace("-", "−")
        width, height = metrics.horizontalAdvance(text), metrics.height()
        middle = cell.center()
        box = QRectF(middle.x() - width / 2 - 1, middle.y() - height / 2, width + 2, height)
        painter.fillRect(box, QColor(*(int(part) for part in colour)))  # no dot under a figure
        painter.setPen(QColor(ink_on(colour)))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def _cell(x: FloatArray, y: FloatArray, column: int, row: int) -> QRectF:
    """Return a cell [px]; rows rise on the screen."""
    return QRectF(QPointF(x[column], y[row + 1]), QPointF(x[column + 1], y[row]))


def _spaced(count: int, every: int) -> IntArray:
    """Return positions ``every`` so far apart, as far from both ends."""
    return np.arange(((count - 1) % every) // 2, count, every)
