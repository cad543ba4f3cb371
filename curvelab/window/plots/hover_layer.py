"""The curves of the tube that the mouse is on in the table, faintly over a plot."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QObject

from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.window.plots.lines import line_item, pen, show_lines
from curvelab.window.theme import Theme

__all__ = ["HoverLayer"]

_ABOVE = 4.0  # just below the curves of the tube looked at


class HoverLayer(QObject):
    """Lays one more picture over a plot; width 1, which costs little to draw anew."""

    def __init__(self, plot: pg.PlotWidget, theme: Theme) -> None:
        super().__init__(plot)  # it goes with the plot, and hears no more of the theme then
        self._theme = theme
        self._line = line_item(_ABOVE)
        plot.addItem(self._line)
        theme.when_changed(self._paint_theme)

    def show(self, picture: CurvePicture | None) -> None:
        """Show the curves of a picture, its readings where nothing could be fitted, or nothing."""
        lines: tuple[Series, ...] = ()
        if picture is not None:
            fitted = tuple(picture.of_role(Role.FITTED))
            lines = fitted or tuple(picture.of_role(Role.MEASURED))
        show_lines(self._line, lines)

    def _paint_theme(self) -> None:
        self._line.setPen(pen(self._theme.colours.text))
