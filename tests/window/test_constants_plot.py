"""Behaviour: the plots of the constants in the real window, on real files."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtGui import QColor, QGuiApplication

from curvelab.window.theme import Scheme
from curvelab.workbench.views import View
from helpers.sweeps import write_log, write_sweep


@pytest.fixture
def opened(window, tmp_path, idle):
    lot = tmp_path / "lot"
    lot.mkdir()
    write_sweep(lot / "A.csv")
    write_sweep(lot / "B.csv", seed=6)
    write_log(lot / "log.csv")
    window.open_paths([lot])
    idle(window)
    choose(window, "A")
    window.actions_.views[View.CONSTANTS].trigger()
    return window


def choose(window, *names) -> None:
    keys = {entry.assessment.sweep.tube: entry.key for entry in window.lot.entries}
    window.lot.choose([keys[name] for name in names])


def labels(window) -> list[str]:
    return [plot.getAxis("left").labelText for plot in window.curves.pages.constants.plots]


def test_the_menu_puts_the_constants_in_the_place_of_the_curves_and_back(opened):
    panel = opened.curves
    assert panel.pages.constants.isVisible()
    assert not panel.plot.isVisible()
    assert labels(opened) == ["gm (mA/V)", "rp (kohm)", "mu"]
    assert panel.pages.constants.plots[-1].getAxis("bottom").labelText == "plate current Ip (mA)"
    opened.actions_.views[View.PLATE].trigger()
    assert panel.plot.isVisible()
    assert not panel.pages.constants.isVisible()


def test_every_plot_shows_the_whole_axis_and_they_zoom_together(opened):
    plots = opened.curves.pages.constants.plots
    picture = opened.lot.session.course(opened.lot.session.current.key)
    for plot in plots:
        low, high = plot.vb.viewRange()[0]
        assert low <= picture.x.low < picture.x.high <= high
    plots[1].vb.setXRange(2.0, 5.0, padding=0)
    assert all(np.allclose(plot.vb.viewRange()[0], [2.0, 5.0]) for plot in plots)
    opened.actions_.whole_plot.trigger()
    assert all(plot.vb.viewRange()[0][1] >= picture.x.high for plot in plots)


def test_the_line_is_drawn_in_the_schemes_colour(opened, theme):
    for scheme in (Scheme.LIGHT, Scheme.DARK):
        theme.use(scheme)
        image = opened.curves.picture_now().toImage()
        want = QColor(theme.colours.accent)
        seen = sum(
            image.pixelColor(x, y) == want
            for x in range(0, image.width(), 2)
            for y in range(0, image.height(), 2)
        )
        assert seen > 50


def test_a_unit_chosen_is_the_unit_shown(opened):
    opened.actions_.micromho.trigger()
    assert labels(opened)[0] == "gm (µmho)"
    opened.actions_.micromho.trigger()
    assert labels(opened)[0] == "gm (mA/V)"


def test_a_log_says_why_it_has_none(opened):
    choose(opened, "log")
    reason = opened.curves.pages.reason
    assert reason.isVisible()
    assert "drift log" in reason.text()
    choose(opened, "A")
    assert not reason.isVisible()


def test_other_chosen_tubes_stand_behind(opened):
    def lines() -> int:
        return len(opened.curves.pages.constants.plots[0].listDataItems())

    alone = lines()
    choose(opened, "A", "B")
    assert lines() == alone + 1
    opened.actions_.switches["others"].trigger()
    assert lines() == alone
    opened.actions_.switches["others"].trigger()


def test_pointing_reads_the_tube_at_that_current(opened):
    opened.curves.pages.constants.pointed.emit(4.0)
    assert "Vp (V) 250.0" in opened.curves.readout.text()
    assert "mu 2" in opened.curves.readout.text()  # 20 to two figures: the tube's own law


def test_what_is_copied_is_what_is_seen(opened):
    opened.curves.pages.constants.linked.shown[0].setFocus()
    opened.actions_.copy_plot.trigger()
    copied = QGuiApplication.clipboard().pixmap().size()
    assert copied == opened.curves.pages.constants.size()


def test_the_plots_are_in_words_too(opened):
    text = opened.curves.pages.constants.accessibleDescription()
    assert text.startswith("A: gm (mA/V), rp (kohm), mu against plate current")


def test_no_tube_shows_nothing(opened):
    opened.tubes.view.selectAll()
    opened.actions_.remove.trigger()
    assert opened.curves.pages.constants.plots == ()
