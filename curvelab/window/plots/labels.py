"""Labels at the ends of curves and beside ratings, drawn in pixels over the plot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from curvelab.drawing.labels import spread
from curvelab.sweep.records import FloatArray

__all__ = ["Label", "LabelLayer"]

_GAP = 8.0
_EDGE = 3.0
_FAR = 2.5  # labels that had to move further than this many lines are left out


@dataclass(frozen=True, slots=True, eq=False)
class Label:
    """A text at the end of a line, given in the plot's coordinates.

    ``beside`` puts it right of the line's last visible point; otherwise it stands inside
    the plot, under the line's highest visible point.
    """

    text: str
    colour: str
    x: FloatArray
    y: FloatArray
    beside: bool = True


class LabelLayer(pg.GraphicsObject):  # type: ignore[misc]
    """Draws all labels of a plot at once: one item instead of one for each text."""

    def __init__(self, view: pg.ViewBox, font: QFont) -> None:
        super().__init__(view)
        self._view = view
        self._labels: tuple[Label, ...] = ()
        self._paper = QColor("white")
        self._font = font
        self.setZValue(50)
        view.sigTransformChanged.connect(self._place)
        view.sigResized.connect(self._place)

    def show_labels(self, labels: Sequence[Label], paper: str, font: QFont) -> None:
        """Draw other labels."""
        self._labels, self._paper, self._font = tuple(labels), QColor(paper), font
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
        """Draw the labels where their lines now end."""
        painter.setFont(self._font)
        metrics = QFontMetricsF(self._font)
        lowest = 0.0
        for label in self._labels:
            if not label.beside:
                lowest = self._paint_inside(painter, metrics, label, lowest)
        self._paint_ends(painter, metrics, [label for label in self._labels if label.beside])

    def _place(self, *_: object) -> None:
        self.prepareGeometryChange()
        self.update()

    def _last_visible(self, label: Label, *, highest: bool) -> QPointF | None:
        """Return the last, or the highest, point of a line inside the view, in pixels."""
        (left, right), (low, high) = self._view.viewRange()
        inside = (label.x >= left) & (label.x <= right) & (label.y >= low) & (label.y <= high)
        if not inside.any():
            return None
        at = int(np.flatnonzero(inside)[np.argmax(label.y[inside]) if highest else -1])
        point: QPointF = self._view.mapFromView(QPointF(float(label.x[at]), float(label.y[at])))
        return point

    def _paint_ends(
        self, painter: QPainter, metrics: QFontMetricsF, labels: Sequence[Label]
    ) -> None:
        """Draw end labels; those that touch move apart, those that would stray are left out."""
        placed = [(self._last_visible(label, highest=False), label) for label in labels]
        ends = sorted(
            ((point, label) for point, label in placed if point is not None),
            key=lambda end: end[0].y(),
        )
        line, area = metrics.height() * 0.86, self.boundingRect()
        columns: dict[int, list[tuple[QPointF, Label]]] = {}
        for end in ends:  # curves that end at the same voltage share a column of labels
            columns.setdefault(round(end[0].x() / (4 * line)), []).append(end)
        for column in columns.values():
            wanted = [point.y() for point, _ in column]
            heights = spread(wanted, line, line / 2, area.height() - line / 2)
            for (point, label), height in zip(column, heights, strict=True):
                if abs(height - point.y()) <= _FAR * line:
                    self._paint_text(painter, metrics, label, point.x() + _GAP, height)

    def _paint_inside(
        self, painter: QPainter, metrics: QFontMetricsF, label: Label, lowest: float
    ) -> float:
        """Draw a rating's label below those drawn before; return where the next may begin."""
        point = self._last_visible(label, highest=True)
        if point is None:
            return lowest
        height = max(point.y() + metrics.height(), metrics.height() * 0.7, lowest)
        width = metrics.horizontalAdvance(label.text) + 2 * _GAP
        left_of_it = point.x() + width > self.boundingRect().right()
        x = point.x() - width if left_of_it else point.x()
        self._paint_text(painter, metrics, label, x + _GAP, height)
        return height + metrics.height()

    def _paint_text(
        self, painter: QPainter, metrics: QFontMetricsF, label: Label, x: float, y: float
    ) -> None:
        width, area = metrics.horizontalAdvance(label.text), self.boundingRect()
        x = min(x, area.right() - width - _EDGE)
        box = QRectF(x - 1, y - metrics.height() / 2 + 2, width + 2, metrics.height() - 4)
        paper = QColor(self._paper)
        paper.setAlpha(200)
        painter.fillRect(box, paper)
        painter.setPen(QColor(label.colour))
        painter.drawText(QPointF(x, y + metrics.capHeight() / 2), label.text)
