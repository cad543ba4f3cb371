"""The views of the tube looked at: the one wanted, filled, or why there is nothing to see."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QLabel, QStackedWidget, QWidget

from curvelab.sheets.constants_picture import constant_curves
from curvelab.sheets.plane_picture import PlanePicture
from curvelab.sheets.plot_records import CurvePicture, Role
from curvelab.window.lot import Lot
from curvelab.window.plots.constants_plot import ConstantPlot, ConstantsPlot
from curvelab.window.plots.curve_view import CurveView
from curvelab.window.plots.difference_view import DifferenceView
from curvelab.window.plots.key_line import KeyEntry
from curvelab.window.plots.lines import COMPARED_DASHES
from curvelab.window.plots.markers import dashed_icon, role_icon
from curvelab.window.plots.plane_plot import PlanePlot, PlaneView
from curvelab.window.plots.plot_stack import LinkedPlots
from curvelab.window.plots.recorded import seen_view
from curvelab.window.plots.tube_plot import TubePlot
from curvelab.window.saving_kinds import SeenView
from curvelab.window.theme import Theme
from curvelab.workbench.session import Entry
from curvelab.workbench.views import CURVE_VIEWS, View, ViewPicture

__all__ = ["ViewPages"]

_MOST_OTHERS = 60  # more tubes behind the one looked at are a grey cloud
_FINER = 2.0  # times as fine as the screen is a picture of the screen saved
_MOST_MADE = 20  # of those, in views that are worked out when they are first shown


class ViewPages(QStackedWidget):
    """Shows the chosen tubes of a lot in one view.

    Signals
    -------
    pointed : int, float, float
        Which plot of the view, and the cursor in the units of its axes.
    left
        The cursor is off the plots.
    """

    pointed = Signal(int, float, float)
    left = Signal()

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self.note = ""
        self._others: tuple[Entry, ...] = ()
        self._planes: list[PlanePlot] = []
        self.curves = CurveView(theme)
        self.reason = QLabel()
        self.reason.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.reason.setWordWrap(True)
        self.reason.setMargin(24)
        self.reason.setAccessibleName(self.tr("Why there is nothing to see"))
        self.reason.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.addWidget(self.curves)
        self.addWidget(self.reason)
        self.curves.pointed.connect(self.pointed)
        self.curves.left.connect(self.left)

    # Pages are made when they are first looked at: the window opens with the curves alone.

    @cached_property
    def constants(self) -> ConstantsPlot:
        """The constants against plate current."""
        page = ConstantsPlot(self._theme)
        page.show_display(self._lot.session.display)
        page.pointed.connect(lambda x: self.pointed.emit(0, x, 0.0))
        page.left.connect(self.left)
        self.addWidget(page)
        return page

    @cached_property
    def deviation(self) -> PlaneView:
        """The deviation from the reference over the plane."""
        page = PlaneView(self._theme, self.tr("Deviation from the reference in percent"))
        self._take_in(page.plot)
        self.addWidget(page)
        return page

    @cached_property
    def difference(self) -> DifferenceView:
        """The difference of two tubes over the plane, with their constants."""
        page = DifferenceView(self._theme)
        self._take_in(page.plane.plot)
        self.addWidget(page)
        return page

    def _take_in(self, plot: PlanePlot) -> None:
        plot.show_display(self._lot.session.display)
        plot.pointed.connect(lambda x, y: self.pointed.emit(0, x, y))
        plot.left.connect(self.left)
        self._planes.append(plot)

    @property
    def plot(self) -> TubePlot:
        """The first plot of lines and points."""
        return self.curves.first

    @property
    def shows_plots(self) -> bool:
        """Whether there are plots to be seen, and not the reason why there are none."""
        return self.currentWidget() is not self.reason

    def show_view(self) -> None:
        """Show the chosen tubes in the view that is wanted."""
        session = self._lot.session
        self.note, self._others = "", ()
        entries, view = session.chosen, session.view
        if not entries:
            self.curves.show_pictures(())
            if "constants" in self.__dict__:
                self.constants.show_pictures(None)
            self.setCurrentWidget(self.curves)
        elif view in CURVE_VIEWS:
            self._show_curves(view, entries)
        elif view is View.CONSTANTS:
            self._show_constants(entries)
        elif view is View.DEVIATION:
            self._show_plane(session.deviation(entries[0].key), self.deviation, self.deviation)
        else:
            self._show_difference()

    def show_display(self) -> None:
        """Show or hide parts of the plots."""
        display = self._lot.session.display
        self.curves.show_display(display)
        if "constants" in self.__dict__:
            self.constants.show_display(display)
        for plot in self._planes:
            plot.show_display(display)

    def key_entries(self) -> list[KeyEntry]:
        """Return what lines stand for that have no name at their end."""
        page = self.currentWidget()
        if page is self.curves:
            return [*self._passes_key(), *self._others_key()]
        constants = self._lot.session.view is View.CONSTANTS and self.shows_plots
        return self.constants.key_entries() if constants else []

    def plot_now(self, row: int) -> CurvePicture | None:
        """Return what a plot of lines and points shows, None in another view."""
        session = self._lot.session
        if session.current is None or session.view not in CURVE_VIEWS:
            return None
        plots = session.plots(session.current.key, session.view).plots
        return plots[row] if row < len(plots) else None

    def plane_now(self) -> PlanePicture | None:
        """Return the plane that is shown, None in another view."""
        session, pair = self._lot.session, self._lot.session.pair
        if session.current is not None and session.view is View.DEVIATION:
            return session.deviation(session.current.key)
        if pair is not None and session.view is View.DIFFERENCE:
            return session.difference(pair[0].key, pair[1].key)
        return None

    def show_all(self) -> None:
        """Bring the whole of what is shown back into view."""
        for part in self._plots_shown():
            part.show_all()

    def show_readings(self) -> None:
        """Fill the plots with what the readings cover."""
        for part in self._plots_shown():
            part.show_readings()

    def zoom(self, *, closer: bool) -> None:
        """Show less or more."""
        for part in self._plots_shown():
            part.zoom(closer=closer)

    def table_with_keyboard(self) -> str | None:
        """Return the table of two tubes for the clipboard, None while it has no keyboard."""
        made = "difference" in self.__dict__ and self.difference.table.hasFocus()
        return self.difference.copied() if made else None

    def picture_now(self, scale: float = 1.0) -> QPixmap:
        """Return what is to be seen, so many times as fine as on the screen."""
        page: QWidget = self.currentWidget() or self
        if scale == 1.0:
            return page.grab()
        picture = QPixmap(page.size() * scale)
        picture.setDevicePixelRatio(scale)
        picture.fill(self._theme.colours.base)
        page.render(picture)
        return picture

    def seen_now(self) -> SeenView:
        """Return what is to be seen in every form that it can be saved in."""
        page: QWidget = self.currentWidget() or self
        current = self._lot.session.current
        title = "" if current is None else current.assessment.sweep.title
        return seen_view(page, self.picture_now(_FINER), self._pictures_now(), title)

    def _pictures_now(self) -> tuple[CurvePicture, ...]:
        """Return the plots of lines and points of the tube looked at; none in other views."""
        session = self._lot.session
        if session.current is None or not self.shows_plots:
            return ()
        if session.view is View.CONSTANTS:
            return constant_curves(session.course(session.current.key))
        if session.view in CURVE_VIEWS:
            return session.plots(session.current.key, session.view).plots
        return ()

    def _plots_shown(
        self,
    ) -> Sequence[LinkedPlots[TubePlot] | LinkedPlots[ConstantPlot] | PlanePlot]:
        view, page = self._lot.session.view, self.currentWidget()
        if page is self.curves:
            return (self.curves.linked,)
        if not self.shows_plots:
            return ()
        if view is View.CONSTANTS:
            return (self.constants.linked,)
        return (self.deviation.plot if view is View.DEVIATION else self.difference.plane.plot,)

    def _show_curves(self, view: View, entries: Sequence[Entry]) -> None:
        found = self._picture(view, entries[0])
        if found.reason is not None:
            self._show_reason(found.reason)
            return
        self.note = found.note or ""
        first = found.plots[0]
        most = _MOST_OTHERS if view is View.PLATE else _MOST_MADE
        behind = [(e, self._picture(view, e, first.levels)) for e in entries[1 : most + 1]]
        others = [
            (entry, picture.plots[0])
            for entry, picture in behind
            if picture.plots and picture.plots[0].x.label == first.x.label
        ]
        finding = self._lot.session.finding
        self.curves.show_pictures(found.plots, [picture for _, picture in others], finding)
        self._others = tuple(entry for entry, _ in others)
        self.setCurrentWidget(self.curves)

    def _picture(self, view: View, entry: Entry, levels: tuple[float, ...] = ()) -> ViewPicture:
        return self._lot.session.plots(entry.key, view, levels)

    def _passes_key(self) -> list[KeyEntry]:
        if self._lot.session.view is not View.PASSES:
            return []
        ink = self._theme.colours.steps(3)[1]
        return [
            (role_icon(Role.UP_PASS, ink), self.tr("way up")),
            (role_icon(Role.DOWN_PASS, ink), self.tr("way down")),
        ]

    def _others_key(self) -> list[KeyEntry]:
        """Name the tubes laid over the first, while they are few enough to be told apart."""
        if not self._lot.session.display.others or len(self._others) > len(COMPARED_DASHES):
            return []
        inks = self._theme.colours.compared
        return [
            (dashed_icon(ink, 2.0, dashes), entry.assessment.sweep.title)
            for entry, ink, dashes in zip(self._others, inks, COMPARED_DASHES, strict=False)
        ]

    def _show_constants(self, entries: Sequence[Entry]) -> None:
        """Show the constants of the chosen tubes, all at the first one's plate voltage."""
        session = self._lot.session
        first = session.course(entries[0].key)
        others = entries[1 : _MOST_MADE + 1]
        behind = [session.course(entry.key, first.plate_voltage) for entry in others]
        self.constants.show_pictures(first, behind)
        if first.reason is not None:
            self._show_reason(first.reason)
        else:
            self.setCurrentWidget(self.constants)

    def _show_difference(self) -> None:
        session, pair = self._lot.session, self._lot.session.pair
        if pair is None:
            self._show_reason(
                self.tr(
                    "choose a second tube in the list (Ctrl and a click), or a tube whose other "
                    "section is in the lot, or name a golden tube (Ctrl+D) and choose another"
                )
            )
            return
        keys = pair[0].key, pair[1].key
        self.difference.show_table(session.beside(*keys))
        self._show_plane(session.difference(*keys), self.difference.plane, self.difference)

    def _show_plane(self, picture: PlanePicture, view: PlaneView, page: QWidget) -> None:
        if picture.reason is not None:
            self._show_reason(picture.reason)
            return
        view.show_picture(picture)
        self.note = picture.note
        self.setCurrentWidget(page)

    def _show_reason(self, reason: str) -> None:
        self.reason.setText(self.tr("Nothing to show in this view: {0}.").format(reason))
        self.setCurrentWidget(self.reason)
