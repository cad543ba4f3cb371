"""The views of lines and points: one plot, or two over one axis."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from curvelab.sheets.plot_records import CurvePicture
from curvelab.sheets.ticks import Axis
from curvelab.window.plots.plot_stack import LinkedPlots
from curvelab.window.plots.tube_plot import TubePlot
from curvelab.window.theme import Theme
from curvelab.workbench.session import Display

__all__ = ["CurveView"]

_SCALE_WIDTH = 50.0  # [px] of the scales at the left of two plots, beside the text's own size


class CurveView(QWidget):
    """Shows the plots of a view.

    Signals
    -------
    pointed : int, float, float
        Which plot, and the cursor in the units of its axes.
    left
        The cursor is off the plots.
    """

    pointed = Signal(int, float, float)
    left = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._seen: tuple[Axis, Axis, Axis, float] | None = None
        self._display = Display()
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(0)
        self.first = TubePlot(theme)
        self.linked: LinkedPlots[TubePlot] = LinkedPlots((), self)
        self._second: TubePlot | None = None
        self._take_in(self.first, 3)

    def _take_in(self, plot: TubePlot, share: int) -> None:
        row = self._layout.count()
        self._layout.addWidget(plot, share)
        self.linked.add(plot)
        plot.pointed.connect(lambda x, y: self.pointed.emit(row, x, y))
        plot.left.connect(self.left)

    def _made_second(self) -> TubePlot:
        """Return the second plot, made when it is first needed: most views have but one."""
        if self._second is None:
            self._second = TubePlot(self._theme)
            self._second.setAccessibleName(self.tr("Second plot of the tube"))
            self._second.show_display(self._display)
            self._second.setVisible(False)
            self._take_in(self._second, 2)
        return self._second

    def show_pictures(
        self,
        pictures: Sequence[CurvePicture],
        others: Sequence[CurvePicture] = (),
        finding: int | None = None,
    ) -> None:
        """Show the plots of a tube, others behind the first, with one finding pointed out."""
        first = pictures[0] if pictures else None
        second = pictures[1] if len(pictures) > 1 else None
        if second is not None or self._second is not None:
            self._arrange(self._made_second(), two=second is not None)
        self.first.show_pictures(first, others, finding)
        self.first.getAxis("bottom").showLabel(second is None)
        if first is not None and second is not None:
            self._show_second(first, second)
        else:
            self.first.leave_beyond(0.0)
            self._seen = None

    def show_display(self, display: Display) -> None:
        """Show or hide parts of the plots."""
        self._display = display
        for plot in (self.first, self._second):
            if plot is not None:
                plot.show_display(display)

    def point_out(self, finding: int | None) -> None:
        """Ring the readings of one finding."""
        self.first.point_out(finding)

    def _arrange(self, second: TubePlot, *, two: bool) -> None:
        if two == second.isHidden():
            second.setVisible(two)
            width = _SCALE_WIDTH + 2 * self._theme.font().pointSizeF()
            self.linked.line_up(width if two else None)
            self.first.getAxis("bottom").setStyle(showValues=not two)

    def _show_second(self, first: CurvePicture, second: CurvePicture) -> None:
        plot = self._made_second()
        plot.show_pictures(second)
        share = max(self.first.label_share, plot.label_share)
        for one in (self.first, plot):
            one.leave_beyond(share)
        seen = (first.x, first.y, second.y, share)
        if seen != self._seen:  # a person's zoom stays while the axes do
            self.linked.show_all()
        self._seen = seen
