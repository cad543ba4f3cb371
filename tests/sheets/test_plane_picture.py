"""Identity: percent over the plane, and two tubes side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting.records import Constant
from curvelab.paths import sample_folder
from curvelab.sheets.plane_picture import deviation_picture, difference_picture
from curvelab.sheets.side_by_side import side_by_side_table
from curvelab.workbench.characterize import Request, characterize
from helpers import assessments


@pytest.fixture(scope="module")
def lot():
    names = ("PIT-01", "PIT-02", "PIT-04", "STAGE-02", "STAGE-03", "BALCONY-01")
    paths = tuple(sample_folder() / f"{name}.csv" for name in names)
    return {tube.sweep.title: tube for tube in characterize(Request(paths=paths)).assessments}


def middles(picture):
    edges = picture.plate_edges, picture.grid_edges
    return np.meshgrid(*((edge[:-1] + edge[1:]) / 2 for edge in edges), indexing="ij")


def test_a_cell_is_the_tubes_current_over_the_familys(lot):
    tube = lot["PIT-01"]
    picture = deviation_picture(tube)
    plate, grid = middles(picture)
    known = np.isfinite(picture.percent)
    assert known.any()
    own, family = (f.current(plate, grid) for f in (tube.fit.family, tube.reference))
    assert picture.percent[known] == pytest.approx((100 * (own / family - 1))[known])


def test_only_what_the_readings_cover_has_a_value(lot):
    tube = lot["PIT-01"]
    picture = deviation_picture(tube)
    plate, grid = middles(picture)
    assert tube.fit.family.covers(plate, grid)[np.isfinite(picture.percent)].all()
    assert np.isnan(picture.percent).any()
    assert not (picture.extrapolated & np.isnan(picture.percent)).any()
    assert picture.extrapolated.any()


def test_the_middle_agrees_with_the_bogey(lot):
    """The cell at the handbook's point is the percent of bogey that the table shows."""
    tube = lot["PIT-01"]
    bogey = 100 * (tube.comparison.of_bogey["plate_current"] - 1)
    assert deviation_picture(tube).at(250.0, -8.0) == pytest.approx(bogey, abs=1.5)


def test_off_the_plane_there_is_no_value(lot):
    picture = deviation_picture(lot["PIT-01"])
    for at in ((-5.0, -8.0), (2000.0, -8.0), (250.0, 5.0), (20.0, -17.0)):
        assert picture.at(*at) is None


def test_a_tube_does_not_differ_from_itself(lot):
    picture = difference_picture(lot["PIT-01"], lot["PIT-01"])
    known = picture.percent[np.isfinite(picture.percent)]
    assert known.size
    assert known == pytest.approx(0.0, abs=1e-9)
    assert picture.end == 5.0


def test_the_difference_the_other_way_is_the_reciprocal(lot):
    there = difference_picture(lot["PIT-01"], lot["PIT-02"])
    back = difference_picture(lot["PIT-02"], lot["PIT-01"])
    both = np.isfinite(there.percent) & np.isfinite(back.percent)
    assert both.any()
    product = (1 + there.percent / 100) * (1 + back.percent / 100)
    assert product[both] == pytest.approx(1.0)


def test_a_tube_of_thirty_percent_less_is_so_everywhere():
    one = assessments.healthy()
    weak = replace(one, fit=replace(one.fit, family=assessments.AnalyticFamily(kg=1010.0 / 0.7)))
    picture = difference_picture(one, weak)
    known = picture.percent[np.isfinite(picture.percent)]
    assert known == pytest.approx(-30.0)
    assert picture.end == 50.0
    assert picture.middle == pytest.approx(-30.0)
    assert "A17 section 1" in picture.note
    assert "-30.0 %" in picture.note


@pytest.mark.parametrize(
    ("name", "words"),
    [("STAGE-02", "no reference family"), ("STAGE-03 log", "drift log")],
)
def test_why_there_is_no_deviation(lot, name, words):
    picture = deviation_picture(lot[name])
    assert words in picture.reason
    assert picture.percent.size == 0
    assert picture.middle is None
    assert picture.note == ""


def test_a_difference_names_the_tube_without_a_family(lot):
    reason = difference_picture(lot["PIT-01"], lot["STAGE-03 log"]).reason
    assert reason.startswith("STAGE-03 log, ")


def test_sweeps_apart_have_no_difference():
    one = assessments.healthy()
    far = replace(one.sweep.readings, plate_voltage=one.sweep.readings.plate_voltage + 1000.0)
    other = replace(one, sweep=replace(one.sweep, readings=far))
    assert "no voltages in common" in difference_picture(one, other).reason


def test_constants_side_by_side_are_those_of_the_two_tables(lot):
    one, two = lot["PIT-04 section 1"], lot["PIT-04 section 2"]
    table = side_by_side_table(one, two)
    assert table.columns == (
        "at Vp 250 V, Vg -8 V",
        "PIT-04 section 1",
        "PIT-04 section 2",
        "difference",
    )
    names = [row.cells[0] for row in table.rows]
    assert names == ["Ip (mA)", "gm (mA/V)", "rp (kohm)", "mu"]
    ratio = two.constants.plate_current.value / one.constants.plate_current.value - 1
    assert table.rows[0].cells[3].startswith(f"{100 * ratio:+.1f} ± ")


def test_the_second_tube_is_taken_where_the_first_was():
    one = assessments.healthy()
    moved = replace(one, operating_point=replace(one.operating_point, plate_voltage=200.0))
    table = side_by_side_table(moved, one)
    current = float(one.fit.family.current(np.array(200.0), np.array(-2.0)))
    assert table.columns[0] == "at Vp 200 V, Vg -2 V"
    # The made-up fit cannot say how sure it is of the second tube there, so it may say nothing.
    assert table.rows[0].cells[2] in ("–", f"{1e3 * current:.3f}")


def test_uncertainties_add_in_quadrature():
    """JCGM 100:2008, clause 5.1.6: relative ones of a quotient."""
    one = assessments.healthy()
    pair = Constant(10e-3, 0.3e-3), Constant(9e-3, 0.36e-3)  # 3 % and 4 % make 5 %
    first, second = (
        replace(one, constants=replace(one.constants, plate_current=value)) for value in pair
    )
    assert side_by_side_table(first, second).rows[0].cells[3] == "-10.0 ± 4.5 %"


def test_a_constant_that_is_missing_is_a_dash():
    one = assessments.healthy()
    none = assessments.without_constants()
    table = side_by_side_table(one, replace(none, operating_point=one.operating_point))
    assert table.rows[0].cells[2:] == ("–", "–")
