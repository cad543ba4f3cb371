"""Behaviour: what each view shows of each kind of file, and what is kept of it."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.paths import sample_folder
from curvelab.sheets.plot_records import Role
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.session import Display, Session
from curvelab.workbench.view_cache import ViewCache
from curvelab.workbench.views import CURVE_VIEWS, View, view_picture
from helpers import assessments


@pytest.fixture(scope="module")
def lot():
    names = ("PIT-01", "PIT-02", "PIT-04", "STAGE-04", "BALCONY-05")
    paths = tuple(sample_folder() / f"{name}.csv" for name in names)
    return characterize(Request(paths=paths)).assessments


@pytest.fixture
def session(lot) -> Session:
    made = Session()
    made.take_in(Batch(tuple(lot), (), ()))
    return made


def key_of(session: Session, title: str) -> int:
    (found,) = (e.key for e in session.entries if e.assessment.sweep.title == title)
    return found


@pytest.mark.parametrize("view", sorted(CURVE_VIEWS))
def test_every_view_shows_something_or_says_why_not(lot, view):
    for tube in (*lot, *map(lambda make: make(), (assessments.without_constants,))):
        found = view_picture(view, tube)
        assert found.title == tube.sweep.title
        assert bool(found.plots) != bool(found.reason)
        for picture in found.plots:
            assert picture.series
            assert picture.x.label
            assert picture.y.label
            assert all(np.isfinite(line.y).all() for line in picture.series)


def test_plots_over_one_another_share_their_axis(lot):
    shown = [view_picture(view, tube).plots for view in CURVE_VIEWS for tube in lot]
    doubled = [plots for plots in shown if len(plots) == 2]
    assert len(doubled) >= 5
    assert all(upper.x == lower.x for upper, lower in doubled)


@pytest.mark.parametrize(
    ("view", "title", "words"),
    [
        (View.TRANSFER, "STAGE-04 log", "one point"),
        (View.CONSTANT_CURRENT, "STAGE-04 log", "one point"),
        (View.GRID_CURRENT, "STAGE-04 log", "one point"),
        (View.LOG, "PIT-01", "not a log"),
        (View.PASSES, "PIT-01", "way up"),
    ],
)
def test_the_reason_is_of_the_file(lot, view, title, words):
    (tube,) = (one for one in lot if one.sweep.title == title)
    assert words in view_picture(view, tube).reason


def test_in_the_place_of_plate_curves_a_log_shows_its_course_and_says_so(lot):
    (log,) = (one for one in lot if one.drift is not None)
    found = view_picture(View.PLATE, log)
    assert found.plots[0].x.label.startswith("time")
    assert "no plate curves" in found.note
    assert any(found.plots[0].of_role(Role.PROJECTED))


def test_a_view_of_another_kind_is_refused(lot):
    with pytest.raises(ValueError, match="deviation"):
        view_picture(View.DEVIATION, lot[0])


def test_the_two_chosen_first_are_compared_else_the_sections(session):
    assert session.pair is None
    session.choose([key_of(session, "PIT-01")])
    assert session.pair is None
    session.choose([key_of(session, "PIT-04 section 2")])
    titles = [entry.assessment.sweep.title for entry in session.pair]
    assert titles == ["PIT-04 section 2", "PIT-04 section 1"]
    session.choose([key_of(session, name) for name in ("PIT-02", "PIT-01", "BALCONY-05")])
    titles = [entry.assessment.sweep.title for entry in session.pair]
    assert titles == ["PIT-02", "PIT-01"]


def test_a_view_is_worked_out_once_and_anew_when_its_tube_changes(session, lot):
    key, other = key_of(session, "PIT-01"), key_of(session, "PIT-02")
    first = session.plots(key, View.TRANSFER)
    assert session.plots(key, View.TRANSFER) is first
    assert session.plots(key, View.TRANSFER, (100.0,)) is not first
    kept = session.difference(other, key_of(session, "BALCONY-05"))
    gone = session.difference(key, other)
    (tube,) = (one for one in lot if one.sweep.title == "PIT-01")
    session.take_in(Batch((tube,), (), ()))
    assert session.plots(key, View.TRANSFER) is not first
    assert session.difference(key, other) is not gone
    assert session.difference(other, key_of(session, "BALCONY-05")) is kept


def test_the_unit_chosen_is_that_of_the_constants_side_by_side(session):
    keys = key_of(session, "PIT-01"), key_of(session, "PIT-02")
    assert session.beside(*keys).rows[1].cells[0] == "gm (mA/V)"
    session.show(Display(micromho=True))
    assert session.beside(*keys).rows[1].cells[0] == "gm (µmho)"


def test_no_more_pictures_are_kept_than_can_be_of_use():
    cache, made = ViewCache(), []
    for number in range(500):
        cache.get((number,), "what", lambda number=number: made.append(number))
    assert made == list(range(500))
    cache.get((499,), "what", lambda: made.append("again"))
    assert made[-1] == 499
    cache.get((0,), "what", lambda: made.append("anew"))
    assert made[-1] == "anew"
