"""The constants of a tube against its plate current: three plots over one axis."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QColor, QIcon, QPixmap
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from curvelab.sheets.constants_picture import ConstantPanel, ConstantsPicture
from curvelab.sheets.plot_records import Role, Shape
from curvelab.sheets.text import volts
from curvelab.window.plots.lines import pen
from curvelab.window.plots.markers import role_icon, shape_icon
from curvelab.window.theme import Theme
from curvelab.workbench.session import Display

__all__ = ["ConstantsPlot"]

_LINE, _SPOT = 2.0, 9.0
_BAND_INK = 60  # of 255
_AXIS_WIDTH = 58  # [px]: wide enough for "100.0", and the same in every plot


class ConstantsPlot(QWidget):
    """Shows transconductance, plate resistance and amplification factor.

    Signals
    -------
    pointed : float
        The plate current under the mouse [mA].
    left
        The mouse is off the plots.
    """

    pointed = Signal(float)
    left = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._picture: ConstantsPicture | None = None
        self._others: tuple[ConstantsPicture, ...] = ()
        self._display = Display()
        self._view = pg.GraphicsLayoutWidget()
        self._view.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._view.setAcceptDrops(False)
        self._view.viewport().setAcceptDrops(False)
        self.setAccessibleName(self.tr("Constants of the tube against plate current"))
        self._plots: list[pg.PlotItem] = []
        self._reason = QLabel()
        self._reason.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._reason.setWordWrap(True)
        self._key = _Key()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self._key)
        layout.addWidget(self._view, 1)
        layout.addWidget(self._reason, 1)
        self._view.scene().sigMouseMoved.connect(self._follow_mouse)
        theme.when_changed(self._draw)

    @property
    def plots(self) -> tuple[pg.PlotItem, ...]:
        """The plots shown, from the top."""
        return tuple(self._plots)

    def show_pictures(
        self, picture: ConstantsPicture | None, others: Sequence[ConstantsPicture] = ()
    ) -> None:
        """Show a tube, and others faintly behind it."""
        self._picture, self._others = picture, tuple(others)
        self._draw()
        self._say_what_is_shown()

    def show_display(self, display: Display) -> None:
        """Show or hide parts of the picture."""
        if display != self._display:
            self._display = display
            self._draw()

    def show_all(self) -> None:
        """Bring the whole picture back into view."""
        for plot, panel in zip(self._plots, self._panels(), strict=True):
            x, y = self._picture_axis(), panel.y
            plot.setRange(xRange=(x[0], x[1]), yRange=(y.low, y.high), padding=0.012)

    def picture_now(self) -> QPixmap:
        """Return what is to be seen, for the clipboard."""
        return self.grab()

    def _panels(self) -> tuple[ConstantPanel, ...]:
        return self._picture.panels if self._picture else ()

    def _picture_axis(self) -> tuple[float, float]:
        return (self._picture.x.low, self._picture.x.high) if self._picture else (0.0, 1.0)

    def _draw(self) -> None:
        colours, picture = self._theme.colours, self._picture
        self._view.setBackground(colours.base)
        self._view.clear()
        self._plots = []
        for row, panel in enumerate(self._panels()):
            self._plots.append(plot := self._framed(row, panel))
            self._fill(plot, panel)
        for plot in self._plots:
            plot.vb.sigXRangeChanged.connect(self._move_together)
        self.show_all()
        reason = picture.reason if picture else None
        self._reason.setText(self.tr("No constants: {0}.").format(reason) if reason else "")
        self._reason.setVisible(bool(reason))
        self._view.setVisible(not reason)
        self._draw_key()

    def _move_together(self, moved: pg.ViewBox, ends: tuple[float, float]) -> None:
        """Give all plots the currents that one was zoomed or moved to.

        The library's own link also squares up the places of the plots on the screen, which
        are not known before they are first shown.
        """
        for plot in self._plots:
            if plot.vb is not moved and plot.vb.viewRange()[0] != list(ends):
                plot.vb.setXRange(*ends, padding=0)

    def _framed(self, row: int, panel: ConstantPanel) -> pg.PlotItem:
        colours, last = self._theme.colours, row == len(self._panels()) - 1
        plot = self._view.addPlot(row=row, col=0)
        plot.setMenuEnabled(False)
        plot.hideButtons()
        plot.vb.disableAutoRange()
        plot.showGrid(x=True, y=True, alpha=0.16)
        for side in ("bottom", "left"):
            axis = plot.getAxis(side)
            axis.enableAutoSIPrefix(False)
            axis.setStyle(hideOverlappingLabels=True, maxTickLevel=1)
            axis.setPen(colours.quiet_text)
            axis.setTextPen(colours.text)
            axis.setTickFont(self._theme.font(-0.5))
            axis.label.setFont(self._theme.font(-0.5))
        plot.getAxis("left").setWidth(_AXIS_WIDTH + self._theme.font().pointSizeF() * 2)
        plot.setLabel("left", panel.y.label)
        plot.getAxis("bottom").setStyle(showValues=last)
        if last and self._picture is not None:
            plot.setLabel("bottom", self._picture.x.label)
        return plot

    def _fill(self, plot: pg.PlotItem, panel: ConstantPanel) -> None:
        colours, shown = self._theme.colours, self._display
        if shown.others:
            same = [p for other in self._others for p in other.panels if p.name == panel.name]
            for one in same:
                plot.plot(one.tube.x, one.tube.y, pen=pen(colours.other))
        if shown.reference and panel.reference is not None:
            dashed = pen(colours.reference, 1.0, Qt.PenStyle.DashLine)
            plot.plot(panel.reference.x, panel.reference.y, pen=dashed)
        if shown.fitted:
            self._draw_tube(plot, panel)
        self._draw_spots(plot, panel)

    def _draw_tube(self, plot: pg.PlotItem, panel: ConstantPanel) -> None:
        line, ink = panel.tube, QColor(self._theme.colours.accent)
        if line.low is not None and line.high is not None:
            faint = QColor(ink)
            faint.setAlpha(_BAND_INK)
            ends = [pg.PlotCurveItem(line.x, edge) for edge in (line.low, line.high)]
            band = pg.FillBetweenItem(*ends, brush=pg.mkBrush(faint))
            band.setZValue(3)
            plot.addItem(band)
        curve = pg.PlotCurveItem(line.x, line.y, pen=pen(ink.name(), _LINE), antialias=True)
        curve.setZValue(5)
        plot.addItem(curve)

    def _draw_spots(self, plot: pg.PlotItem, panel: ConstantPanel) -> None:
        colours, spot = self._theme.colours, panel.at_point
        if spot is not None and self._display.measured:
            ink = pen(colours.text, 1.5)
            if spot.open is not None:
                at = {"x": np.array([spot.x]), "y": np.array([spot.y])}
                bar = pg.ErrorBarItem(**at, height=np.array([2 * spot.open]), beam=0.0, pen=ink)
                bar.setZValue(8)
                plot.addItem(bar)
            ring = pg.ScatterPlotItem([spot.x], [spot.y], size=_SPOT, pen=ink, brush=None)
            ring.setZValue(9)
            plot.addItem(ring)
        if panel.printed and self._display.reference:
            x, y = ([getattr(one, side) for one in panel.printed] for side in "xy")
            ring = pg.ScatterPlotItem(
                x, y, symbol="d", size=_SPOT + 3, pen=pen(colours.reference, 1.8), brush=None
            )
            ring.setZValue(7)
            plot.addItem(ring)

    def _draw_key(self) -> None:
        picture, colours = self._picture, self._theme.colours
        entries: list[tuple[QIcon, str]] = []
        if picture is not None and picture.panels and picture.plate_voltage is not None:
            at = volts(round(picture.plate_voltage, 1))
            words = self.tr("at Vp {0} V, band: uncertainty at 95 %").format(at)
            entries.append((role_icon(Role.FITTED, colours.accent), words))
            if any(panel.at_point for panel in picture.panels):
                entries.append((shape_icon(Shape.RING, colours.text), self.tr("operating point")))
            if any(panel.reference for panel in picture.panels):
                name = self.tr("reference {0}").format(picture.reference_label or "")
                entries.append((role_icon(Role.REFERENCE, colours.reference), name))
            if any(panel.printed for panel in picture.panels):
                icon = shape_icon(Shape.DIAMOND, colours.reference)
                entries.append((icon, self.tr("handbook")))
        self._key.show_entries(entries)

    def _follow_mouse(self, at: QPointF) -> None:
        for plot in self._plots:
            if plot.vb.sceneBoundingRect().contains(at):
                self.pointed.emit(float(plot.vb.mapSceneToView(at).x()))
                return
        self.left.emit()

    def _say_what_is_shown(self) -> None:
        """Put the plots into words for those who cannot see them."""
        picture = self._picture
        if picture is None:
            self.setAccessibleDescription("")
            return
        names = ", ".join(panel.y.label for panel in picture.panels) or picture.reason
        text = self.tr("{0}: {1} against {2}").format(picture.title, names, picture.x.label)
        self.setAccessibleDescription(text)


class _Key(QWidget):
    """A line of samples with their words."""

    def __init__(self) -> None:
        super().__init__()
        self._line = QHBoxLayout(self)
        self._line.setContentsMargins(8, 2, 8, 2)
        self._line.setSpacing(5)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def show_entries(self, entries: Sequence[tuple[QIcon, str]]) -> None:
        """Show other entries."""
        while (item := self._line.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.setParent(None)  # out of sight at once
                widget.deleteLater()
        for icon, words in entries:
            sample = QLabel()
            sample.setPixmap(icon.pixmap(20, 16))
            self._line.addWidget(sample)
            self._line.addWidget(QLabel(words))
            self._line.addSpacing(8)
        self._line.addStretch(1)
