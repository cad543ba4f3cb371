"""The plot with its switches above and what the cursor reads below."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QPixmap
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QStackedWidget,
    QToolBar,
    QVBoxLayout,
    QWidget,
)

from curvelab.window.lot import Lot
from curvelab.window.plots.constants_plot import ConstantsPlot
from curvelab.window.plots.tube_plot import TubePlot
from curvelab.window.readout_line import ReadoutLine
from curvelab.window.theme import Theme
from curvelab.workbench.readout import read_at_current, read_at_cursor

__all__ = ["PlotPanel"]

_MOST_OTHERS = 60  # more tubes behind the one looked at are a grey cloud
_MOST_COURSES = 20  # of those, as constants, each worked out when it is first shown


class PlotPanel(QWidget):
    """Shows the chosen tubes of a lot as curves."""

    def __init__(
        self, lot: Lot, theme: Theme, switches: Iterable[QAction], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._lot, self._theme = lot, theme
        self.plot = TubePlot(theme)
        self.constants = ConstantsPlot(theme)
        self.readout = ReadoutLine(theme)
        self._title = QLabel()
        self._caution = QLabel(
            self.tr(
                "A log runs at full voltage: lethal, stored charge, hot glass. The bench's own "
                "interlocks and licensed practice come first; stay with a tube that runs away."
            )
        )
        self._caution.setWordWrap(True)
        self._lay_out(switches)
        self.plot.pointed.connect(self._read)
        self.plot.left.connect(self._read_nothing)
        self.constants.pointed.connect(self._read_course)
        self.constants.left.connect(self._read_nothing)
        lot.chosen_changed.connect(self._show_chosen)
        lot.finding_changed.connect(lambda: self.plot.point_out(lot.session.finding))
        lot.display_changed.connect(self._show_display)
        theme.when_changed(self._paint_theme)
        self._show_display()
        self._show_chosen()

    def _lay_out(self, switches: Iterable[QAction]) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(8, 4, 4, 0)
        line.setSpacing(2)
        line.addWidget(self._title)
        bar = QToolBar()  # what has no room goes into its menu, so that the window can be small
        bar.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        bar.setIconSize(QSize(20, 16))
        bar.addWidget(_spring())
        line.addWidget(bar, 1)
        for action in switches:
            bar.addAction(action)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(line)
        self._views = QStackedWidget()
        self._views.addWidget(self.plot)
        self._views.addWidget(self.constants)
        layout.addWidget(self._views, 1)
        layout.addWidget(self._caution)
        layout.addWidget(self.readout)

    def _paint_theme(self) -> None:
        self._title.setFont(self._theme.font(1, bold=True))
        colours = self._theme.colours
        self._caution.setStyleSheet(
            f"color: {colours.weight['caution']}; padding: 3px 8px; font-weight: bold"
        )

    def _show_chosen(self) -> None:
        session = self._lot.session
        entries = session.chosen
        self._caution.setVisible(bool(entries) and entries[0].assessment.drift is not None)
        if not entries:
            self._title.setText("")
            self.plot.show_pictures(None)
            self.constants.show_pictures(None)
            return
        pictures = [session.document(entry.key).picture for entry in entries[: _MOST_OTHERS + 1]]
        first = pictures[0]
        others = [one for one in pictures[1:] if one.x.label == first.x.label]
        title = self._title_text(first.title, len(entries) - 1)
        self._title.setText(title)
        self._title.setToolTip(title)
        self.plot.show_pictures(first, others, session.finding)
        self._show_courses()
        self._read_nothing()

    def _show_courses(self) -> None:
        """Show the constants of the chosen tubes, all at the first one's plate voltage."""
        session = self._lot.session
        entries = session.chosen[: _MOST_COURSES + 1]
        if not session.display.constants or not entries:
            return
        first = session.course(entries[0].key)
        others = [session.course(entry.key, first.plate_voltage) for entry in entries[1:]]
        self.constants.show_pictures(first, others)

    def _title_text(self, title: str, others: int) -> str:
        return self.tr("{0} + {1}").format(title, others) if others else title

    def _show_display(self) -> None:
        self.readout.show_units(self._lot.session.quantities)
        display = self._lot.session.display
        self.plot.show_display(display)
        self.constants.show_display(display)
        self._views.setCurrentWidget(self.constants if display.constants else self.plot)
        self._show_courses()
        self._read_nothing()

    def _read(self, x: float, y: float) -> None:
        entry = self._lot.session.current
        if entry is None:
            return
        found = read_at_cursor(entry.assessment, x, y)
        if found is not None:
            self.readout.show_readout(found)
        elif entry.assessment.drift is not None:
            label = self._lot.session.document(entry.key).picture.x.label
            self.readout.show_log(f"{label}: {x:.1f}", y)
        else:
            self.readout.show_nothing(self.tr("no curve could be fitted to read from"))

    def _read_course(self, plate_current: float) -> None:
        """Read the tube at a plate current [mA] and the plate voltage of its course."""
        entry = self._lot.session.current
        plate_voltage = self._lot.session.course(entry.key).plate_voltage if entry else None
        if entry is None or plate_voltage is None:
            return
        found = read_at_current(entry.assessment, plate_voltage, plate_current)
        if found is not None:
            self.readout.show_readout(found)

    def show_all(self) -> None:
        """Bring the whole of what is shown back into view."""
        self.plot.show_all()
        self.constants.show_all()

    def picture_now(self) -> QPixmap:
        """Return what is to be seen, for the clipboard."""
        seen = self.constants if self._lot.session.display.constants else self.plot
        return seen.picture_now()

    def _read_nothing(self) -> None:
        hint = self.tr("point at the plot")
        self.readout.show_nothing(hint if self._lot.session.current else "")


def _spring() -> QWidget:
    """Return an empty part that pushes what follows to the right."""
    spring = QWidget()
    spring.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
    return spring
