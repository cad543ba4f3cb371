"""Published: curve readings and tables of tubes with a screen grid through the fitting core.

Sources stand in the head of each file of ``tests/data/outside``; the values of the tables are
typed in below with theirs. A sheet's own curve and table differ by up to 10 %: averages drawn
by hand.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.assessment.prediction import predict
from curvelab.fitting import constants_at, fit_pentodes, local_constants_at
from curvelab.ingest import read_file
from curvelab.stage.load_line import fixed_bias_point
from curvelab.stage.single_ended import single_ended
from curvelab.sweep.bench import UNSTATED_BENCH

_DATA = Path(__file__).parents[1] / "data" / "outside"
_SCREEN = 250.0
_EL84, _6V6 = "C4-EL84-pentode.csv", "D4-6V6-tetrode.csv"


def _fit(name):
    sweep = read_file(_DATA / name).sweeps[0]
    readings = replace(sweep.readings, screen_voltage=np.full(len(sweep.readings), _SCREEN))
    assert sweep.conditions.screen_voltage == _SCREEN
    return readings, fit_pentodes([readings])[0]


@pytest.fixture(scope="module")
def fits():
    return {name: _fit(name) for name in (_EL84, _6V6)}


def test_el84_curves_are_followed_to_their_accuracy(fits):
    # 3 % or 1 mA, as the file states for its source.
    readings, fit = fits[_EL84]
    accuracy = np.maximum(0.03 * readings.plate_current, 1e-3)
    ratio = np.abs(fit.residual) / accuracy
    assert fit.used.all()
    assert np.sqrt(np.mean(ratio**2)) < 0.4
    assert ratio.max() < 1.1


def test_6v6_curves_are_followed_through_the_dip_to_their_accuracy(fits):
    # 0.3 mA and 2 V, as the file states: 2 V make up to 1 mA below the knee.
    readings, fit = fits[_6V6]
    by_plate, _ = fit.family.slopes(readings.plate_voltage, readings.grid_voltage)
    accuracy = np.hypot(0.3e-3, 2.0 * by_plate)
    ratio = np.abs(fit.residual) / accuracy
    assert fit.used.all()
    assert np.sqrt(np.mean(ratio**2)) < 0.6
    assert ratio.max() < 1.6
    # The sheet draws plate current falling as the plate rises, at -20 V from 50 to 70 V.
    assert fit.family.slopes(np.array([60.0]), np.array([-20.0]))[0][0] < 0


# file, (Vp, Vg), Ip [mA], gm [mA/V], rp [kohm], mu of grid 1 to screen.
_POINTS = [
    # Philips EL84 data sheets 1-6 (1953-11 / 1955-03 / 1957-10)
    (_EL84, (250.0, -7.3), 48.0, 11.3, 38.0, 19.0),
    (_EL84, (250.0, -8.4), 36.0, 10.0, 40.0, 19.0),
    # Tung-Sol 6V6, 6V6GT/G data sheet, June 6, 1941; rp is printed as approximate, mu not at all
    (_6V6, (250.0, -12.5), 45.0, 4.1, 52.0, None),
]


@pytest.mark.parametrize(("name", "at", "ip", "gm", "rp", "mu"), _POINTS)
def test_constants_agree_with_the_handbook(fits, name, at, ip, gm, rp, mu):
    readings, fit = fits[name]
    found = constants_at(fit, readings, at, _SCREEN)
    assert found.plate_current.value == pytest.approx(ip * 1e-3, rel=0.04)
    assert found.transconductance.value == pytest.approx(gm * 1e-3, rel=0.10)
    assert abs(found.plate_resistance.value - rp * 1e3) < found.plate_resistance.u95
    if mu is not None:
        assert found.amplification_factor.value == pytest.approx(mu, rel=0.10)
        assert abs(found.amplification_factor.value - mu) < found.amplification_factor.u95
    local = local_constants_at(fit, readings, at, _SCREEN)
    assert local.plate_current.value == pytest.approx(ip * 1e-3, rel=0.04)
    assert local.transconductance.value == pytest.approx(gm * 1e-3, rel=0.10)


# (Vp, Vg, Vs), Ip [mA]: published at other screen voltages than the curves that are fitted.
@pytest.mark.parametrize(
    ("name", "at", "ip"),
    [
        # Philips EL84 data sheets 1-6
        (_EL84, (250.0, -6.4, 210.0), 36.0),
        # Tung-Sol 6V6, 6V6GT/G data sheet, June 6, 1941
        (_6V6, (180.0, -8.5, 180.0), 29.0),
        (_6V6, (315.0, -13.0, 225.0), 34.0),
    ],
)
def test_operating_points_at_other_screen_voltages_are_predicted(fits, name, at, ip):
    family = fits[name][1].family.at_screen(at[2])
    plate, grid = np.array([at[0]]), np.array([at[1]])
    assert float(family.current(plate, grid)[0]) == pytest.approx(ip * 1e-3, rel=0.04)
    assert not bool(family.covers(plate, grid)[0])


def test_what_carrying_to_another_screen_voltage_leaves_open_holds_the_published_currents(fits):
    # The tables are of the same sheets as above; page D of the EL84's is its triode connection,
    # the screen at the plate's volts. The current there includes the screen's, whose share is
    # printed as 5.5 mA of 48 at 250 V. Read off to 3 % or 1 mA, as its file states.
    _, fit = fits[_EL84]
    triode = read_file(_DATA / "C3-EL84-triode.csv").sweeps[0].readings
    drawn = np.column_stack([triode.plate_voltage, triode.grid_voltage, triode.plate_current])
    among = 0
    for plate, grid, current in drawn.tolist():
        found = predict(fit, (plate, grid, plate), UNSTATED_BENCH)
        if found.u95 is None:
            continue
        among += 1
        own = current / (1.0 + 5.5 / 48.0)
        reading = max(0.03 * own, 1e-3)
        assert abs(found.plate_current - own) < np.hypot(found.u95, reading), (plate, grid)
        assert found.u95 < 0.55 * found.plate_current
    assert among >= 20


@pytest.mark.parametrize(
    ("name", "at", "ip"),
    [
        (_EL84, (250.0, -6.4, 210.0), 36.0),
        (_6V6, (180.0, -8.5, 180.0), 29.0),
        (_6V6, (315.0, -13.0, 225.0), 34.0),
    ],
)
def test_a_prediction_states_its_uncertainty_or_that_nobody_knows(fits, name, at, ip):
    found = predict(fits[name][1], at, UNSTATED_BENCH)
    assert found.extrapolated
    if found.u95 is not None:
        assert abs(found.plate_current - ip * 1e-3) < found.u95
        assert found.u95 < 0.12 * found.plate_current


def test_the_column_of_the_6v6gt_at_a_low_screen_is_no_law_s_and_no_uncertainty_is_claimed(fits):
    # AWV Radiotron 6V6-GT data sheet 1, December 1944: 250 V, -5 V, screen 100 V: 17.5 mA. At two
    # and a half times all volts that would be 69 mA at 625 V, which the curves do not reach; by
    # the three-halves power they give a quarter less, as does the same sheet's own 250 V column.
    found = predict(fits[_6V6][1], (250.0, -5.0, 100.0), UNSTATED_BENCH)
    assert found.plate_current == pytest.approx(17.5e-3, rel=0.25)
    assert found.plate_current != pytest.approx(17.5e-3, rel=0.20)
    assert found.extrapolated
    assert found.u95 is None


def test_a_class_a_stage_gives_the_printed_power(fits):
    # Tung-Sol 6V6, 6V6GT/G data sheet, June 6, 1941: 250 V, -12.5 V, 12.5 V peak into 5000 ohm
    # give 4.5 W at 8 % distortion; on the sheet's own curves it is somewhat less of both.
    family = fits[_6V6][1].family
    rest = fixed_bias_point(family, 250.0, -12.5)
    stage = single_ended(family, rest, 5000.0, 12.5)
    assert stage.output_power == pytest.approx(4.5, rel=0.15)
    assert stage.distortion == pytest.approx(0.08, abs=0.03)
    assert not stage.extrapolated


def test_the_triode_connection_follows_from_the_pentode_curves(fits):
    # Page D of the EL84 sheets is the triode connection: the screen stands at the plate's volts,
    # and the current includes the screen's, whose share at 250 V is printed as 5.5 mA of 48.
    triode = read_file(_DATA / "C3-EL84-triode.csv").sweeps[0].readings
    family, with_screen = fits[_EL84][1].family, 1.0 + 5.5 / 48.0
    strong = (triode.plate_current > 20e-3) & (triode.plate_voltage >= 100.0)
    predicted = np.array(
        [
            with_screen
            * float(family.at_screen(plate).current(np.array([plate]), np.array([grid]))[0])
            for plate, grid in zip(
                triode.plate_voltage[strong], triode.grid_voltage[strong], strict=True
            )
        ]
    )
    error = predicted / triode.plate_current[strong] - 1.0
    assert error.size >= 28
    assert np.sqrt(np.mean(error**2)) < 0.035
    # One reading toward cut-off, 30 mA at 300 V and -12.5 V, is missed by 12 %.
    assert np.sort(np.abs(error))[-2] < 0.10
