"""Behaviour: a picture holds every reading, the families and the limits, in V and mA."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.records import DriftBehaviour
from curvelab.sheets.picture import curve_picture, picture_of
from curvelab.sheets.plot_records import Role, Shape
from curvelab.sheets.ticks import round_axis
from curvelab.sweep.records import Readings
from helpers.assessments import (
    drifting,
    gassy,
    healthy,
    make_sweep,
    no_fit,
    triode_type,
    without_constants,
)


def readings_of(picture, role):
    return np.concatenate([series.readings for series in picture.of_role(role)])


def test_every_reading_is_in_the_picture_once():
    picture = curve_picture(gassy())
    measured, left_out = (readings_of(picture, role) for role in (Role.MEASURED, Role.LEFT_OUT))
    assert sorted(left_out) == [12, 77]
    assert sorted(np.concatenate([measured, left_out])) == list(range(160))


def test_points_are_in_volts_and_milliamperes():
    tube = healthy()
    picture = curve_picture(tube)
    for series in picture.of_role(Role.MEASURED):
        np.testing.assert_allclose(series.x, tube.sweep.readings.plate_voltage[series.readings])
        np.testing.assert_allclose(
            series.y, 1e3 * tube.sweep.readings.plate_current[series.readings]
        )
    assert picture.x.label == "plate voltage Vp (V)"
    assert picture.y.label == "plate current Ip (mA)"


def test_fitted_curves_follow_the_family_as_far_as_their_step_was_measured():
    tube = healthy()
    lines = list(curve_picture(tube).of_role(Role.FITTED))
    assert [line.label for line in lines] == [
        "-3.5 V",
        "-3 V",
        "-2.5 V",
        "-2 V",
        "-1.5 V",
        "-1 V",
        "-0.5 V",
        "0 V",
    ]
    for line, grid in zip(lines, np.arange(-3.5, 0.1, 0.5), strict=True):
        assert (line.x[0], line.x[-1]) == (15.0, 300.0)
        np.testing.assert_allclose(line.y, 1e3 * tube.fit.family.current(line.x, grid))
        assert line.end_label


def test_the_reference_stands_at_the_same_grid_steps_over_the_whole_axis():
    tube = healthy()
    picture = curve_picture(tube)
    backed, beyond = Role.REFERENCE, Role.REFERENCE_EXTRAPOLATED
    lines = [line for line in picture.series if line.role in (backed, beyond)]
    assert sorted({line.step for line in lines}) == list(range(8))
    assert {line.role for line in lines} == {backed, beyond}
    for step, grid in enumerate(np.arange(-3.5, 0.1, 0.5)):
        own = [line for line in lines if line.step == step]
        assert own[-1].x[-1] == picture.x.high
        for before, after in itertools.pairwise(own):  # one line without a gap
            assert before.x[-1] == after.x[0]
            assert before.role is not after.role
        for line in own:
            np.testing.assert_allclose(line.y, 1e3 * tube.reference.current(line.x, grid))
            inner = line.x[1:-1]
            told = tube.reference.covers(inner, np.full(inner.size, grid))
            assert (told == (line.role is backed)).all()
    assert picture.reference_label == "12AX7"


def test_the_tolerance_of_new_tubes_is_a_bar_at_its_point():
    # No limit is printed for the invented type: common practice, 30 % either way.
    tube = healthy()
    (bar,) = curve_picture(tube).of_role(Role.TOLERANCE)
    family = 1e3 * tube.reference.current(250.0, -2.0).item()
    assert (bar.x.min() + bar.x.max()) / 2 == pytest.approx(250.0)
    assert (bar.y.min(), bar.y.max()) == (pytest.approx(0.7 * family), pytest.approx(1.3 * family))
    assert bar.label == "tolerance at 250 V, -2 V"


def test_another_type_s_family_brings_no_tolerance():
    assert not list(curve_picture(healthy(tube_type=triode_type("6SL7GT"))).of_role(Role.TOLERANCE))
    assert not list(curve_picture(healthy(tube_type=None)).of_role(Role.TOLERANCE))


def test_the_hyperbola_is_the_rating_everywhere():
    (line,) = curve_picture(healthy()).of_role(Role.DISSIPATION)
    np.testing.assert_allclose(line.x * line.y, 1e3)  # 1 W in V mA
    (limit,) = curve_picture(healthy()).of_role(Role.PLATE_LIMIT)
    assert set(limit.x) == {330.0}


def test_a_rating_far_beyond_the_sweep_does_not_stretch_the_axis():
    kind = triode_type()
    figure = kind.ratings[0].limits["plate_voltage"]
    far = replace(kind.ratings[0], limits={"plate_voltage": replace(figure, value=1250.0)})
    picture = curve_picture(healthy(tube_type=replace(kind, ratings=(far,))))
    assert picture.x.high == 300.0
    assert not list(picture.of_role(Role.PLATE_LIMIT))


def test_marks_are_the_readings_of_the_findings_with_a_shape_each():
    tube = gassy()
    marks = curve_picture(tube).marks
    assert [mark.code for mark in marks] == ["gas", "weak-emission", "over-rating", "contact"]
    assert [mark.shape for mark in marks] == list(Shape)[:4]
    np.testing.assert_allclose(marks[3].x, tube.sweep.readings.plate_voltage[[12, 77]])


def test_without_a_family_the_points_carry_the_labels():
    (series,) = curve_picture(without_constants()).series
    assert series.role is Role.MEASURED
    assert series.end_label
    assert series.label == "-2 V"


def test_only_the_grid_swept_gives_a_transfer_curve():
    grid = np.linspace(-4, 0, 40)
    plate = 250.0 + np.random.default_rng(5).normal(0, 0.05, 40)
    readings = Readings(plate, grid, 1e-3 * (grid + 5) ** 1.5, np.arange(40))
    sweep = make_sweep(readings=readings)
    picture = picture_of(healthy(sweep=sweep, fit=no_fit(sweep, "One plate voltage.")))
    assert picture.x.label == "grid voltage Vg (V) at Vp 250 V"
    (points,) = picture.of_role(Role.MEASURED)
    np.testing.assert_allclose(points.x, grid)
    (reference,) = picture.of_role(Role.REFERENCE)
    np.testing.assert_allclose(
        reference.y, 1e3 * healthy().reference.current(250.0, reference.x), rtol=2e-3
    )


def test_a_log_is_drawn_against_time_with_its_projection_and_limit():
    log = drifting()
    picture = picture_of(log)
    assert picture.x.label == "time (min)"
    (fitted,), (ahead,) = (list(picture.of_role(role)) for role in (Role.FITTED, Role.PROJECTED))
    assert fitted.x[-1] == ahead.x[0] == pytest.approx(590 / 60)
    (level,) = picture.of_role(Role.DISSIPATION)
    np.testing.assert_allclose(level.y, 1e3 * 19.0 / 250.0)


def test_readings_a_log_was_not_judged_by_are_told_apart():
    log = drifting()
    report = replace(log.drift, behaviour=DriftBehaviour.DRIFTS, readings=tuple(range(30)))
    picture = picture_of(replace(log, drift=report))
    assert sorted(readings_of(picture, Role.LEFT_OUT)) == list(range(30, 60))


def test_a_flat_log_looks_flat():
    log = drifting()
    flat = replace(log.sweep.readings, plate_current=np.full(60, 60e-3))
    axis = picture_of(replace(log, sweep=replace(log.sweep, readings=flat), drift=None)).y
    assert axis.low < 59.0
    assert axis.high > 61.0


@pytest.mark.parametrize("current", [0.0, -1e-6])
def test_no_current_and_no_readings_still_make_axes(current):
    plate = np.linspace(0, 250, 20)
    for readings in (
        Readings(plate, np.full(20, -2.0), np.full(20, current), np.arange(20)),
        Readings([], [], [], []),
    ):
        sweep = make_sweep(readings=readings)
        picture = curve_picture(healthy(sweep=sweep, fit=no_fit(sweep, "nothing")))
        assert picture.y.high > picture.y.low
        assert picture.x.high > picture.x.low


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0.0, 300.0, ("0", "50", "100", "150", "200", "250", "300")),
        (0.0, 1.2, ("0.0", "0.2", "0.4", "0.6", "0.8", "1.0", "1.2")),
        (-0.5, 0.9, ("-0.6", "-0.4", "-0.2", "0.0", "0.2", "0.4", "0.6", "0.8", "1.0")),
        (0.0, 1.7, ("0.00", "0.25", "0.50", "0.75", "1.00", "1.25", "1.50", "1.75")),
        (3.0, 3.0, ("3.0", "3.2", "3.4", "3.6", "3.8", "4.0")),
    ],
)
def test_ticks_are_round_numbers_that_hold_the_data(low, high, ticks):
    axis = round_axis("", low, high)
    assert axis.tick_labels == ticks
    assert axis.low <= low
    assert axis.high >= high


def test_a_flood_of_readings_and_steps_is_thinned_to_what_a_page_shows():
    rng = np.random.default_rng(11)
    grid, plate = rng.uniform(-50, 0, 200_000), rng.uniform(0, 300, 200_000)
    readings = Readings(plate, grid, 1e-5 * plate, np.arange(200_000))
    sweep = make_sweep(readings=readings)
    picture = curve_picture(healthy(sweep=sweep, fit=no_fit(sweep, "nothing")))
    assert len(list(picture.of_role(Role.REFERENCE))) <= 40
    assert readings_of(picture, Role.MEASURED).size == 3000
