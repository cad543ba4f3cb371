"""The views of the chosen tubes, their names and switches above, the cursor's figures below."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QPixmap
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QToolBar, QVBoxLayout, QWidget

from curvelab.assessment.records import Assessment
from curvelab.window.lot import Lot
from curvelab.window.plots.key_line import KeyLine
from curvelab.window.plots.tube_plot import TubePlot
from curvelab.window.readout_line import ReadoutLine
from curvelab.window.theme import Theme
from curvelab.window.view_pages import ViewPages
from curvelab.workbench.readout import (
    Readout,
    nearest_line,
    read_at_current,
    read_at_cursor,
    read_at_voltages,
    read_on_transfer,
)
from curvelab.workbench.views import View

__all__ = ["PlotPanel"]


class PlotPanel(QWidget):
    """Shows the chosen tubes of a lot in one view at a time."""

    def __init__(
        self,
        lot: Lot,
        theme: Theme,
        views: Iterable[QAction],
        switches: Iterable[QAction],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self.pages = ViewPages(lot, theme)
        self.readout = ReadoutLine(theme)
        self.key, self._title, self.note = KeyLine(), QLabel(), QLabel()
        self._caution = QLabel(
            self.tr(
                "A log runs at full voltage: lethal, stored charge, hot glass. The bench's own "
                "interlocks and licensed practice come first; stay with a tube that runs away."
            )
        )
        self._caution.setWordWrap(True)
        self._lay_out(views, switches)
        self.pages.pointed.connect(self._read)
        self.pages.left.connect(self._read_nothing)
        lot.chosen_changed.connect(self._show_chosen)
        lot.view_changed.connect(self._show_chosen)
        lot.finding_changed.connect(lambda: self.pages.curves.point_out(lot.session.finding))
        lot.display_changed.connect(self._show_display)
        theme.when_changed(self._paint_theme)
        self._show_display()

    @property
    def plot(self) -> TubePlot:
        """The first plot of lines and points."""
        return self.pages.plot

    def show_all(self) -> None:
        """Bring the whole of what is shown back into view."""
        self.pages.show_all()

    def picture_now(self, scale: float = 1.0) -> QPixmap:
        """Return what is to be seen, so many times as fine as on the screen."""
        return self.pages.picture_now(scale)

    def holds_keyboard(self) -> bool:
        """Tell whether a plot has the keyboard."""
        with_keys = self.focusWidget()
        return with_keys is not None and with_keys.hasFocus() and self.pages.isAncestorOf(with_keys)

    def _lay_out(self, views: Iterable[QAction], switches: Iterable[QAction]) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(8, 0, 0, 0)
        line.setSpacing(2)
        line.addWidget(self._title)
        bar = _bar(switches, Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        if bar.actions():
            bar.insertWidget(bar.actions()[0], _spring())
        line.addWidget(bar, 1)
        self.view_bar = _bar(views, Qt.ToolButtonStyle.ToolButtonTextOnly)
        self.view_bar.setAccessibleName(self.tr("Views of the tube"))
        self.note.setWordWrap(True)
        self.note.setContentsMargins(8, 0, 8, 0)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 2, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.view_bar)
        layout.addLayout(line)
        layout.addWidget(self.key)
        layout.addWidget(self.pages, 1)
        layout.addWidget(self.note)
        layout.addWidget(self._caution)
        layout.addWidget(self.readout)

    def _paint_theme(self) -> None:
        self._title.setFont(self._theme.font(1, bold=True))
        colours = self._theme.colours
        self._caution.setStyleSheet(
            f"color: {colours.weight['caution']}; padding: 3px 8px; font-weight: bold"
        )
        self.note.setStyleSheet(f"color: {colours.quiet_text}")
        self._show_key()

    def _show_chosen(self) -> None:
        entries = self._lot.session.chosen
        self._caution.setVisible(bool(entries) and entries[0].assessment.drift is not None)
        title = entries[0].assessment.sweep.title if entries else ""
        if len(entries) > 1:
            title = self.tr("{0} +{1}").format(title, len(entries) - 1)
        self._title.setText(title)
        self._title.setToolTip(title)
        self.pages.show_view()
        self._show_key()
        self.note.setText(self.pages.note)
        self.note.setVisible(bool(self.pages.note))
        self._read_nothing()

    def _show_key(self) -> None:
        self.key.show_entries(self.pages.key_entries())

    def _show_display(self) -> None:
        self.readout.show_units(self._lot.session.quantities)
        self.pages.show_display()
        self._show_chosen()

    def _read(self, row: int, x: float, y: float) -> None:
        """Read the tube looked at under the cursor."""
        entry, view = self._lot.session.current, self._lot.session.view
        if entry is None:
            return
        if row == 1 or view in (View.GRID_CURRENT, View.LOG):
            self._read_line(row, x, y)
            return
        found = self._readout(view, entry.assessment, x, y)
        if found is not None:
            self.readout.show_readout(found, self._percent_text(x, y))
        elif entry.assessment.drift is not None:
            self._read_line(row, x, y)
        else:
            self.readout.show_nothing(self.tr("no curve to read from there"))

    def _readout(self, view: View, assessment: Assessment, x: float, y: float) -> Readout | None:
        if view is View.CONSTANTS:
            plate_voltage = self._lot.session.course(self._key_now()).plate_voltage
            return None if plate_voltage is None else read_at_current(assessment, plate_voltage, x)
        if view is View.TRANSFER:
            return read_on_transfer(assessment, x, y)
        if view is View.CONSTANT_CURRENT:
            return read_at_voltages(assessment, y, x)
        if view in (View.DEVIATION, View.DIFFERENCE):
            return read_at_voltages(assessment, x, y)
        return read_at_cursor(assessment, x, y)

    def _key_now(self) -> int:
        current = self._lot.session.current
        assert current is not None
        return current.key

    def _percent_text(self, x: float, y: float) -> str:
        """Return the percent of the plane under the cursor; empty in another view."""
        plane = self.pages.plane_now()
        percent = None if plane is None else plane.at(x, y)
        if plane is None or percent is None:
            return ""
        return self.tr("{0:+.1f} % against {1}").format(percent, plane.zero)

    def _read_line(self, row: int, x: float, y: float) -> None:
        """Read the cursor itself, and the line nearest to it."""
        picture = self.pages.plot_now(row)
        if picture is None:
            return
        words = self.tr("{0} {1:.1f}, {2} {3:.4g}").format(picture.x.label, x, picture.y.label, y)
        near = nearest_line(picture, x, y)
        if near is not None:
            words += self.tr("; line {0}: {1:.4g}").format(*near)
        if self._lot.session.view in (View.PLATE, View.LOG):
            self.readout.show_log(words, y)
        else:
            self.readout.show_nothing(words)

    def _read_nothing(self) -> None:
        reads = self._lot.session.current is not None and self.pages.shows_plots
        self.readout.show_nothing(self.tr("point at the plot") if reads else "")


def _bar(actions: Iterable[QAction], style: Qt.ToolButtonStyle) -> QToolBar:
    """Return a row of buttons; what has no room goes into its menu, so the window can be small."""
    bar = QToolBar()
    bar.setToolButtonStyle(style)
    bar.setIconSize(QSize(16, 14))
    layout = bar.layout()
    if layout is not None:
        layout.setContentsMargins(0, 2, 0, 2)
    for action in actions:
        bar.addAction(action)
    return bar


def _spring() -> QWidget:
    """Return an empty part that pushes what follows to the right."""
    spring = QWidget()
    spring.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
    return spring
