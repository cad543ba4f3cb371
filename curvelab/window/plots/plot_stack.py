"""Plots over one another that share their axis across."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QObject

from curvelab.window.plots.cursor_plot import CursorPlot

__all__ = ["LinkedPlots"]

_Plot = TypeVar("_Plot", bound=CursorPlot)


class LinkedPlots(QObject, Generic[_Plot]):
    """Keeps plots at the same ends of their axis across, and their left edges in line.

    The library's own link also squares up the places of the plots on the screen, which are
    not known before they are first shown.
    """

    def __init__(self, plots: Sequence[_Plot], parent: QObject) -> None:
        super().__init__(parent)
        self._plots: list[_Plot] = []
        for plot in plots:
            self.add(plot)

    def add(self, plot: _Plot) -> None:
        """Keep one more plot in line with the others."""
        self._plots.append(plot)
        plot.plotItem.vb.sigXRangeChanged.connect(self._move_together)

    @property
    def shown(self) -> tuple[_Plot, ...]:
        """The plots that are to be seen, from the top."""
        return tuple(plot for plot in self._plots if not plot.isHidden())

    def line_up(self, width: float | None) -> None:
        """Give the scales at the left this width [px]; None leaves it to each plot."""
        for plot in self._plots:
            plot.getAxis("left").setWidth(width)

    def show_all(self) -> None:
        """Bring the whole of every plot back into view."""
        for plot in self.shown:
            plot.show_all()

    def show_readings(self) -> None:
        """Fill every plot with its readings."""
        for plot in self.shown:
            plot.show_readings()

    def zoom(self, *, closer: bool) -> None:
        """Show less or more, in the plot with the keyboard, else in the first."""
        with_keys = [plot for plot in self.shown if plot.hasFocus()]
        for plot in (with_keys or list(self.shown))[:1]:
            plot.zoom(closer=closer)

    def _move_together(self, moved: pg.ViewBox, ends: tuple[float, float]) -> None:
        if len(self.shown) < 2 or not any(plot.plotItem.vb is moved for plot in self.shown):
            return
        for plot in self.shown:
            view = plot.plotItem.vb
            if view is not moved and not np.allclose(view.viewRange()[0], ends, rtol=1e-9):
                plot.follow(ends)
