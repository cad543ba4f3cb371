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
        self.first, self.second = TubePlot(theme), TubePlot(theme)
        self.second.setAccessibleName(self.tr("Second plot of the tube"))
        self.second.setVisible(False)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        for row, plot in enumerate((self.first, self.second)):
            layout.addWidget(plot, 3 - row)
            plot.pointed.connect(lambda x, y, row=row: self.pointed.emit(row, x, y))
            plot.left.connect(self.left)
        self.linked = LinkedPlots((self.first, self.second), self)

    def show_pictures(
        self,
        pictures: Sequence[CurvePicture],
        others: Sequence[CurvePicture] = (),
        finding: int | None = None,
    ) -> None:
        """Show the plots of a tube, others behind the first, with one finding pointed out."""
        first = pictures[0] if pictures else None
        second = pictures[1] if len(pictures) > 1 else None
        two, was_two = second is not None, not self.second.isHidden()
        self.second.setVisible(two)
        if two != was_two:
            width = _SCALE_WIDTH + 2 * self._theme.font().pointSizeF()
            self.linked.line_up(width if two else None)
            self.first.getAxis("bottom").setStyle(showValues=not two)
        self.first.show_pictures(first, others, finding)
        self.first.getAxis("bottom").showLabel(not two)
        self.second.show_pictures(second)
        share = max(self.first.label_share, self.second.label_share) if two else 0.0
        for plot in (self.first, self.second):
            plot.leave_beyond(share)
        seen = (first.x, first.y, second.y, share) if first and second else None
        if seen is not None and seen != self._seen:  # a person's zoom stays while the axes do
            self.linked.show_all()
        self._seen = seen

    def show_display(self, display: Display) -> None:
        """Show or hide parts of the plots."""
        for plot in (self.first, self.second):
            plot.show_display(display)

    def point_out(self, finding: int | None) -> None:
        """Ring the readings of one finding."""
        self.first.point_out(finding)
