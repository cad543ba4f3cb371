"""The tube's curves and readings: one item for all steps, each in its colour."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from curvelab.sheets.plot_records import Role, Series
from curvelab.window.plots.lines import as_thick_on

__all__ = ["SHARE_DASHES", "SeriesLayer"]

# In widths of the pen. The causes of a current are told apart by their dashes, not by colour alone.
SHARE_DASHES = ((7.0, 2.0), (2.0, 2.0), (7.0, 2.0, 1.5, 2.0), (4.0, 4.0), (1.5, 4.0))
_DASHES = {Role.DOWN_PASS: (5.0, 2.5), Role.EXTRAPOLATED: (2.0, 4.0)}
_THIN = 0.6  # of the width, where nothing backs a curve

_MOST_SMOOTH = 600  # smoothing more dots than this costs more than it shows


class SeriesLayer(pg.GraphicsObject):  # type: ignore[misc]
    """Draws series as dots or lines; the stock items take several times as long to change.

    Parameters
    ----------
    width : float
        Of a dot or line, in pixels.
    """

    def __init__(self, width: float, depth: float) -> None:
        super().__init__()
        self._width = width
        self._drawn: list[tuple[QPolygonF, QPen, bool]] = []
        self._bounds = QRectF()
        self.setZValue(depth)

    @property
    def pens(self) -> list[QPen]:
        """The pens in use, in the order of the series."""
        return [pen for _, pen, _ in self._drawn]

    def show_series(self, series: Sequence[Series], colours: Sequence[str]) -> None:
        """Draw other series, each step in its colour of ``colours``."""
        self.show_with_pens(
            series, [self._pen(line.role, colours[line.step or 0], line.step) for line in series]
        )

    def show_with_pens(self, series: Sequence[Series], pens: Sequence[QPen]) -> None:
        """Draw other series, each with its own of ``pens``."""
        self.prepareGeometryChange()
        self._drawn = [
            (pg.functions.arrayToQPolygonF(line.x, line.y), pen, line.role.is_points)
            for line, pen in zip(series, pens, strict=True)
        ]
        self._bounds = QRectF()
        if series:
            x = np.concatenate([line.x for line in series])
            y = np.concatenate([line.y for line in series])
            left, low = float(x.min()), float(y.min())
            self._bounds = QRectF(left, low, float(x.max()) - left, float(y.max()) - low)
        self.update()

    def boundingRect(self) -> QRectF:  # noqa: N802
        """Return the area of the series with room for a dot, in the plot's units."""
        width, height = self.pixelVectors()
        if width is None or height is None:
            return self._bounds
        across, up = width.length() * self._width, height.length() * self._width
        return self._bounds.adjusted(-across, -up, across, up)

    def viewTransformChanged(self) -> None:  # noqa: N802
        """Follow a zoom, which changes how much room a dot takes."""
        self.prepareGeometryChange()

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw the series."""
        smooth = QPainter.RenderHint.Antialiasing
        few = sum(points.size() for points, _, dots in self._drawn if dots) <= _MOST_SMOOTH
        for points, pen, dots in self._drawn:
            painter.setPen(as_thick_on(painter, pen))
            painter.setRenderHint(smooth, few or not dots)
            if dots:
                painter.drawPoints(points)
            else:
                painter.drawPolyline(points)

    def _pen(self, role: Role, colour: str, step: int | None) -> QPen:
        thin = _THIN if role is Role.EXTRAPOLATED else 1.0
        pen = QPen(QColor(colour), thin * self._width)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setCosmetic(True)
        if role is Role.PROJECTED:
            pen.setStyle(Qt.PenStyle.DashLine)
        dashes: tuple[float, ...] | None = _DASHES.get(role)
        if role is Role.SHARE:
            dashes = SHARE_DASHES[(step or 0) % len(SHARE_DASHES)]
        if dashes:
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            pen.setDashPattern(list(dashes))
        return pen
