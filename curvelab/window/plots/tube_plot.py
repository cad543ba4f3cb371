"""The plot of one tube over its reference family, with the other chosen tubes behind it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QKeyEvent, QPixmap
from PySide6.QtWidgets import QGraphicsItem, QWidget

from curvelab.sheets.plot_records import CurvePicture, Mark, Role, Series
from curvelab.sweep.records import FloatArray
from curvelab.window.plots.crosshair import Crosshair
from curvelab.window.plots.labels import Label, LabelLayer
from curvelab.window.plots.lines import line_item, pen, show_lines
from curvelab.window.plots.markers import SYMBOLS
from curvelab.window.plots.series_layer import SeriesLayer
from curvelab.window.theme import Theme
from curvelab.workbench.session import Display

__all__ = ["TubePlot"]

_CURVE = 2.0
_POINT, _MARK, _POINTED_OUT = 5.0, 10.0, 13.0
_RING = 22.0
_MOST_MARKS = 40  # a finding shown by hundreds of readings must not hide the curves
_STEPS_ACROSS = 100  # of the keyboard's cursor over one side of the plot
_LIMITS = (Role.DISSIPATION, Role.PLATE_LIMIT)
_TUBE_LINES = (Role.FITTED, Role.PROJECTED)


class TubePlot(pg.PlotWidget):  # type: ignore[misc]
    """Shows pictures; says where the cursor is.

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
        self._picture: CurvePicture | None = None
        self._others: tuple[CurvePicture, ...] = ()
        self._display = Display()
        self._finding: int | None = None
        self._make_frame()
        self._make_items()
        self.scene().sigMouseMoved.connect(self._follow_mouse)
        theme.when_changed(self._paint_theme)

    def show_pictures(
        self,
        picture: CurvePicture | None,
        others: Sequence[CurvePicture] = (),
        finding: int | None = None,
    ) -> None:
        """Show a tube, and others faintly behind it, with one finding pointed out."""
        same_axes = self._axes_of(picture) == self._axes_of(self._picture)
        self._picture, self._others, self._finding = picture, tuple(others), finding
        self._crosshair.move_to(None)
        self._draw()
        if picture is not None and not same_axes:
            for side, axis in (("bottom", picture.x), ("left", picture.y)):
                self.getAxis(side).setLabel(axis.label)
            self.show_all()
        self._say_what_is_shown()

    def show_display(self, display: Display) -> None:
        """Show or hide parts of the picture."""
        self._display = display
        self._draw()

    def point_out(self, finding: int | None) -> None:
        """Ring the readings of one finding."""
        if finding != self._finding:
            self._finding = finding
            self._draw_marks()

    def show_all(self) -> None:
        """Bring the whole picture back into view."""
        if self._picture is not None:
            x, y = self._picture.x, self._picture.y
            beyond = self._label_share() * (x.high - x.low)
            self.setRange(xRange=(x.low, x.high + beyond), yRange=(y.low, y.high), padding=0.012)

    def picture_now(self) -> QPixmap:
        """Return what is to be seen, for the clipboard."""
        seen: QPixmap = self.grab()
        return seen

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Move the cursor with the arrow keys; with Shift, by ten times as much."""
        ways = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, 1),
            Qt.Key.Key_Down: (0, -1),
        }
        way = ways.get(Qt.Key(event.key()))
        if way is None or self._picture is None:
            super().keyPressEvent(event)
            return
        (left, right), (low, high) = self.plotItem.viewRange()
        at = self._crosshair.at or QPointF((left + right) / 2, (low + high) / 2)
        many = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        x = at.x() + way[0] * many * (right - left) / _STEPS_ACROSS
        y = at.y() + way[1] * many * (high - low) / _STEPS_ACROSS
        self._point_at(QPointF(min(max(x, left), right), min(max(y, low), high)))
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802
        """Take the cursor away with the mouse."""
        self._hide_cursor()
        super().leaveEvent(event)

    def _make_frame(self) -> None:
        self.setAcceptDrops(False)  # the window takes what is dropped anywhere
        self.viewport().setAcceptDrops(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.tr("Curves of the tube"))
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

    def _make_items(self) -> None:
        depths = dict.fromkeys((Role.REFERENCE, Role.TOLERANCE), 1.0) | dict.fromkeys(_LIMITS, 2.0)
        self._quiet = {role: line_item(depth) for role, depth in depths.items()}
        self._behind = line_item(0.0)
        self._curves = SeriesLayer(_CURVE, 5)
        self._points = SeriesLayer(_POINT, 10)
        self._left_out = pg.ScatterPlotItem(pxMode=True, size=_POINT + 3, symbol="x")
        self._marks = pg.ScatterPlotItem(pxMode=True)
        for depth, item in ((11, self._left_out), (12, self._marks)):
            item.setZValue(depth)
            self.addItem(item)
        self.addItem(self._curves)
        self.addItem(self._points)
        for line in (self._behind, *self._quiet.values()):
            self.addItem(line)
        view = self.plotItem.vb
        self._labels = LabelLayer(view, self._label_font())
        self._crosshair = Crosshair(view)

    def _paint_theme(self) -> None:
        colours = self._theme.colours
        self.setBackground(colours.base)
        for side in ("bottom", "left"):
            axis = self.getAxis(side)
            axis.setPen(colours.quiet_text)
            axis.setTextPen(colours.text)
            axis.setTickFont(self._label_font())
            axis.label.setFont(self._theme.font())
        dash = Qt.PenStyle.DashLine
        self._quiet[Role.REFERENCE].setPen(pen(colours.reference, 1.0, dash))
        self._quiet[Role.TOLERANCE].setPen(pen(colours.reference, 1.0))
        for role in _LIMITS:
            self._quiet[role].setPen(pen(colours.rating, 1.0, Qt.PenStyle.DashDotLine))
        self._behind.setPen(pen(colours.other))
        self._left_out.setPen(pen(colours.quiet_text, 1.5))
        self._crosshair.set_colour(colours.quiet_text)
        self._draw()
        self.show_all()

    def _label_font(self) -> QFont:
        return self._theme.font(-0.5)

    def _draw(self) -> None:
        shown = self._display
        self._draw_steps()
        for role in (Role.REFERENCE, Role.TOLERANCE):
            show_lines(self._quiet[role], self._series(role) if shown.reference else [])
        for role in _LIMITS:
            show_lines(self._quiet[role], self._series(role) if shown.ratings else [])
        behind = [
            line
            for other in self._others
            for line in other.series
            if line.role is Role.FITTED or (line.end_label and line.role is Role.MEASURED)
        ]
        show_lines(self._behind, behind if shown.others else [])
        self._draw_points()
        self._draw_marks()
        self._draw_labels()

    def _draw_steps(self) -> None:
        """Draw fitted curves in the colours of their grid steps, projections dashed."""
        lines = [line for role in _TUBE_LINES for line in self._series(role)]
        self._curves.show_series(lines if self._display.fitted else [], self._step_colours())

    def _draw_points(self) -> None:
        shown, colours = self._display.measured, self._step_colours()
        points = self._series(Role.MEASURED) if shown else []
        self._points.show_series(points, colours)
        x, y = _joined(self._series(Role.LEFT_OUT) if shown else [])
        self._left_out.setData(x, y)

    def _draw_marks(self) -> None:
        marks = self._picture.marks if self._picture and self._display.marks else ()
        shown = [mark for mark in marks if self._finding in (None, mark.finding)]
        looks = [
            look for mark in shown for look in self._looks(mark, mark.finding == self._finding)
        ]
        self._marks.clear()
        for x, y, look in looks:
            self._marks.addPoints(x=x, y=y, brush=None, **look)

    def _looks(
        self,
        mark: Mark,
        pointed_out: bool,
    ) -> list[tuple[FloatArray, FloatArray, dict[str, object]]]:
        """Return the markers of one finding; what is pointed out has a ring about it."""
        ink = self._theme.colours.of_severity(mark.severity)
        x, y = mark.x, mark.y
        if not pointed_out and x.size > _MOST_MARKS:
            at = np.unique(np.linspace(0, x.size - 1, _MOST_MARKS).astype(np.int64))
            x, y = x[at], y[at]
        size = _POINTED_OUT if pointed_out else _MARK
        looks: list[tuple[FloatArray, FloatArray, dict[str, object]]] = [
            (x, y, {"symbol": SYMBOLS[mark.shape], "size": size, "pen": pen(ink, 2.0)})
        ]
        if pointed_out:
            looks.append((x, y, {"symbol": "o", "size": _RING, "pen": pen(ink, 1.5)}))
        return looks

    def _draw_labels(self) -> None:
        colours, steps = self._theme.colours, self._step_colours()
        labels = [
            Label(line.label, steps[line.step or 0], line.x, line.y)
            for line in (self._picture.series if self._picture else ())
            if line.end_label and (self._display.fitted or self._display.measured)
        ]
        if self._display.ratings:
            labels += [
                Label(self._rating_text(line), colours.rating, line.x, line.y, beside=False)
                for role in _LIMITS
                for line in self._series(role)
            ]
        self._labels.show_labels(labels, colours.base, self._label_font())

    def _rating_text(self, line: Series) -> str:
        text: str = self.tr("maximum {0}").format(line.label)
        return text

    def _label_share(self) -> float:
        """Return the share of the width that the labels at the curves' ends need."""
        picture, width = self._picture, max(self.plotItem.vb.width(), 200.0)
        metrics = QFontMetricsF(self._label_font())
        width = float(width)
        ends = [line for line in (picture.series if picture else ()) if line.end_label]
        if not ends or picture is None:
            return 0.01
        span = picture.x.high - picture.x.low
        need = 0.0
        for line in ends:
            end = (float(line.x[-1]) - picture.x.low) / span * width
            need = max(need, end + metrics.horizontalAdvance(line.label) + 10 - width)
        return need / width + 0.005

    def _series(self, role: Role) -> list[Series]:
        return list(self._picture.of_role(role)) if self._picture else []

    def _step_colours(self) -> list[str]:
        count = self._picture.step_count if self._picture else 1
        return self._theme.colours.steps(max(count, 1))

    @staticmethod
    def _axes_of(picture: CurvePicture | None) -> tuple[object, ...] | None:
        if picture is None:
            return None
        return tuple((axis.label, axis.low, axis.high) for axis in (picture.x, picture.y))

    def _follow_mouse(self, at: QPointF) -> None:
        view = self.plotItem.vb
        if self._picture is None or not view.sceneBoundingRect().contains(at):
            self._hide_cursor()
            return
        self._point_at(view.mapSceneToView(at))

    def _point_at(self, at: QPointF) -> None:
        self._crosshair.move_to(at)
        self.pointed.emit(at.x(), at.y())

    def _hide_cursor(self) -> None:
        if self._crosshair.at is not None:
            self._crosshair.move_to(None)
            self.left.emit()

    def _say_what_is_shown(self) -> None:
        """Put the plot into words for those who cannot see it."""
        picture = self._picture
        if picture is None:
            self.setAccessibleDescription("")
            return
        text = self.tr("{0}: {1} against {2}, {3} grid steps").format(
            picture.title, picture.y.label, picture.x.label, picture.step_count
        )
        self.setAccessibleDescription(text)


def _joined(series: Sequence[Series]) -> tuple[np.ndarray, np.ndarray]:
    if not series:
        return np.empty(0), np.empty(0)
    return np.concatenate([s.x for s in series]), np.concatenate([s.y for s in series])
