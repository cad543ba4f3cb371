"""The control chart of a golden tube: its sessions, their mean, and the limits."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from curvelab.sheets.control_picture import ControlPicture
from curvelab.window.plots.cursor_plot import CursorPlot, Ends
from curvelab.window.plots.lines import pen
from curvelab.window.theme import Theme

__all__ = ["ControlPlot"]

_POINT, _RING = 7.0, 15.0
_BESIDE = {"position": 0.01, "anchors": [(0, 1), (0, 1)]}  # a word begins there, above its line
_ROOM = 0.15  # of the span, above and below the limits


class ControlPlot(CursorPlot):
    """Shows one chart; what breaks a rule is ringed, and today's point is filled."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self.setAccessibleName(self.tr("Control chart of a golden tube"))
        self._picture: ControlPicture | None = None
        self._course = pg.PlotDataItem()
        self._sessions = pg.ScatterPlotItem(pxMode=True, size=_POINT)
        self._rings = pg.ScatterPlotItem(pxMode=True, size=_RING, brush=None)
        self._lines = {
            name: pg.InfiniteLine(angle=0, label=name, labelOpts=_BESIDE)
            for name in (self.tr("mean"), self.tr("upper limit"), self.tr("lower limit"))
        }
        for item in (*self._lines.values(), self._course, self._sessions, self._rings):
            self.addItem(item)
        self.getAxis("bottom").setLabel(self.tr("session, the last one is today's"))
        theme.when_changed(self._paint_theme)

    def show_picture(self, picture: ControlPicture | None) -> None:
        """Show another chart, or none."""
        self._picture = picture
        if picture is not None:
            self.getAxis("left").setLabel(picture.y_label)
        self._draw()
        self.show_all()

    def whole(self) -> Ends | None:
        """Return the ends that show all sessions and both limits."""
        shown = self._picture
        if shown is None or not shown.values.size:
            return None
        low = min(shown.lower, float(shown.values.min()))
        high = max(shown.upper, float(shown.values.max()))
        room = _ROOM * (high - low)
        return (0.5, shown.values.size + 0.5), (low - room, high + room)

    def of_readings(self) -> Ends | None:
        """Return the same: there is nothing but sessions and limits."""
        return self.whole()

    def _paint_theme(self) -> None:
        self._paint_frame()
        self._draw()
        self.show_all()

    def _draw(self) -> None:
        shown, colours = self._picture, self._theme.colours
        some = shown is not None and shown.values.size > 0
        for line in self._lines.values():
            line.setVisible(some)
        if shown is None or not some:
            for item in (self._course, self._sessions, self._rings):
                item.setData([], [])
            self.setAccessibleDescription("")
            return
        places = np.arange(1, shown.values.size + 1)
        self._course.setData(places, shown.values, pen=pen(colours.accent, 1.2))
        inks = [colours.base] * shown.values.size
        inks[-1] = colours.accent
        edges = pen(colours.accent, 1.5)
        self._sessions.setData(places, shown.values, pen=edges, brush=[pg.mkBrush(i) for i in inks])
        broken = sorted({position for position, _ in shown.signals})
        self._rings.setData(
            places[broken], shown.values[broken], pen=pen(colours.weight["reject"], 2.0)
        )
        limits = zip(self._lines.values(), (shown.centre, shown.upper, shown.lower), strict=True)
        for place, (line, at) in enumerate(limits):
            style = Qt.PenStyle.DashLine if place else Qt.PenStyle.SolidLine
            line.setValue(at)
            line.setPen(pen(colours.rating, 1.0, style))
            line.label.setColor(colours.text)
            line.label.setFont(self._label_font())
        text = self.tr("{0} sessions, today {1} against the mean; {2} of them break a rule")
        self.setAccessibleDescription(text.format(shown.values.size, shown.shift, len(broken)))
