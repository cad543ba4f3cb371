"""Behaviour: what the plots of the constants against plate current show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.paths import sample_folder
from curvelab.quantities import MICROMHO
from curvelab.sheets.constants_picture import constants_picture
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.workbench.characterize import Request, characterize


def tube_of(name: str):
    (found,) = characterize(Request(paths=(sample_folder() / f"{name}.csv",))).assessments
    return found


@pytest.fixture(scope="module")
def tube():
    return tube_of("PIT-01")


@pytest.fixture(scope="module")
def picture(tube):
    return constants_picture(tube)


def test_there_is_a_panel_a_constant_with_its_unit(picture):
    assert picture.plate_voltage == 250.0
    assert picture.x.label == "plate current Ip (mA)"
    assert [panel.y.label for panel in picture.panels] == ["gm (mA/V)", "rp (kohm)", "mu"]
    assert picture.reason is None


def test_lines_rise_in_current_inside_their_band(picture):
    for panel in picture.panels:
        line = panel.tube
        assert (np.diff(line.x) > 0).all()
        assert ((line.low < line.y) & (line.y < line.high)).all()
        assert np.isfinite(panel.reference.y).all()


def test_the_operating_point_lies_on_the_line_and_has_the_tables_figures(tube, picture):
    for panel in picture.panels:
        spot, line = panel.at_point, panel.tube
        constant = getattr(tube.constants, panel.name)
        assert spot.y / constant.value == pytest.approx(spot.open / constant.u95)
        assert np.interp(spot.x, line.x, line.y) == pytest.approx(spot.y, rel=0.01)


def test_a_handbooks_figures_stand_where_it_prints_them(picture):
    spots = {panel.name: panel.printed for panel in picture.panels}
    assert [(spot.x, round(spot.y, 6)) for spot in spots["amplification_factor"]] == [(9.0, 20.0)]
    assert spots["transconductance"][0].y == pytest.approx(2.6)
    assert spots["plate_resistance"][0].y == pytest.approx(7.7)


def test_transconductance_comes_in_the_unit_asked_for(tube):
    quantities = tuple(
        (name, replace(quantity, unit=MICROMHO) if name == "transconductance" else quantity)
        for name, quantity in CONSTANT_QUANTITIES
    )
    (panel, *_) = constants_picture(tube, None, quantities).panels
    assert panel.y.label == "gm (µmho)"
    assert panel.at_point.y == pytest.approx(1e6 * tube.constants.transconductance.value)


def test_another_plate_voltage_shows_neither_operating_point_nor_handbook(tube):
    found = constants_picture(tube, 200.0)
    assert found.panels
    assert all(panel.at_point is None and not panel.printed for panel in found.panels)


def test_without_constants_the_reason_stands_in_their_place(tube):
    assert "log" in constants_picture(tube_of("STAGE-03")).reason
    far = constants_picture(tube, 900.0)
    assert far.panels == ()
    assert "900 V" in far.reason


def test_a_tube_without_a_type_has_no_reference(tube):
    bare = replace(tube, tube_type=None, reference=None)
    found = constants_picture(bare)
    assert found.reference_label is None
    assert all(panel.reference is None and not panel.printed for panel in found.panels)
