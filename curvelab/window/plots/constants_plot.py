"""The constants of a tube against its plate current: three plots over one axis."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QPixmap
from PySide6.QtWidgets import QVBoxLayout, QWidget

from curvelab.sheets.constants_picture import ConstantPanel, ConstantsPicture
from curvelab.sheets.plot_records import Role, Shape
from curvelab.sheets.text import volts
from curvelab.sheets.ticks import Axis
from curvelab.window.plots.cursor_plot import CursorPlot, Ends
from curvelab.window.plots.key_line import KeyEntry
from curvelab.window.plots.lines import CurveItem, pen
from curvelab.window.plots.markers import role_icon, shape_icon
from curvelab.window.plots.plot_stack import LinkedPlots
from curvelab.window.theme import Theme
from curvelab.workbench.session import Display

__all__ = ["ConstantPlot", "ConstantsPlot"]

_LINE, _SPOT = 2.0, 9.0
_BAND_INK = 60  # of 255
_AXIS_WIDTH = 58  # [px]: wide enough for "100.0", and the same in every plot
_MOST_PANELS = 3


class ConstantPlot(CursorPlot):
    """Shows one constant."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._panel: ConstantPanel | None = None
        self._across: Axis | None = None
        self._others: tuple[ConstantPanel, ...] = ()
        self._shown = Display()
        theme.when_changed(self._paint_theme)

    def show_panel(
        self,
        panel: ConstantPanel,
        across: Axis,
        others: Sequence[ConstantPanel],
        shown: Display,
    ) -> None:
        """Show a constant of a tube, and the same one of others faintly behind it."""
        self._panel, self._across = panel, across
        self._others, self._shown = tuple(others), shown
        self.getAxis("left").setLabel(panel.y.label)
        self.setAccessibleName(self.tr("{0} against {1}").format(panel.y.label, across.label))
        self._draw()

    def show_foot(self, label: str | None) -> None:
        """Name the axis across and write its figures; None for a plot with another below."""
        axis = self.getAxis("bottom")
        axis.setStyle(showValues=label is not None)
        axis.setLabel(label or "")
        axis.showLabel(label is not None)

    def whole(self) -> Ends | None:
        """Return the ends of the picture's axes."""
        if self._panel is None or self._across is None:
            return None
        y = self._panel.y
        return (self._across.low, self._across.high), (y.low, y.high)

    def of_readings(self) -> Ends | None:
        """Return the ends between which the readings determine the constant."""
        if self._panel is None:
            return None
        line, y = self._panel.tube, self._panel.y
        low, high = float(line.y.min()), float(line.y.max())
        if not high > low:
            return self.whole()
        return (float(line.x[0]), float(line.x[-1])), (max(low, y.low), min(high, y.high))

    def _paint_theme(self) -> None:
        self._paint_frame()
        for side in ("bottom", "left"):
            self.getAxis(side).label.setFont(self._theme.font(-0.5))
        self.getAxis("left").setWidth(_AXIS_WIDTH + self._theme.font().pointSizeF() * 2)
        self._draw()

    def _draw(self) -> None:
        self.clear()
        panel, colours, shown = self._panel, self._theme.colours, self._shown
        if panel is None:
            return
        if shown.others:
            for one in self._others:
                self.addItem(CurveItem(one.tube.x, one.tube.y, pen=pen(colours.other)))
        if shown.reference and panel.reference is not None:
            dashed = pen(colours.reference, 1.0, Qt.PenStyle.DashLine)
            self.addItem(CurveItem(panel.reference.x, panel.reference.y, pen=dashed))
        if shown.fitted:
            self._draw_tube(panel)
        self._draw_spots(panel)

    def _draw_tube(self, panel: ConstantPanel) -> None:
        line, ink = panel.tube, QColor(self._theme.colours.accent)
        if line.low is not None and line.high is not None:
            faint = QColor(ink)
            faint.setAlpha(_BAND_INK)
            ends = [pg.PlotCurveItem(line.x, edge) for edge in (line.low, line.high)]
            band = pg.FillBetweenItem(*ends, brush=pg.mkBrush(faint))
            band.setZValue(3)
            self.addItem(band)
        curve = CurveItem(line.x, line.y, pen=pen(ink.name(), _LINE), antialias=True)
        curve.setZValue(5)
        self.addItem(curve)

    def _draw_spots(self, panel: ConstantPanel) -> None:
        colours, spot = self._theme.colours, panel.at_point
        if spot is not None and self._shown.measured:
            ink = pen(colours.text, 1.5)
            if spot.open is not None:
                at = {"x": np.array([spot.x]), "y": np.array([spot.y])}
                bar = pg.ErrorBarItem(**at, height=np.array([2 * spot.open]), beam=0.0, pen=ink)
                bar.setZValue(8)
                self.addItem(bar)
            ring = pg.ScatterPlotItem([spot.x], [spot.y], size=_SPOT, pen=ink, brush=None)
            ring.setZValue(9)
            self.addItem(ring)
        if panel.printed and self._shown.reference:
            x, y = ([getattr(one, side) for one in panel.printed] for side in "xy")
            ring = pg.ScatterPlotItem(
                x, y, symbol="d", size=_SPOT + 3, pen=pen(colours.reference, 1.8), brush=None
            )
            ring.setZValue(7)
            self.addItem(ring)


class ConstantsPlot(QWidget):
    """Shows transconductance, plate resistance and amplification factor.

    Signals
    -------
    pointed : float
        The plate current under the cursor [mA].
    left
        The cursor is off the plots.
    """

    pointed = Signal(float)
    left = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._picture: ConstantsPicture | None = None
        self._others: tuple[ConstantsPicture, ...] = ()
        self._display = Display()
        self.setAccessibleName(self.tr("Constants of the tube against plate current"))
        self._panels = [ConstantPlot(theme) for _ in range(_MOST_PANELS)]
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        for plot in self._panels:
            layout.addWidget(plot, 1)
            plot.setVisible(False)
            plot.pointed.connect(lambda x, _: self.pointed.emit(x))
            plot.left.connect(self.left)
        self.linked = LinkedPlots(self._panels, self)

    @property
    def plots(self) -> tuple[pg.PlotItem, ...]:
        """The plots shown, from the top."""
        return tuple(plot.plotItem for plot in self.linked.shown)

    def show_pictures(
        self, picture: ConstantsPicture | None, others: Sequence[ConstantsPicture] = ()
    ) -> None:
        """Show a tube, and others faintly behind it."""
        self._picture, self._others = picture, tuple(others)
        self._fill()
        self.linked.show_all()
        self._say_what_is_shown()

    def show_display(self, display: Display) -> None:
        """Show or hide parts of the picture."""
        if display != self._display:
            self._display = display
            self._fill()

    def picture_now(self) -> QPixmap:
        """Return what is to be seen, for the clipboard."""
        return self.grab()

    def key_entries(self) -> list[KeyEntry]:
        """Return what the lines and spots stand for."""
        picture, colours = self._picture, self._theme.colours
        if picture is None or not picture.panels or picture.plate_voltage is None:
            return []
        at = volts(round(picture.plate_voltage, 1))
        words = self.tr("at Vp {0} V, band: 95 %").format(at)
        entries = [(role_icon(Role.FITTED, colours.accent), words)]
        if any(panel.at_point for panel in picture.panels):
            entries.append((shape_icon(Shape.RING, colours.text), self.tr("operating point")))
        if any(panel.reference for panel in picture.panels):
            name = self.tr("reference {0}").format(picture.reference_label or "")
            entries.append((role_icon(Role.REFERENCE, colours.reference), name))
        if any(panel.printed for panel in picture.panels):
            icon = shape_icon(Shape.DIAMOND, colours.reference)
            entries.append((icon, self.tr("handbook")))
        return entries

    def _fill(self) -> None:
        picture = self._picture
        panels = picture.panels if picture else ()
        for number, plot in enumerate(self._panels):
            plot.setVisible(number < len(panels))
            if picture is None or number >= len(panels):
                continue
            panel = panels[number]
            same = [p for other in self._others for p in other.panels if p.name == panel.name]
            plot.show_panel(panel, picture.x, same, self._display)
            plot.show_foot(picture.x.label if number == len(panels) - 1 else None)

    def _say_what_is_shown(self) -> None:
        """Put the plots into words for those who cannot see them."""
        picture = self._picture
        if picture is None:
            self.setAccessibleDescription("")
            return
        names = ", ".join(panel.y.label for panel in picture.panels) or picture.reason
        text = self.tr("{0}: {1} against {2}").format(picture.title, names, picture.x.label)
        self.setAccessibleDescription(text)
