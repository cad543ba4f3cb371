"""What every plot of the window has: frame, cursor, keys, zoom, and the way back."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent, QPixmap
from PySide6.QtWidgets import QGraphicsItem, QWidget

from curvelab.window.plots.crosshair import Crosshair
from curvelab.window.theme import Theme

__all__ = ["CursorPlot", "Ends"]

_STEPS_ACROSS = 100  # of the keyboard's cursor over one side of the plot
_ZOOM = 1.25
_MARGIN = 0.012
Ends = tuple[tuple[float, float], tuple[float, float]]
_WAYS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, 1),
    Qt.Key.Key_Down: (0, -1),
}
_ZOOM_KEYS = {Qt.Key.Key_Plus: True, Qt.Key.Key_Equal: True, Qt.Key.Key_Minus: False}


class CursorPlot(pg.PlotWidget):  # type: ignore[misc]
    """A plot with a cursor that mouse and keys move; subclasses say what it shows.

    It is abstract in `whole` and `of_readings`, which every subclass gives (a test holds that);
    `abc.ABC` cannot be beside a widget of Qt, whose metaclass is another.

    Signals
    -------
    pointed : float, float
        The cursor, in the units of the axes.
    left
        The cursor is off the plot.
    """

    pointed = Signal(float, float)
    left = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._is_whole = False
        self._make_frame()
        self._crosshair = Crosshair(self.plotItem.vb)
        self.scene().sigMouseMoved.connect(self._follow_mouse)
        view = self.plotItem.vb
        view.sigResized.connect(self._fit_again)
        view.sigRangeChangedManually.connect(self._leave_whole)

    def whole(self) -> Ends | None:
        """Return the ends of both axes that show all there is; None without anything."""
        raise NotImplementedError

    def of_readings(self) -> Ends | None:
        """Return the ends between which the readings lie; None without any."""
        raise NotImplementedError

    def show_all(self) -> None:
        """Bring the whole picture back into view; it stays so until a person zooms."""
        self._show(self.whole())
        self._is_whole = True

    def show_readings(self) -> None:
        """Fill the plot with the readings, whatever else there is beside them."""
        self._show(self.of_readings())
        self._is_whole = False

    def zoom(self, *, closer: bool) -> None:
        """Show less or more, about the cursor where there is one."""
        self._is_whole = False
        factor = 1 / _ZOOM if closer else _ZOOM
        self.plotItem.vb.scaleBy((factor, factor), center=self._crosshair.at)

    def follow(self, across: tuple[float, float]) -> None:
        """Show the same ends across as a plot in line with this one."""
        self._is_whole = False
        self.plotItem.vb.setXRange(*across, padding=0)

    def picture_now(self) -> QPixmap:
        """Return what is to be seen, for the clipboard."""
        seen: QPixmap = self.grab()
        return seen

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Move the cursor with the arrow keys, with Shift by ten times as much; zoom by + and -.

        Home brings the whole picture back.
        """
        key = Qt.Key(event.key())
        plain = not event.modifiers() & (
            Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        )
        if plain and key in _WAYS and self.whole() is not None:
            many = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            self._step_cursor(*(way * many for way in _WAYS[key]))
        elif plain and key in _ZOOM_KEYS:
            self.zoom(closer=_ZOOM_KEYS[key])
        elif plain and key == Qt.Key.Key_Home:
            self.show_all()
        else:
            super().keyPressEvent(event)
            return
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802
        """Take the cursor away with the mouse."""
        self._hide_cursor()
        super().leaveEvent(event)

    def point_at(self, at: QPointF) -> None:
        """Put the cursor at a point, in the units of the axes."""
        self._crosshair.move_to(at)
        self.pointed.emit(at.x(), at.y())

    def _fit_again(self, *_: object) -> None:
        """Keep the whole in view when the plot has another size: its labels need other room."""
        if self._is_whole:
            self._show(self.whole())

    def _leave_whole(self, *_: object) -> None:
        self._is_whole = False

    def _show(self, ends: Ends | None) -> None:
        if ends is not None:
            self.setRange(xRange=ends[0], yRange=ends[1], padding=_MARGIN)

    def _step_cursor(self, across: int, up: int) -> None:
        (left, right), (low, high) = self.plotItem.viewRange()
        at = self._crosshair.at or QPointF((left + right) / 2, (low + high) / 2)
        x = at.x() + across * (right - left) / _STEPS_ACROSS
        y = at.y() + up * (high - low) / _STEPS_ACROSS
        self.point_at(QPointF(min(max(x, left), right), min(max(y, low), high)))

    def _make_frame(self) -> None:
        self.setAcceptDrops(False)  # the window takes what is dropped anywhere
        self.viewport().setAcceptDrops(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        # The stock menu offers exports that fail; ours is on the window.
        self.plotItem.setMenuEnabled(False)
        self.plotItem.hideButtons()
        self.plotItem.vb.disableAutoRange()
        for side in ("bottom", "left"):
            axis = self.getAxis(side)
            axis.enableAutoSIPrefix(False)
            axis.setStyle(hideOverlappingLabels=True, maxTickLevel=1)
            # Grid and figures stay while tubes change: painted once, then copied.
            axis.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)
        self.plotItem.showGrid(x=True, y=True, alpha=0.16)

    def _paint_frame(self) -> None:
        """Give frame and cursor the colours and the font of the theme."""
        colours = self._theme.colours
        self.setBackground(colours.base)
        for side in ("bottom", "left"):
            axis = self.getAxis(side)
            axis.setPen(colours.quiet_text)
            axis.setTextPen(colours.text)
            axis.setTickFont(self._label_font())
            axis.label.setFont(self._theme.font())
        self._crosshair.set_colour(colours.quiet_text)

    def _label_font(self) -> QFont:
        return self._theme.font(-0.5)

    def _follow_mouse(self, at: QPointF) -> None:
        view = self.plotItem.vb
        if self.whole() is None or not view.sceneBoundingRect().contains(at):
            self._hide_cursor()
            return
        self.point_at(view.mapSceneToView(at))

    def _hide_cursor(self) -> None:
        if self._crosshair.at is not None:
            self._crosshair.move_to(None)
            self.left.emit()
