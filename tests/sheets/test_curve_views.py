"""Identity and behaviour: transfer and constant-current curves, passes and grid current."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.limits import HouseLimits
from curvelab.paths import sample_folder
from curvelab.sheets.constant_current_picture import constant_current_picture
from curvelab.sheets.grid_current_picture import grid_current_pictures
from curvelab.sheets.passes_picture import passes_pictures, why_no_passes
from curvelab.sheets.plot_records import Role
from curvelab.sheets.transfer_family_picture import transfer_family_picture
from curvelab.sweep.records import Readings
from curvelab.workbench.characterize import Request, characterize
from helpers import assessments

LIMITS = HouseLimits()


def tube_of(name: str):
    found = characterize(Request(paths=(sample_folder() / f"{name}.csv",))).assessments
    return found[0]


@pytest.fixture(scope="module")
def tube():
    return tube_of("PIT-01")


def test_a_transfer_curve_is_the_family_at_its_plate_voltage(tube):
    picture = transfer_family_picture(tube)
    assert picture.x.label == "grid voltage Vg (V)"
    assert 250.0 in picture.levels
    for line in picture.of_role(Role.FITTED):
        plate = np.full(line.x.size, picture.levels[line.step])
        assert line.y == pytest.approx(1e3 * tube.fit.family.current(plate, line.x))
        assert tube.fit.family.covers(plate, line.x).all()
        assert line.end_label


def test_points_of_transfer_curves_are_as_near_as_the_readings_scatter(tube):
    picture = transfer_family_picture(tube)
    fitted = {line.step: line for line in picture.of_role(Role.FITTED)}
    points = list(picture.of_role(Role.MEASURED))
    assert sum(part.x.size for part in points) > 40
    for part in points:
        line = fitted[part.step]
        inside = (part.x >= line.x[0]) & (part.x <= line.x[-1])
        apart = np.abs(np.interp(part.x[inside], line.x, line.y) - part.y[inside])
        assert apart.max() < 0.02 * picture.y.high


def test_a_second_tube_is_taken_at_the_plate_voltages_of_the_first(tube):
    first = transfer_family_picture(tube)
    second = transfer_family_picture(tube_of("PIT-02"), first.levels)
    assert second.levels == first.levels
    labels = {line.label for line in first.of_role(Role.FITTED)}
    assert {line.label for line in second.of_role(Role.FITTED)} == labels


def test_a_sweep_at_few_plate_voltages_keeps_just_those():
    plate = np.tile([100.0, 175.0, 250.0], 9)
    grid = np.repeat(np.linspace(-4.0, 0.0, 9), 3)
    current = assessments.AnalyticFamily().current(plate, grid)
    sweep = assessments.make_sweep(readings=Readings(plate, grid, current, np.arange(27)))
    tube = assessments.healthy(sweep=sweep, fit=assessments.make_fit(sweep))
    picture = transfer_family_picture(tube)
    assert picture.levels == (100.0, 175.0, 250.0)
    for number, part in enumerate(picture.of_role(Role.MEASURED)):
        at = plate == picture.levels[number]
        assert part.y == pytest.approx(1e3 * current[at])


def test_a_constant_current_curve_carries_its_current_everywhere(tube):
    picture = constant_current_picture(tube)
    assert picture.y.label == "plate voltage Vp (V)"
    lines = list(picture.of_role(Role.FITTED))
    assert len(lines) >= 4
    for line in lines:
        current = tube.fit.family.current(line.y, line.x)
        assert current == pytest.approx(np.full(line.x.size, picture.levels[line.step]), rel=3e-3)


def test_its_slope_is_the_amplification_factor(tube):
    """The slope -dVp/dVg at constant Ip (IEEE Std 158, methods of testing electron tubes)."""
    picture = constant_current_picture(tube, (9.0e-3,))
    (line,) = picture.of_role(Role.FITTED)
    slope = np.gradient(line.y, line.x)[2:-2]
    by_plate, by_grid = tube.fit.family.slopes(line.y[2:-2], line.x[2:-2])
    assert -slope == pytest.approx(by_grid / by_plate, rel=0.05)


def test_readings_lie_on_the_constant_current_curves_too(tube):
    picture = constant_current_picture(tube)
    fitted = {line.step: line for line in picture.of_role(Role.FITTED)}
    for part in picture.of_role(Role.MEASURED):
        if part.step in fitted:
            line = fitted[part.step]
            inside = (part.x >= line.x[0]) & (part.x <= line.x[-1])
            at = np.interp(part.x[inside], line.x, line.y)
            assert part.y[inside] == pytest.approx(at, rel=0.02)


def test_without_a_family_the_readings_stand_alone_with_their_names():
    tube = assessments.healthy()
    bare = replace(tube, fit=assessments.no_fit(tube.sweep, "too few"), reference=None)
    for picture in (transfer_family_picture(bare), constant_current_picture(bare)):
        assert {line.role for line in picture.series} == {Role.MEASURED}
        assert all(line.end_label for line in picture.series)


def test_a_dead_tube_has_no_constant_current_curve():
    tube = assessments.healthy()
    dead = replace(tube.sweep.readings, plate_current=np.zeros(len(tube.sweep.readings)))
    sweep = replace(tube.sweep, readings=dead)
    bare = replace(tube, sweep=sweep, fit=assessments.no_fit(sweep, "none"), reference=None)
    assert constant_current_picture(bare).series == ()


def test_passes_are_told_apart_and_their_difference_is_in_percent():
    tube = tube_of("BALCONY-05")
    both, apart = passes_pictures(tube, LIMITS)
    up, down = list(both.of_role(Role.UP_PASS)), list(both.of_role(Role.DOWN_PASS))
    assert len(up) == len(down) == both.step_count
    assert apart.x == both.x
    assert apart.y.label == "down over up (%)"
    (limit,) = apart.of_role(Role.LIMIT)
    assert set(limit.y) == {LIMITS.pass_disagreement.printed}
    readings = tube.sweep.readings
    for part in apart.of_role(Role.MEASURED):
        at = part.readings[0]
        assert readings.direction[at] > 0
        back = [
            k
            for k in np.flatnonzero(readings.direction < 0)
            if readings.plate_voltage[k] == readings.plate_voltage[at]
            and readings.grid_voltage[k] == readings.grid_voltage[at]
        ]
        want = 100 * (readings.plate_current[back[0]] / readings.plate_current[at] - 1)
        assert part.y[0] == pytest.approx(want)


@pytest.mark.parametrize(
    ("direction", "words"),
    [
        (None, "does not say"),
        (np.zeros(160), "does not say"),
        (np.ones(160), "one way only"),
    ],
)
def test_why_there_are_no_passes(direction, words):
    base = assessments.healthy()
    readings = replace(base.sweep.readings, direction=direction)
    tube = replace(base, sweep=replace(base.sweep, readings=readings))
    assert words in why_no_passes(tube)


def test_grid_current_is_explained_by_the_cause_that_the_finding_names():
    found = grid_current_pictures(tube_of("BOOTH-02"), LIMITS)
    every, shares = found.plots
    assert every.y.label == "grid current Ig (µA)"
    assert "Ig at Vg -45 V (µA)" in shares.y.label
    assert [line.label for line in shares.of_role(Role.SHARE)] == ["gas"]
    (measured,) = shares.of_role(Role.MEASURED)
    (gas,) = shares.of_role(Role.SHARE)
    assert gas.y == pytest.approx(measured.y, abs=0.03 * np.abs(measured.y).max())
    assert found.note.startswith("reverse grid current at Vp 250 V, Vg -45 V (µA): gas 47")
    assert "leakage none, grid emission none; crossed:" in found.note


def test_the_shares_add_up_to_the_sum():
    found = grid_current_pictures(tube_of("BALCONY-05"), LIMITS)
    shares = found.plots[1]
    (total,) = shares.of_role(Role.FITTED)
    parts = [line.y for line in shares.of_role(Role.SHARE)]
    assert len(parts) > 1
    left_out = 4 * 0.01 * np.abs(np.concatenate(parts)).max()  # shares too small for a line
    assert np.sum(parts, axis=0) == pytest.approx(total.y, abs=left_out)


def test_readings_that_did_not_serve_are_crossed():
    every = grid_current_pictures(tube_of("BOOTH-02"), LIMITS).plots[0]
    crossed = {line.label for line in every.of_role(Role.LEFT_OUT)}
    assert crossed == {"0 V"}  # above -1 V electrons reach the grid


def test_without_a_grid_current_the_reason_is_said():
    found = grid_current_pictures(tube_of("PIT-06"), LIMITS)
    assert found.plots == ()
    assert found.reason == "no grid current was logged"


def test_too_few_grid_currents_are_shown_but_not_told_apart():
    base = assessments.healthy()
    logged = np.full(160, np.nan)
    logged[:5] = -1e-6
    readings = replace(base.sweep.readings, grid_current=logged)
    found = grid_current_pictures(
        replace(base, sweep=replace(base.sweep, readings=readings)), LIMITS
    )
    (every,) = found.plots
    assert "too few" in found.note
    assert sum(line.x.size for line in every.series) == 5
