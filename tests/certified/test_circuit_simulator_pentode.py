"""Certified: an independent circuit simulator as referee of subcircuits with a screen grid.

See `test_circuit_simulator`: ngspice must find the currents, slopes and load lines that the
program finds. Two families are read off published curves, whose sources stand in the files; the
third is a simulated tube, by a law that is not the fit's, at three screen voltages with the
screen's current read.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.sheets.netlist import netlist_text
from curvelab.workbench.characterize import Request, characterize
from helpers.ngspice import NGSPICE, WHY_NOT, deck, simulate
from simulator.pentode import plan_for, random_pentode, run_pentode_sweep

pytestmark = pytest.mark.skipif(NGSPICE is None, reason=WHY_NOT)

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
CURRENT, SLOPE = 0.005, 0.01  # as for triodes
EXACT = "option reltol=1e-7"
FEW = 1e-4  # of the largest current; below it the amount is compared, not the ratio
SCREENS = (125.0, 210.0, 250.0)


@pytest.fixture(scope="module", params=["C4-EL84-pentode", "D4-6V6-tetrode", "metered"])
def tube(request, tmp_path_factory):
    path = OUTSIDE / f"{request.param}.csv"
    if request.param == "metered":
        path = metered(tmp_path_factory.mktemp("sweep") / "metered.csv")
    (found,) = characterize(Request(paths=(path,))).assessments
    return found


def metered(path: Path) -> Path:
    own = random_pentode(np.random.default_rng(5))
    plan = replace(plan_for(own, screens=(200.0, 225.0, 250.0)), screen_metered=True)
    read = run_pentode_sweep(own, plan, np.random.default_rng(6))
    columns = (
        read.plate_voltage,
        read.grid_voltage,
        read.screen_voltage,
        1e3 * read.plate_current,
        1e3 * read.screen_current,
    )
    rows = [",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True)]
    head = ["# connection: pentode", "plate_v,grid_v,screen_v,plate_ma,screen_ma"]
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    return path


def simulated(folder, tube, plate, grid, screen, option=""):
    """Return the points of a plane with plate and screen current, at one screen voltage."""
    text = netlist_text(tube, name="tube", made_with="a test")
    circuit = ["Vp p 0 0", "Vg g 0 0", f"Vs s 0 {screen:.12g}", "Xv p s g 0 tube"]
    span = [
        f"{v[0]:.12g} {v[-1] + (v[1] - v[0]) / 100:.12g} {v[1] - v[0]:.12g}" for v in (plate, grid)
    ]
    steps = [
        *([option] if option else []),
        f"dc Vp {span[0]} Vg {span[1]}",
        "wrdata family v(p) v(g) i(Vp) i(Vs)",
    ]
    (table,) = simulate(folder, deck(text, circuit, steps))
    assert len(table) == plate.size * grid.size
    return table[:, 1], table[:, 3], -table[:, 5], -table[:, 7]


def plane(tube, screen):
    family = tube.fit.family
    low, span = (family.at_screen(screen).hull.origin, family.at_screen(screen).hull.span)
    return (
        np.linspace(0.0, 1.1 * (low[0] + span[0]), 23),
        np.linspace(2.0 * low[1], min(0.0, low[1] + span[1]), 13),
    )


@pytest.mark.parametrize("screen", SCREENS)
def test_both_currents_are_the_programs_own_at_any_screen_voltage(tube, tmp_path, screen):
    plate, grid, of_plate, of_screen = simulated(tmp_path, tube, *plane(tube, screen), screen)
    family = tube.fit.family.at_screen(screen)
    for found, own in (
        (of_plate, family.current(plate, grid)),
        (of_screen, family.screen_current(plate, grid)),
    ):
        standing = plate > 0.0  # the program's own plate stands a millivolt high at least
        flowing = standing & (own > FEW * own.max())
        faint = standing & ~flowing
        assert flowing.any()
        assert faint.any()
        assert np.abs(found[flowing] / own[flowing] - 1).max() < CURRENT
        assert np.abs(found[faint] - own[faint]).max() < FEW * own.max()
    assert not of_plate[plate == 0.0].any()


@pytest.mark.parametrize("share", [0.05, 0.3, 0.9])
def test_slopes_by_differences(tube, tmp_path, share):
    screen = tube.fit.family.reference_screen
    family, hull = tube.fit.family.at_screen(screen), tube.fit.family.at_screen(screen).hull
    plate = float(hull.origin[0] + 0.6 * hull.span[0])
    bias = np.linspace(hull.origin[1], hull.origin[1] + hull.span[1], 400)
    along = family.current(np.full(bias.size, plate), bias)
    covered = family.covers(np.full(bias.size, plate), bias)
    grid = float(bias[covered][np.argmin(np.abs(along - share * along[covered].max())[covered])])
    step, wide = 1e-3 * hull.span[1], 1e-2 * hull.span[0]
    nearby = np.array([-1.0, 0.0, 1.0])
    _, _, current, _ = simulated(
        tmp_path, tube, plate + wide * nearby, grid + step * nearby, screen, EXACT
    )
    square = current.reshape(3, 3)  # grid step by plate step
    by_plate, by_grid = (
        float(item[0]) for item in family.slopes(np.array([plate]), np.array([grid]))
    )
    assert (square[2, 1] - square[0, 1]) / (2 * step) == pytest.approx(by_grid, rel=SLOPE)
    # A plateau's slight slope: the same difference of the program's own family.
    low, high = (family.current(np.array([plate + k * wide]), np.array([grid]))[0] for k in (-1, 1))
    assert square[1, 2] - square[1, 0] == pytest.approx(high - low, rel=SLOPE)
    assert by_plate == pytest.approx((high - low) / (2 * wide), rel=0.05)


def test_a_stage_with_its_screen_resistor_and_cathode_resistor_settles_from_nothing(tube, tmp_path):
    family = tube.fit.family
    screen = family.reference_screen
    text = netlist_text(tube, name="tube", made_with="a test")
    circuit = [
        f"Vbb b 0 {1.2 * screen}",
        "Rp b p 2k",
        "Rs b s 4.7k",
        "Rk k 0 220",
        "Vg g 0 0",
        "Xv p s g k tube",
    ]
    (cold,) = simulate(tmp_path, deck(text, circuit, [EXACT, "op", "wrdata cold v(p) v(s) v(k)"]))
    plate, at_screen, cathode = cold[0, 1], cold[0, 3], cold[0, 5]
    of_plate, of_screen = (1.2 * screen - plate) / 2e3, (1.2 * screen - at_screen) / 4.7e3
    assert cathode == pytest.approx((of_plate + of_screen) * 220, rel=1e-4)
    there = family.at_screen(at_screen - cathode)
    volts, bias = np.array([plate - cathode]), np.array([-cathode])
    assert of_plate == pytest.approx(float(there.current(volts, bias)[0]), rel=CURRENT)
    assert of_screen == pytest.approx(float(there.screen_current(volts, bias)[0]), rel=CURRENT)


def test_no_screen_voltage_lets_nothing_flow(tube, tmp_path):
    plate, grid = np.linspace(0.0, 300.0, 7), np.linspace(-10.0, 0.0, 5)
    for screen in (0.0, -20.0):
        *_, of_plate, of_screen = simulated(tmp_path, tube, plate, grid, screen)
        assert np.abs(of_plate).max() < 1e-7
        assert np.abs(of_screen).max() < 1e-7
