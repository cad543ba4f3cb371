"""The plot of one tube over its reference family, with the other chosen tubes behind it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QWidget

from curvelab.drawing.palette import text_ink
from curvelab.sheets.plot_records import CurvePicture, Mark, Role, Series
from curvelab.sweep.records import FloatArray
from curvelab.window.plots.cursor_plot import CursorPlot, Ends
from curvelab.window.plots.labels import Label, LabelLayer
from curvelab.window.plots.lines import (
    COMPARED_DASHES,
    dashed_pen,
    line_item,
    pen,
    show_lines,
)
from curvelab.window.plots.markers import SYMBOLS
from curvelab.window.plots.series_layer import SeriesLayer
from curvelab.window.theme import Theme
from curvelab.workbench.session import Display

__all__ = ["TubePlot"]

_CURVE = 2.0
_POINT, _MARK, _POINTED_OUT = 5.0, 10.0, 13.0
_RING = 22.0
_SPARSE = (1.0, 3.5)  # dashes of a reference that nothing published backs
_MOST_MARKS = 40  # a finding shown by hundreds of readings must not hide the curves
_COMPARED = 1.5
_LIMITS = (Role.DISSIPATION, Role.PLATE_LIMIT, Role.LIMIT)
_QUIET = (Role.REFERENCE, Role.REFERENCE_EXTRAPOLATED, Role.TOLERANCE)
_TUBE_LINES = (
    Role.FITTED,
    Role.EXTRAPOLATED,
    Role.PROJECTED,
    Role.SHARE,
    Role.UP_PASS,
    Role.DOWN_PASS,
)
_OUTLINES = (Role.FITTED, Role.UP_PASS, Role.DOWN_PASS)


class TubePlot(CursorPlot):
    """Shows the picture of one tube, and those of others behind it."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self.setAccessibleName(self.tr("Curves of the tube"))
        self._picture: CurvePicture | None = None
        self._others: tuple[CurvePicture, ...] = ()
        self._display = Display()
        self._finding: int | None = None
        self._beyond = 0.0
        self._make_items()
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

    def whole(self) -> Ends | None:
        """Return the ends of the picture's axes, with room for the labels at the curves' ends."""
        if self._picture is None:
            return None
        x, y = self._picture.x, self._picture.y
        beyond = max(self._label_share(), self._beyond) * (x.high - x.low)
        return (x.low, x.high + beyond), (y.low, y.high)

    def of_readings(self) -> Ends | None:
        """Return the ends between which the readings lie, with room for the labels."""
        x, y = _joined([*self._series(Role.MEASURED), *self._series(Role.LEFT_OUT)])
        if x.size < 2 or not (np.ptp(x) > 0 and np.ptp(y) > 0):
            return self.whole()
        high = float(x.max()) + max(self._label_share(), self._beyond) * float(np.ptp(x))
        return (float(x.min()), high), (float(y.min()), float(y.max()))

    @property
    def label_share(self) -> float:
        """The share of the width that the labels at the curves' ends need."""
        return self._label_share()

    def leave_beyond(self, share: float) -> None:
        """Leave at least this share of the width free, as a plot in line with it needs."""
        self._beyond = share

    def _make_items(self) -> None:
        depths = dict.fromkeys(_QUIET, 1.0) | dict.fromkeys(_LIMITS, 2.0)
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
        self._compared = SeriesLayer(_COMPARED, 3)
        self.addItem(self._compared)
        for line in (self._behind, *self._quiet.values()):
            self.addItem(line)
        view = self.plotItem.vb
        self._labels = LabelLayer(view, self._label_font())

    def _paint_theme(self) -> None:
        colours = self._theme.colours
        self._paint_frame()
        dash = Qt.PenStyle.DashLine
        self._quiet[Role.REFERENCE].setPen(pen(colours.reference, 1.0, dash))
        dots = dashed_pen(colours.reference, 1.0, _SPARSE)
        self._quiet[Role.REFERENCE_EXTRAPOLATED].setPen(dots)
        self._quiet[Role.TOLERANCE].setPen(pen(colours.reference, 1.0))
        for role in _LIMITS:
            self._quiet[role].setPen(pen(colours.rating, 1.0, Qt.PenStyle.DashDotLine))
        self._behind.setPen(pen(colours.other))
        self._left_out.setPen(pen(colours.quiet_text, 1.5))
        self._draw()
        self.show_all()

    def _draw(self) -> None:
        shown = self._display
        self._draw_steps()
        for role in _QUIET:
            show_lines(self._quiet[role], self._series(role) if shown.reference else [])
        for role in _LIMITS:
            show_lines(self._quiet[role], self._series(role) if shown.ratings else [])
        others = [_outlines(other) for other in self._others] if shown.others else []
        told_apart = len(others) <= len(COMPARED_DASHES)
        show_lines(self._behind, [] if told_apart else [line for one in others for line in one])
        self._draw_compared(others if told_apart else [])
        self._draw_points()
        self._draw_marks()
        self._draw_labels()

    def _draw_compared(self, others: Sequence[Sequence[Series]]) -> None:
        """Draw a few tubes, each with an ink and dashes of its own."""
        looks = zip(self._theme.colours.compared, COMPARED_DASHES, strict=True)
        pens = [dashed_pen(ink, _COMPARED, dashes) for ink, dashes in looks]
        self._compared.show_with_pens(
            [line for one in others for line in one],
            [pen for one, pen in zip(others, pens, strict=False) for _ in one],
        )

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
            Label(line.label, text_ink(steps[line.step or 0], colours.base), line.x, line.y)
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
        if line.role is Role.LIMIT:
            return line.label
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


def _outlines(picture: CurvePicture) -> list[Series]:
    """Return the lines that stand for a tube behind another: fitted, else its readings."""
    return [
        line
        for line in picture.series
        if line.role in _OUTLINES or (line.end_label and line.role is Role.MEASURED)
    ]


def _joined(series: Sequence[Series]) -> tuple[np.ndarray, np.ndarray]:
    if not series:
        return np.empty(0), np.empty(0)
    return np.concatenate([s.x for s in series]), np.concatenate([s.y for s in series])
