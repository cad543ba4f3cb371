"""Behaviour: the plot, one panel on a lot made by hand, down to the colours of its pixels."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPixmap
from PySide6.QtWidgets import QApplication

from curvelab.sheets.plot_records import Role
from curvelab.window.plot_panel import PlotPanel
from curvelab.window.theme import Scheme
from curvelab.workbench.views import View


@pytest.fixture
def panel(qtbot, filled, theme) -> PlotPanel:
    made = PlotPanel(filled, theme, (), ())
    qtbot.addWidget(made)
    made.resize(900, 640)
    with qtbot.waitExposed(made):
        made.show()
    return made


def ink(panel: PlotPanel, colour: str, reach: int = 60) -> int:
    """Return how many pixels of the plot are about of a colour."""
    image = panel.plot.grab().toImage()
    want = QColor(colour)
    count = 0
    for x in range(0, image.width(), 2):
        for y in range(0, image.height(), 2):
            have = image.pixelColor(x, y)
            apart = (
                abs(have.red() - want.red())
                + abs(have.green() - want.green())
                + abs(have.blue() - want.blue())
            )
            count += apart < reach
    return count


def test_axes_are_named_with_their_units(panel):
    plot = panel.plot
    assert plot.getAxis("bottom").labelText == "plate voltage Vp (V)"
    assert plot.getAxis("left").labelText == "plate current Ip (mA)"


def test_every_grid_step_is_drawn_in_a_colour_of_its_own(panel, theme):
    steps = theme.colours.steps(8)
    assert len(set(steps)) == 8
    assert all(ink(panel, steps[number], reach=24) > 5 for number in (1, 4, 7))


def test_fitted_curves_hide_and_come_back(panel, filled, theme):
    strongest = theme.colours.steps(8)[7]
    filled.switch("measured", False)
    shown = ink(panel, strongest)
    filled.switch("fitted", False)
    assert ink(panel, strongest) < shown / 4
    filled.switch("fitted", True)
    assert ink(panel, strongest) == shown


@pytest.mark.parametrize("switch", ["measured", "reference", "ratings"])
def test_each_part_hides_by_itself(panel, filled, switch):
    before = panel.plot.grab().toImage()
    filled.switch(switch, False)
    assert panel.plot.grab().toImage() != before
    filled.switch(switch, True)
    assert panel.plot.grab().toImage() == before


def test_the_reference_family_is_thin_dashed_and_grey(panel):
    pen = panel.plot._quiet[Role.REFERENCE].opts["pen"]
    assert pen.widthF() <= 1.0
    assert pen.style() is Qt.PenStyle.DashLine
    assert pen.color().hslSaturationF() < 0.2
    fitted = panel.plot._curves.pens[0]
    assert fitted.widthF() > pen.widthF()
    assert fitted.style() is Qt.PenStyle.SolidLine


def test_a_finding_pointed_out_rings_its_own_readings(panel, filled):
    filled.choose([filled.entries[1].key])
    findings = filled.session.current.assessment.findings
    every = len(panel.plot._marks.data)
    filled.point_out(3)  # a bad contact: two readings
    assert findings[3].readings == (12, 77)
    spots = panel.plot._marks.data
    assert len(spots) == 2 * 2  # its marker and a ring about each
    readings = filled.session.current.assessment.sweep.readings
    assert {float(x) for x in spots["x"]} == {float(readings.plate_voltage[i]) for i in (12, 77)}
    filled.point_out(None)
    assert len(panel.plot._marks.data) == every > 4


def test_a_few_tubes_over_the_first_have_inks_and_dashes_of_their_own(panel, filled, theme):
    filled.choose([entry.key for entry in filled.entries])
    pens = panel.plot._compared.pens
    # The log has other axes: it is not drawn among plate curves.
    assert panel.plot.getAxis("bottom").labelText == "plate voltage Vp (V)"
    looks = {(pen.color().name(), tuple(pen.dashPattern())) for pen in pens}
    assert len(looks) == 2
    assert {colour for colour, _ in looks} == set(theme.colours.compared[:2])
    assert panel.key.words() == ("B02", "C3")
    assert panel.key.isVisible()
    filled.switch("others", False)
    assert not panel.plot._compared.pens
    assert not panel.key.isVisible()


def test_many_tubes_lie_faintly_behind_the_one_looked_at(panel, filled, theme):
    session, first = filled.session, filled.entries[0]
    picture = session.plots(first.key, View.PLATE).plots[0]
    panel.plot.show_pictures(picture, [picture] * 5)
    x, _ = panel.plot._behind.getData()
    assert x.size > 0
    assert panel.plot._behind.opts["pen"].color().name() == theme.colours.other
    assert not panel.plot._compared.pens
    panel.plot.show_pictures(picture)
    assert not panel.plot._behind.getData()[0].size


def test_the_cursor_is_read_by_mouse(panel, qtbot):
    view = panel.plot.plotItem.vb
    scene = view.mapViewToScene(QPointF(250.0, 1.2))
    panel.plot.scene().sigMouseMoved.emit(scene)
    shown = panel.readout.text()
    assert "Vg (V) -" in shown
    assert "mu 8" in shown  # below the made-up law's asymptote of 97
    assert "inside the readings" in shown
    panel.plot.leaveEvent(QEvent(QEvent.Type.Leave))
    assert "point at the plot" in panel.readout.text()


def test_the_cursor_moves_by_keys(panel, qtbot):
    pointed = []
    panel.plot.pointed.connect(lambda x, y: pointed.append((x, y)))
    panel.plot.setFocus()
    qtbot.keyClick(panel.plot, Qt.Key.Key_Right)
    qtbot.keyClick(panel.plot, Qt.Key.Key_Up)
    qtbot.keyClick(panel.plot, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert pointed[1][0] == pytest.approx(pointed[0][0])
    assert pointed[1][1] > pointed[0][1]
    assert pointed[2][0] > pointed[1][0]


def test_beyond_the_readings_the_readout_says_so(panel):
    panel.plot.pointed.emit(345.0, 9.5)
    assert "outside the readings" in panel.readout.text()
    panel.plot.pointed.emit(20.0, 9.9)
    assert "outside the readings" in panel.readout.text()


def test_a_log_is_drawn_over_time_with_its_cautions(panel, filled):
    assert not panel._caution.isVisible()
    filled.choose([filled.entries[3].key])
    assert panel.plot.getAxis("bottom").labelText.startswith("time")
    assert panel._caution.isVisible()
    assert "interlocks" in panel._caution.text()
    styles = [pen.style() for pen in panel.plot._curves.pens]
    assert styles == [Qt.PenStyle.SolidLine, Qt.PenStyle.DashLine]  # fitted, projected
    panel.plot.pointed.emit(2.0, 60.5)
    assert "60.50" in panel.readout.text()


def test_the_stock_menu_with_its_failing_exports_is_gone(panel):
    assert not panel.plot.plotItem.menuEnabled()


def test_dark_is_dark_to_the_last_corner(panel, theme):
    theme.use(Scheme.DARK)
    image = panel.plot.grab().toImage()
    corners = [QPoint(2, 2), QPoint(image.width() - 3, image.height() - 3)]
    assert all(image.pixelColor(corner).lightnessF() < 0.2 for corner in corners)
    bright = theme.colours.steps(8)[7]
    assert QColor(bright).lightnessF() > 0.5
    assert ink(panel, bright) > 5


def test_zoomed_away_the_whole_plot_comes_back(panel):
    before = panel.plot.plotItem.viewRange()
    panel.plot.setRange(xRange=(100, 120), yRange=(0, 1), padding=0)
    panel.plot.show_all()
    after = panel.plot.plotItem.viewRange()
    assert after[0] == pytest.approx(before[0])
    assert after[1] == pytest.approx(before[1])


def test_the_plot_is_put_into_words(panel):
    said = panel.plot.accessibleDescription()
    assert "A17 section 1" in said
    assert "8 grid steps" in said


def coloured(picture: QPixmap) -> float:
    """Return the share of a picture that is neither paper nor grey."""
    image = picture.toImage().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    dots = rows[:, : 3 * image.width()].reshape(-1, 3).astype(int)
    return float((np.ptp(dots, axis=1) > 60).mean())


def test_lines_are_as_thick_on_a_dense_screen_as_on_any_other(panel):
    QApplication.processEvents()
    usual, dense = (coloured(panel.picture_now(scale)) for scale in (1.0, 2.0))
    assert usual > 0.001
    assert dense == pytest.approx(usual, rel=0.2)
