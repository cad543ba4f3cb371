"""The table is the key to the plot: the tube under the mouse shows its curves."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QObject, QTimer

from curvelab.sheets.plot_records import CurvePicture
from curvelab.window.lot import Lot
from curvelab.window.plots.hover_layer import HoverLayer
from curvelab.window.theme import Theme
from curvelab.window.tube_list import TubeList
from curvelab.workbench.views import CURVE_VIEWS

__all__ = ["Hovering"]

_REST_MS = 90  # the mouse must rest on a line: crossing the table draws nothing


class Hovering(QObject):
    """Joins table and plot."""

    def __init__(self, lot: Lot, tubes: TubeList, plot: pg.PlotWidget, theme: Theme) -> None:
        super().__init__(tubes)
        self._lot = lot
        self._layer = HoverLayer(plot, theme)
        self._next: int | None = None
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_REST_MS)
        self._rest.timeout.connect(lambda: lot.hover(self._next))
        tubes.hovered.connect(self._wait)
        lot.hovered_changed.connect(self._show)
        lot.chosen_changed.connect(self._show)
        lot.view_changed.connect(self._show)

    def _wait(self, key: int | None) -> None:
        self._next = key
        if key is None:
            self._rest.stop()
            self._lot.hover(None)
        else:
            self._rest.start()

    def _show(self) -> None:
        """Show the curves in the view that is looked at, where they have its axes."""
        session, entry = self._lot.session, self._lot.hovered
        current, view = session.current, session.view
        if entry is None or current is None or entry in session.chosen or view not in CURVE_VIEWS:
            self._layer.show(None)
            return
        shown = session.plots(current.key, view).plots[:1]
        found = session.plots(entry.key, view, shown[0].levels).plots[:1] if shown else ()
        same = [one for one in found if _axes(one) == _axes(shown[0])]
        self._layer.show(same[0] if same else None)


def _axes(picture: CurvePicture) -> tuple[str, str]:
    return picture.x.label, picture.y.label
