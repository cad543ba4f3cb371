"""Behaviour: the views in the real window, on sample files, by mouse and by keys."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QGuiApplication, QImage
from PySide6.QtWidgets import QApplication, QToolButton

from curvelab.drawing.palette import diverging_colours
from curvelab.paths import sample_folder
from curvelab.window.plots.cursor_plot import CursorPlot
from curvelab.window.theme import Scheme
from curvelab.workbench.views import View
from helpers.pdf_pages import page_texts

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("PIT-01", "PIT-02", "PIT-04", "PIT-06", "BOOTH-02", "BALCONY-05", "STAGE-04")


@pytest.fixture
def opened(window, idle):
    window.resize(1280, 800)
    window.open_paths([sample_folder() / f"{name}.csv" for name in NAMES])
    idle(window)
    choose(window, "PIT-01")
    return window


def choose(window, *titles) -> None:
    keys = {entry.assessment.sweep.title: entry.key for entry in window.lot.entries}
    window.lot.choose([keys[title] for title in titles])


def look(window, view) -> None:
    window.actions_.views[view].trigger()


def shown(window) -> list[CursorPlot]:
    return [plot for plot in window.curves.findChildren(CursorPlot) if plot.isVisible()]


WITH_SOMETHING = [
    (View.PLATE, "PIT-01"),
    (View.TRANSFER, "PIT-01"),
    (View.CONSTANT_CURRENT, "PIT-01"),
    (View.CONSTANTS, "PIT-01"),
    (View.DEVIATION, "PIT-01"),
    (View.GRID_CURRENT, "BOOTH-02"),
    (View.PASSES, "BALCONY-05"),
    (View.LOG, "STAGE-04 log"),
    (View.DIFFERENCE, "PIT-04 section 1"),
]


def test_every_view_has_a_button_and_its_number(opened, qtbot):
    buttons = opened.curves.view_bar.findChildren(QToolButton)
    named = [button.text() for button in buttons if button.text()]
    assert len(named) == len(View) == 9
    opened.tubes.view.setFocus()
    for number, view in enumerate(View, start=1):
        qtbot.keyClick(opened, getattr(Qt.Key, f"Key_{number}"), Qt.KeyboardModifier.AltModifier)
        assert opened.lot.session.view is view
        assert opened.actions_.views[view].isChecked()
        assert sum(action.isChecked() for action in opened.actions_.views.values()) == 1


@pytest.mark.parametrize(("view", "title"), WITH_SOMETHING)
def test_each_view_names_both_axes_with_units_and_is_in_words(opened, view, title):
    choose(opened, title)
    look(opened, view)
    plots = shown(opened)
    assert plots
    for plot in plots:
        assert plot.getAxis("left").labelText
        assert plot.accessibleName()
    assert "(" in plots[-1].getAxis("bottom").labelText
    assert plots[-1].getAxis("bottom").label.isVisible()
    assert not opened.curves.pages.reason.isVisible()


@pytest.mark.parametrize(("view", "title"), WITH_SOMETHING)
def test_the_same_keys_work_in_every_view(opened, qtbot, view, title):
    choose(opened, title)
    look(opened, view)
    plot = shown(opened)[0]
    plot.setFocus()
    whole = np.array(plot.plotItem.viewRange())
    empty = opened.curves.readout.text()
    qtbot.keyClick(plot, Qt.Key.Key_Right)
    assert opened.curves.readout.text() != empty
    qtbot.keyClick(plot, Qt.Key.Key_Plus)
    assert np.ptp(plot.plotItem.viewRange()[0]) < 0.9 * np.ptp(whole[0])
    qtbot.keyClick(plot, Qt.Key.Key_Minus)
    assert np.ptp(plot.plotItem.viewRange()[0]) == pytest.approx(np.ptp(whole[0]), rel=0.05)
    qtbot.keyClick(plot, Qt.Key.Key_Plus)
    qtbot.keyClick(plot, Qt.Key.Key_Home)
    assert np.array(plot.plotItem.viewRange()) == pytest.approx(whole, rel=0.01, abs=0.01)
    opened.actions_.closer.trigger()
    assert np.ptp(plot.plotItem.viewRange()[0]) < 0.9 * np.ptp(whole[0])
    opened.actions_.whole_plot.trigger()
    assert np.array(plot.plotItem.viewRange()) == pytest.approx(whole, rel=0.01, abs=0.01)
    opened.actions_.of_readings.trigger()
    (left, right), _ = plot.plotItem.viewRange()
    assert left < right


@pytest.mark.parametrize(
    ("view", "title", "words"),
    [
        (View.GRID_CURRENT, "PIT-06", "no grid current was logged"),
        (View.PASSES, "PIT-01", "way up"),
        (View.LOG, "PIT-01", "not a log"),
        (View.DEVIATION, "STAGE-04 log", "drift log"),
        (View.DIFFERENCE, "PIT-01", "choose a second tube"),
        (View.TRANSFER, "STAGE-04 log", "drift log"),
    ],
)
def test_a_view_without_data_says_why_in_one_sentence(opened, view, title, words):
    choose(opened, title)
    look(opened, view)
    reason = opened.curves.pages.reason
    assert reason.isVisible()
    assert not shown(opened)
    assert words in reason.text()
    assert reason.text().endswith(".")
    assert reason.text().count(". ") == 0
    choose(opened, "PIT-01")
    look(opened, View.PLATE)
    assert not reason.isVisible()


def test_stepping_from_tube_to_tube_keeps_the_view(opened):
    look(opened, View.TRANSFER)
    choose(opened, "PIT-02")
    assert shown(opened)[0].getAxis("bottom").labelText == "grid voltage Vg (V)"
    choose(opened, "STAGE-04 log")
    assert opened.curves.pages.reason.isVisible()
    choose(opened, "PIT-01")
    assert shown(opened)[0].getAxis("bottom").labelText == "grid voltage Vg (V)"


def test_a_log_among_plate_curves_shows_its_course_and_says_so(opened):
    choose(opened, "STAGE-04 log")
    assert shown(opened)[0].getAxis("bottom").labelText.startswith("time")
    assert "no plate curves" in opened.curves.note.text()


def cell(plot: CursorPlot, plate: float, grid: float) -> tuple[int, int]:
    view = plot.plotItem.vb
    at = plot.mapFromScene(view.mapViewToScene(QPointF(plate, grid)))
    return at.x(), at.y()


def near(image: QImage, at: tuple[int, int], want: QColor) -> bool:
    """Tell whether a colour is to be seen within a few pixels: figures and dots cover some."""
    x, y = at
    return any(
        image.pixelColor(x + across, y + down) == want
        for across in range(-6, 7)
        for down in range(-6, 7)
    )


@pytest.mark.parametrize("scheme", [Scheme.LIGHT, Scheme.DARK])
def test_the_deviation_has_the_colours_of_its_scale(opened, theme, scheme):
    theme.use(scheme)
    look(opened, View.DEVIATION)
    (plot,) = shown(opened)
    picture = opened.curves.pages.plane_now()
    image, dark = plot.grab().toImage(), scheme is Scheme.DARK
    for plate, grid in ((250.0, -8.5), (100.0, -0.8), (300.0, -13.0)):
        column = int(np.searchsorted(picture.plate_edges, plate)) - 1
        row = int(np.searchsorted(picture.grid_edges, grid)) - 1
        share = np.array(picture.percent[column, row] / picture.end)
        want = QColor(*(int(part) for part in diverging_colours(share, dark=dark)))
        middle = (
            float(picture.plate_edges[column : column + 2].mean()),
            float(picture.grid_edges[row : row + 2].mean()),
        )
        assert near(image, cell(plot, *middle), want)
    assert image.pixelColor(*cell(plot, 60.0, -17.0)) == QColor(theme.colours.base)  # not covered


def test_the_deviation_is_read_under_the_cursor(opened):
    look(opened, View.DEVIATION)
    (plot,) = shown(opened)
    plot.point_at(QPointF(250.0, -8.0))
    text = opened.curves.readout.text()
    percent = opened.curves.pages.plane_now().at(250.0, -8.0)
    assert f"{percent:+.1f} % against the family of 6SN7GTB" in text
    assert "Vp (V) 250.0" in text
    assert "Vg (V) -8.00" in text
    scale = opened.curves.pages.deviation.scale
    assert scale.ticks() == [50.0, 25.0, 0.0, -25.0, -50.0]
    assert "-50" in scale.accessibleName()


def test_the_cursor_on_transfer_curves_reads_the_plate_voltage(opened):
    look(opened, View.TRANSFER)
    (plot,) = shown(opened)
    tube = opened.lot.session.current.assessment
    current = 1e3 * float(tube.fit.family.current(np.array(250.0), np.array(-8.0)))
    plot.point_at(QPointF(-8.0, current))
    assert "Vp (V) 250.0, Vg (V) -8.00" in opened.curves.readout.text()


def test_the_cursor_on_a_share_names_it(opened):
    choose(opened, "BOOTH-02")
    look(opened, View.GRID_CURRENT)
    _, lower = shown(opened)
    lower.point_at(QPointF(240.0, -30.0))
    assert "line gas: -" in opened.curves.readout.text()


def test_two_plots_move_together_and_stand_in_line(opened):
    choose(opened, "BALCONY-05")
    look(opened, View.PASSES)
    upper, lower = shown(opened)
    assert np.allclose(upper.plotItem.viewRange()[0], lower.plotItem.viewRange()[0])
    lower.plotItem.vb.setXRange(100.0, 200.0, padding=0)
    assert np.allclose(upper.plotItem.viewRange()[0], [100.0, 200.0])
    assert upper.getAxis("left").width() == lower.getAxis("left").width()
    assert not upper.getAxis("bottom").label.isVisible()
    look(opened, View.PLATE)
    (only,) = shown(opened)
    assert only.getAxis("bottom").label.isVisible()
    assert not np.allclose(only.plotItem.viewRange()[0], [100.0, 200.0])


def test_the_sections_of_a_tube_are_laid_over_each_other_by_a_key(opened):
    choose(opened, "PIT-04 section 2")
    opened.actions_.sections.trigger()
    titles = [entry.assessment.sweep.title for entry in opened.lot.session.chosen]
    assert titles == ["PIT-04 section 2", "PIT-04 section 1"]
    assert opened.curves.key.words() == ("PIT-04 section 1",)
    choose(opened, "PIT-01")
    opened.actions_.sections.trigger()
    assert "no other section" in opened.statusBar().currentMessage()


def test_the_difference_of_two_tubes_stands_over_their_constants(opened):
    look(opened, View.DIFFERENCE)
    choose(opened, "PIT-01", "PIT-02")
    view = opened.curves.pages.difference
    heads = [view.table.horizontalHeaderItem(at).text() for at in range(4)]
    assert heads == ["at Vp 250 V, Vg -8 V", "PIT-01", "PIT-02", "difference"]
    assert view.table.item(3, 0).text() == "mu"
    assert view.table.item(3, 3).text().endswith("%")
    assert view.table.height() >= sum(view.table.rowHeight(row) for row in range(4))
    assert "PIT-02 against PIT-01" in opened.curves.note.text()
    view.table.setFocus()
    opened.actions_.copy_rows.trigger()
    copied = QGuiApplication.clipboard().text()
    assert copied.splitlines()[0].split("\t") == heads
    assert len(copied.splitlines()) == 5


def test_the_golden_tube_is_what_single_ones_are_compared_with(opened):
    look(opened, View.DIFFERENCE)
    golden = opened.actions_.golden
    choose(opened, "PIT-01")
    golden.trigger()
    assert golden.isChecked()
    assert "Ctrl+D" in opened.curves.pages.reason.text()  # there is nothing to compare it with
    choose(opened, "PIT-02")
    assert not golden.isChecked()
    assert "PIT-02 against PIT-01" in opened.curves.note.text()
    choose(opened, "PIT-04 section 2")
    assert "PIT-04 section 2 against PIT-01" in opened.curves.note.text()
    choose(opened, "PIT-02", "PIT-04 section 1")  # two that were chosen go first
    assert "PIT-04 section 1 against PIT-02" in opened.curves.note.text()
    choose(opened, "PIT-01")
    opened.actions_.remove.trigger()
    choose(opened, "PIT-02")
    assert opened.curves.pages.currentWidget() is opened.curves.pages.reason


def test_what_is_seen_is_copied_and_saved(opened, answers, tmp_path, idle):
    look(opened, View.DEVIATION)
    opened.actions_.copy_plot.trigger()
    size = opened.curves.pages.currentWidget().size()
    assert QGuiApplication.clipboard().pixmap().size() == size
    target = tmp_path / "seen.png"
    answers.paths = [target]
    opened.actions_.save_plot.trigger()
    idle(opened)
    assert answers.asked[-1] == "PIT-01-deviation.png"
    saved = QImage(str(target))
    assert saved.size() == size * 2


AXES = {
    View.PLATE: "plate voltage Vp (V)",
    View.TRANSFER: "grid voltage Vg (V)",
    View.CONSTANT_CURRENT: "plate voltage Vp (V)",
    View.CONSTANTS: "plate current Ip (mA)",
    View.DEVIATION: "grid voltage Vg (V)",
    View.GRID_CURRENT: "grid current Ig",
    View.PASSES: "plate voltage Vp (V)",
    View.LOG: "time",
    View.DIFFERENCE: "PIT-04 section 2",
}


def test_every_view_is_saved_as_svg_and_pdf(opened, answers, tmp_path, idle):
    for view, title in WITH_SOMETHING:
        choose(opened, title)
        look(opened, view)
        for ending in ("svg", "pdf"):
            target = tmp_path / f"{view.name}.{ending}"
            answers.paths = [target]
            opened.actions_.save_plot.trigger()
            idle(opened)
        drawing = ElementTree.parse(tmp_path / f"{view.name}.svg").getroot()
        words = [text.text or "" for text in drawing.iter(f"{SVG}text")]
        assert any(AXES[view] in text for text in words), view
        strokes = [one for kind in ("path", "polyline") for one in drawing.iter(f"{SVG}{kind}")]
        assert len(strokes) > 10, view
        assert AXES[view] in page_texts(tmp_path / f"{view.name}.pdf")[0], view
        assert not opened.lot.session.problems


def test_the_view_is_kept_until_the_next_run(opened, make_window):
    look(opened, View.GRID_CURRENT)
    opened.close()
    assert make_window().lot.session.view is View.GRID_CURRENT


def test_all_of_the_panel_is_reached_by_tab(opened, qtbot):
    look(opened, View.PLATE)
    reached = set()
    opened.curves.view_bar.findChildren(QToolButton)[0].setFocus()
    for _ in range(60):
        now = opened.focusWidget()
        if now is None or now in reached:
            break
        reached.add(now)
        opened.focusNextPrevChild(True)
    assert opened.curves.plot in reached


def test_the_key_follows_the_colours(opened, theme):
    choose(opened, "PIT-01", "PIT-02")
    theme.use(Scheme.DARK)
    QApplication.processEvents()  # new samples are laid out
    ink = QColor(theme.colours.compared[0])
    image = opened.curves.key.grab().toImage()
    seen = [image.pixelColor(x, y) for x in range(image.width()) for y in range(image.height())]
    apart = (
        abs(one.red() - ink.red()) + abs(one.green() - ink.green()) + abs(one.blue() - ink.blue())
        for one in seen
    )
    assert min(apart) < 60  # smoothed at its edges


def test_labels_keep_their_room_when_the_window_shrinks(opened, qtbot):
    look(opened, View.CONSTANT_CURRENT)
    opened.resize(1900, 1000)
    QApplication.processEvents()
    (plot,) = shown(opened)
    wide = plot.plotItem.viewRange()[0][1]
    opened.resize(1000, 700)
    qtbot.waitUntil(lambda: plot.plotItem.viewRange()[0][1] > wide)
    plot.zoom(closer=True)
    zoomed = plot.plotItem.viewRange()
    opened.resize(1400, 800)
    QApplication.processEvents()
    assert np.allclose(plot.plotItem.viewRange(), zoomed)  # what a person zoomed to stays
