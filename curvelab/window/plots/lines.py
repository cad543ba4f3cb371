"""Many lines as one item of the plot: the fast way to draw them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPen
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from curvelab.sheets.plot_records import Series
from curvelab.sweep.records import FloatArray

__all__ = [
    "COMPARED_DASHES",
    "CurveItem",
    "as_thick_on",
    "dashed_pen",
    "line_item",
    "pen",
    "show_lines",
]

# How each of a few tubes laid over the first is dashed, in widths of the pen; none of them as
# the reference family is.
COMPARED_DASHES: tuple[tuple[float, ...], ...] = ((), (9, 3), (2, 2), (9, 3, 2, 3))

_EMPTY = np.empty(0)


def pen(colour: str, width: float = 1.0, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
    """Return a pen that stays as wide when the plot is zoomed."""
    made: QPen = pg.mkPen(colour, width=width, style=style)
    return made


def dashed_pen(colour: str, width: float, dashes: Sequence[float]) -> QPen:
    """Return a pen with dashes of its own, none for a line without a break."""
    made = pen(colour, width)
    if dashes:
        made.setDashPattern(list(dashes))
    return made


def as_thick_on(painter: QPainter, pen: QPen) -> QPen:
    """Return a pen that is as thick on a dense screen, or in a fine picture, as on any other.

    Qt counts the width of a pen that no zoom changes in the dots of the device.
    """
    # The device of a painter of its own would be the widget, into whatever it is rendered.
    dots = painter.paintEngine().paintDevice().devicePixelRatio()
    if dots == 1.0:
        return pen
    made = QPen(pen)
    made.setWidthF(pen.widthF() * dots)
    return made


class CurveItem(pg.PlotCurveItem):  # type: ignore[misc]
    """The library's lines, as thick on every screen."""

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw the lines."""
        own = self.opts["pen"]
        try:
            self.opts["pen"] = as_thick_on(painter, pg.mkPen(own))
            super().paint(painter, option, widget)
        finally:
            self.opts["pen"] = own


def line_item(depth: float) -> CurveItem:
    """Return an empty item; ``segmentedLineMode`` keeps thick lines cheap to draw."""
    item = CurveItem(skipFiniteCheck=True)
    item.setSegmentedLineMode("on")
    item.setZValue(depth)
    return item


def show_lines(item: pg.PlotCurveItem, series: Sequence[Series]) -> None:
    """Draw several lines with one item, unconnected between one and the next."""
    if not series:
        item.setData(_EMPTY, _EMPTY, connect="all")
        return
    x, y = (np.concatenate([_of(line, name) for line in series]) for name in ("x", "y"))
    connect = np.ones(x.size, dtype=np.int32)
    connect[np.cumsum([line.x.size for line in series]) - 1] = 0
    item.setData(x, y, connect=connect)


def _of(line: Series, name: str) -> FloatArray:
    found: FloatArray = getattr(line, name)
    return found
