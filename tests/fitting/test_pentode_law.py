"""Closed form and identity: the law of a tube with a screen grid, its derivatives, its degree."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.fitting.conversion import CONTACT_OFFSET, convert
from curvelab.fitting.pentode_law import PENTODE

_PARAMETERS = {
    "G": 3.7e-5,
    "mu": 20.0,
    "D": 0.037,
    "x": 1.4,
    "K": 7.0,
    "Vc": 0.3,
    "n": 1.2,
    "y0": 0.05,
    "m": 0.2,
    "r": 0.11,
}


def _volts():
    rng = np.random.default_rng(4)
    plate, grid, screen = rng.uniform((5, -20, 60), (450, 0, 350), (50, 3)).T[:, None, :]
    return plate, grid, screen


def test_the_jacobian_is_that_of_differences():
    volts, internal, step = _volts(), PENTODE.internal(_PARAMETERS)[None], 1e-6
    found = PENTODE.evaluate(*volts, internal)
    for place in range(internal.shape[1]):
        shift = np.zeros(internal.shape[1])
        shift[place] = step
        up, down = (PENTODE.evaluate(*volts, internal + sign * shift) for sign in (1, -1))
        for rise, exact in (
            (up.plate - down.plate, found.plate_jacobian),
            (up.screen - down.screen, found.screen_jacobian),
        ):
            assert exact[..., place] == pytest.approx(
                rise / (2 * step), rel=1e-5, abs=1e-8 * found.plate.max()
            )


@pytest.mark.parametrize("electrode", [0, 1, 2])
def test_the_slopes_are_those_of_differences(electrode):
    volts, internal, step = _volts(), PENTODE.internal(_PARAMETERS)[None], 1e-4
    found = PENTODE.slopes(*volts, internal)
    moved = [list(volts), list(volts)]
    moved[0][electrode] = volts[electrode] + step
    moved[1][electrode] = volts[electrode] - step
    up, down = (PENTODE.evaluate(*item, internal) for item in moved)
    exact = (found.plate_by_plate, found.plate_by_grid, found.plate_by_screen)[electrode]
    assert exact == pytest.approx((np.log(up.plate) - np.log(down.plate)) / (2 * step), rel=1e-5)
    whole = np.log(up.plate + up.screen) - np.log(down.plate + down.screen)
    if electrode < 2:
        exact = (found.cathode_by_plate, found.cathode_by_grid)[electrode]
        assert exact == pytest.approx(whole / (2 * step), rel=1e-4, abs=1e-9)


def test_plate_and_screen_share_the_cathode_current():
    volts, internal = _volts(), PENTODE.internal(_PARAMETERS)[None]
    found, slopes = PENTODE.evaluate(*volts, internal), PENTODE.slopes(*volts, internal)
    assert (found.plate > 0).all()
    assert (found.screen > 0).all()
    assert found.plate + found.screen == pytest.approx(slopes.cathode)


def test_all_volts_n_times_as_high_make_the_three_halves_power_of_n():
    # Child 1911, Langmuir 1913: the similarity law behind the conversion factors of handbooks.
    (plate, grid, screen), internal = _volts(), PENTODE.internal(_PARAMETERS)[None]
    offset = _PARAMETERS["Vc"]
    here = PENTODE.evaluate(plate, grid, screen, internal)
    for times in (0.4, 1.7):
        there = PENTODE.evaluate(
            times * plate, times * (grid + offset) - offset, times * screen, internal
        )
        assert there.plate == pytest.approx(times**1.5 * here.plate)
        assert there.screen == pytest.approx(times**1.5 * here.screen)


def test_euler_gives_the_slope_against_the_screen():
    (plate, grid, screen), internal = _volts(), PENTODE.internal(_PARAMETERS)[None]
    at = PENTODE.slopes(plate, grid, screen, internal)
    total = (
        plate * at.plate_by_plate
        + (grid + _PARAMETERS["Vc"]) * at.plate_by_grid
        + screen * at.plate_by_screen
    )
    assert total == pytest.approx(1.5)


def test_far_below_cut_off_nothing_overflows():
    volts = (np.array([[0.0, 300.0]]), np.array([[-400.0, -400.0]]), np.array([[1.0, 300.0]]))
    found = PENTODE.evaluate(*volts, PENTODE.internal(_PARAMETERS)[None])
    assert np.isfinite(found.plate_jacobian).all()
    assert found.plate.max() < 1e-9


def test_conversion_there_and_back_is_the_same_reading():
    plate, grid, current = np.array([300.0]), np.array([-12.0]), np.array([0.05])
    there = convert(plate, grid, current, np.array([250.0]), 100.0)
    back = convert(
        there.plate_voltage, there.grid_voltage, there.plate_current, np.array([100.0]), 250.0
    )
    assert there.plate_voltage == pytest.approx(120.0)
    assert there.grid_voltage == pytest.approx(0.4 * (-12.0 + CONTACT_OFFSET) - CONTACT_OFFSET)
    assert (back.plate_voltage, back.grid_voltage) == pytest.approx((300.0, -12.0))
    assert back.plate_current == pytest.approx(0.05)
