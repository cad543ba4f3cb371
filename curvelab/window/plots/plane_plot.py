"""The plot of percents over the plane, with the scale of its colours."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QHBoxLayout, QWidget

from curvelab.drawing.palette import diverging_colours
from curvelab.sheets.plane_picture import PlanePicture
from curvelab.sheets.text import trimmed
from curvelab.window.plots.cursor_plot import CursorPlot, Ends
from curvelab.window.plots.plane_layer import PlaneLayer
from curvelab.window.theme import Theme
from curvelab.workbench.session import Display

__all__ = ["PlanePlot", "PlaneView", "ScaleOfColours"]

_BAR = 18.0  # [px] wide
_SHADES = 101
_EDGE = 10.0


class PlanePlot(CursorPlot):
    """Shows percents over plate and grid volts."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._picture: PlanePicture | None = None
        self._layer = PlaneLayer(self.plotItem.vb)
        theme.when_changed(self._paint_theme)

    def show_picture(self, picture: PlanePicture | None) -> None:
        """Show another picture."""
        old = self._picture
        self._picture = picture
        self._crosshair.move_to(None)
        self._draw()
        if picture is not None and (old is None or (old.x, old.y) != (picture.x, picture.y)):
            self.getAxis("bottom").setLabel(picture.x.label)
            self.getAxis("left").setLabel(picture.y.label)
            self.show_all()

    def show_display(self, display: Display) -> None:
        """Show or hide the readings."""
        self._layer.show_dots(display.measured)

    def whole(self) -> Ends | None:
        """Return the ends of the picture's axes."""
        if self._picture is None:
            return None
        x, y = self._picture.x, self._picture.y
        return (x.low, x.high), (y.low, y.high)

    def of_readings(self) -> Ends | None:
        """Return the ends of what the readings cover."""
        if self._picture is None or not self._picture.percent.size:
            return None
        known = np.isfinite(self._picture.percent)
        ends = []
        for edges, held in (
            (self._picture.plate_edges, known.any(axis=1)),
            (self._picture.grid_edges, known.any(axis=0)),
        ):
            at = np.flatnonzero(held)
            ends.append((float(edges[at[0]]), float(edges[at[-1] + 1])))
        return ends[0], ends[1]

    def _paint_theme(self) -> None:
        self._paint_frame()
        self._draw()

    def _draw(self) -> None:
        colours = self._theme.colours
        self._layer.show_picture(
            self._picture, self._label_font(), colours.quiet_text, dark=colours.dark
        )


class ScaleOfColours(QWidget):
    """Shows which colour stands for how many percent."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._end = 10.0
        theme.when_changed(self.updateGeometry)
        theme.changed.connect(self.update)

    def show_end(self, end: float) -> None:
        """Show a scale that ends at other percents."""
        self._end = end
        name = self.tr("Scale of colours, from {0} to {1} percent").format(-end, end)
        self.setAccessibleName(name)
        self.updateGeometry()
        self.update()

    def ticks(self) -> list[float]:
        """Return the percents that are written beside the bar, from the top."""
        return [self._end * share for share in (1.0, 0.5, 0.0, -0.5, -1.0)]

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return the room for bar and figures."""
        metrics = self.fontMetrics()
        return QSize(int(_BAR + 3 * _EDGE) + metrics.horizontalAdvance("+100 %"), 200)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Return the least room; bar and figures shrink in height alone."""
        return QSize(self.sizeHint().width(), 7 * self.fontMetrics().height())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the bar with its figures."""
        colours = self._theme.colours
        shades = diverging_colours(np.linspace(1.0, -1.0, _SHADES), dark=colours.dark)
        image = QImage(
            np.ascontiguousarray(shades).data, 1, _SHADES, 3, QImage.Format.Format_RGB888
        ).copy()
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(colours.base))
        painter.setFont(self._theme.font(-0.5))
        line = painter.fontMetrics().height()
        bar = QRectF(_EDGE, line, _BAR, max(self.height() - 4.0 * line, line))
        painter.drawImage(bar, image)
        painter.setPen(QColor(colours.quiet_text))
        painter.drawRect(bar)
        painter.setPen(QColor(colours.text))
        for tick in self.ticks():
            y = bar.center().y() - tick / self._end * bar.height() / 2
            painter.drawLine(QPointF(bar.right(), y), QPointF(bar.right() + 4, y))
            text = "0 %" if tick == 0 else f"{'+' if tick > 0 else '−'}{trimmed(abs(tick))} %"
            at = QRectF(bar.right() + 7, y - line / 2, self.width() - bar.right() - 7, line)
            painter.drawText(at, Qt.AlignmentFlag.AlignVCenter, text)
        painter.end()


class PlaneView(QWidget):
    """The plot of percents beside the scale of its colours."""

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plot, self.scale = PlanePlot(theme), ScaleOfColours(theme)
        self.plot.setAccessibleName(name)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.plot, 1)
        layout.addWidget(self.scale)

    def show_picture(self, picture: PlanePicture) -> None:
        """Show another picture."""
        self.plot.show_picture(picture)
        self.scale.show_end(picture.end)
        self.plot.setAccessibleDescription(self._in_words(picture))

    def picture_now(self) -> QPixmap:
        """Return what is to be seen, for the clipboard."""
        return self.grab()

    def _in_words(self, picture: PlanePicture) -> str:
        if picture.middle is None:
            return picture.reason or ""
        known = picture.percent[np.isfinite(picture.percent)]
        text = self.tr("{0}: percent of {1}, from {2:+.0f} to {3:+.0f}, in the middle {4:+.1f}")
        return text.format(
            picture.title, picture.zero, float(known.min()), float(known.max()), picture.middle
        )
