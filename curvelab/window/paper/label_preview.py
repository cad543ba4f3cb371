"""A sheet of labels as it will be on paper, painted by the same function as the file."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from curvelab.drawing.palette import PAPER
from curvelab.drawing.stickers import paint_stickers
from curvelab.sheets.label import LabelDocument

__all__ = ["LabelPreview"]

_DOTS_PER_MM = 6.0


class LabelPreview(QWidget):
    """Shows one sheet, as large as there is room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("The sheet of labels"))
        self.setMinimumSize(260, 320)
        self._document: LabelDocument | None = None
        self._picture = QImage()

    @property
    def sheets(self) -> int:
        """How many sheets there are."""
        labels = () if self._document is None else self._document.labels
        return 1 + max((label.spot.sheet for label in labels), default=0)

    def show_sheet(self, document: LabelDocument | None, sheet: int) -> None:
        """Show one of the sheets, counted from 0."""
        self._document = document
        self._picture = QImage() if document is None else _painted(document, sheet)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a sheet at a third of its size."""
        return QSize(420, 594)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Paint the sheet in the middle of the room."""
        if self._picture.isNull():
            return
        room, picture = self.rect(), self._picture
        scale = min(room.width() / picture.width(), room.height() / picture.height())
        across, down = picture.width() * scale, picture.height() * scale
        left, top = (room.width() - across) / 2, (room.height() - down) / 2
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(QRectF(left, top, across, down), picture)
        painter.setPen(self.palette().mid().color())
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(left, top, across - 1, down - 1))
        painter.end()


def _painted(document: LabelDocument, sheet: int) -> QImage:
    grid = document.grid
    width, height = (round(side * _DOTS_PER_MM) for side in (grid.page_width, grid.page_height))
    picture = QImage(width, height, QImage.Format.Format_RGB32)
    for put in (picture.setDotsPerMeterX, picture.setDotsPerMeterY):
        put(round(1000 * _DOTS_PER_MM))
    picture.fill(QColor(PAPER))
    here = (label for label in document.labels if label.spot.sheet == sheet)
    alone = tuple(replace(label, spot=replace(label.spot, sheet=0)) for label in here)
    painter = QPainter(picture)
    whole = QRectF(0, 0, width, height)
    paint_stickers(painter, whole, replace(document, labels=alone), lambda: False)
    painter.end()
    return picture
