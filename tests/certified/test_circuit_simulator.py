"""Certified: an independent circuit simulator as referee of the subcircuits that are written.

ngspice (a general-purpose simulator, Debian package ngspice) evaluates its own derivatives and
solves its own circuits; it must find the currents, slopes and load lines that the program finds.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curvelab.fitting.closed_form import ClosedForm, closed_form
from curvelab.paths import sample_folder
from curvelab.sheets.netlist import netlist_text
from curvelab.sheets.netlist_elements import current_elements
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.type_library import shipped_families
from helpers.ngspice import NGSPICE, WHY_NOT, deck, simulate

pytestmark = pytest.mark.skipif(NGSPICE is None, reason=WHY_NOT)

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
# Tubes of five types, healthy and not, little corrected and much (PIT-03, whose law has an
# unlikely exponent besides); then two families read off published curves, whose sources stand in
# the files.
FILES = [
    *(
        sample_folder() / f"{name}.csv"
        for name in ("PIT-01", "PIT-03", "BALCONY-01", "BOOTH-05", "FOYER-06", "STAGE-01")
    ),
    OUTSIDE / "D1-6SN7GT-triode.csv",
    OUTSIDE / "C1-12AX7-triode.csv",
]
TYPES = ["12AX7", "6SN7GTB", "2A3", "6AS7G", "845"]
CURRENT, SLOPE = 0.005, 0.01  # what was asked for, of the program's own
# A circuit simulator stops within a thousandth of a current unless it is told otherwise.
EXACT = "option reltol=1e-7"
FEW = 1e-4  # of the largest current; below it the amount is compared, not the ratio
NOTHING = 1e-6


@pytest.fixture(scope="module", params=FILES, ids=lambda path: path.stem)
def tube(request):
    (found,) = characterize(Request(paths=(request.param,))).assessments
    return found


def subcircuit(tube) -> str:
    return netlist_text(tube, name="tube", made_with="a test")


def plane(tube) -> tuple[np.ndarray, np.ndarray]:
    """Return plate and grid volts over and a little beyond what was swept, far into cut-off."""
    low, span = tube.fit.hull.origin, tube.fit.hull.span
    return (
        np.linspace(0.0, 1.1 * (low[0] + span[0]), 23),
        np.linspace(1.2 * low[1], min(0.0, low[1] + span[1]), 13),
    )


def stepped(name: str, values: np.ndarray) -> str:
    step = values[1] - values[0]  # a little beyond the end, which rounding must not lose
    return f"{name} {values[0]:.12g} {values[-1] + step / 100:.12g} {step:.12g}"


def simulated_family(folder, text, plate, grid, option=""):
    """Return plate volts, grid volts and plate current of every point of a plane."""
    circuit = ["Vp p 0 0", "Vg g 0 0", "Xv p g 0 tube"]
    sweep = f"dc {stepped('Vp', plate)} {stepped('Vg', grid)}"
    steps = [*([option] if option else []), sweep, "wrdata family v(p) v(g) i(Vp)"]
    (table,) = simulate(folder, deck(text, circuit, steps))
    assert len(table) == plate.size * grid.size
    return table[:, 1], table[:, 3], -table[:, 5]


def assert_same_currents(found, own):
    flowing = own > FEW * own.max()
    assert np.abs(found[flowing] / own[flowing] - 1).max() < CURRENT
    assert np.abs(found[~flowing] - own[~flowing]).max() < NOTHING * own.max()


def test_the_plate_family_is_the_programs_own(tube, tmp_path):
    plate, grid, found = simulated_family(tmp_path, subcircuit(tube), *plane(tube))
    own = tube.fit.family.current(plate, grid)
    assert (own < FEW * own.max()).any()  # cut-off is looked at
    assert_same_currents(found, own)


def test_the_current_rises_with_both_voltages(tube, tmp_path):
    plate, grid = plane(tube)
    family = simulated_family(tmp_path, subcircuit(tube), plate, grid, EXACT)
    volts, bias, current = (part.reshape(grid.size, plate.size) for part in family)
    covered = tube.fit.family.covers(volts, bias)
    some = current > FEW * current.max()
    for axis in (0, 1):
        rises = np.diff(current, axis=axis)
        ends = [slice(1, None), slice(None)] if axis == 0 else [slice(None), slice(1, None)]
        assert (rises[(covered & some)[tuple(ends)]] > 0).all()


@pytest.mark.parametrize("share", [0.05, 0.3, 0.9])
def test_transconductance_and_plate_resistance_by_differences(tube, tmp_path, share):
    family, hull = tube.fit.family, tube.fit.hull
    plate = float(hull.origin[0] + 0.6 * hull.span[0])
    bias = np.linspace(hull.origin[1], hull.origin[1] + hull.span[1], 400)
    along = family.current(np.full(bias.size, plate), bias)
    covered = family.covers(np.full(bias.size, plate), bias)
    grid = float(bias[covered][np.argmin(np.abs(along - share * along[covered].max())[covered])])
    step, wide = 1e-3 * hull.span[1], 1e-3 * hull.span[0]
    nearby = np.array([-1.0, 0.0, 1.0])
    _, _, current = simulated_family(
        tmp_path, subcircuit(tube), plate + wide * nearby, grid + step * nearby, EXACT
    )
    square = current.reshape(3, 3)  # grid step by plate step
    by_grid = (square[2, 1] - square[0, 1]) / (2 * step)
    by_plate = (square[1, 2] - square[1, 0]) / (2 * wide)
    own_by_plate, own_by_grid = family.slopes(np.array([plate]), np.array([grid]))
    assert by_grid == pytest.approx(own_by_grid[0], rel=SLOPE)
    assert 1 / by_plate == pytest.approx(1 / own_by_plate[0], rel=SLOPE)


def test_a_stage_with_a_load_resistor_settles_from_nothing_and_over_the_whole_swing(tube, tmp_path):
    family, hull = tube.fit.family, tube.fit.hull
    supply = 1.2 * float(hull.origin[0] + hull.span[0])
    load = 0.6 * supply / float(family.current(np.array([supply / 2]), np.array([0.0]))[0])
    grid = np.linspace(1.3 * hull.origin[1], 0.0, 61)
    circuit = [f"Vbb b 0 {supply}", f"Rp b p {load}", "Vg g 0 0", "Xv p g 0 tube"]
    steps = ["op", "wrdata cold v(p)", f"dc {stepped('Vg', grid)}", "wrdata swing v(p) v(g)"]
    cold, swing = simulate(tmp_path, deck(subcircuit(tube), circuit, steps))
    assert len(swing) == grid.size
    own = on_load_line(family, supply, load, swing[:, 3])
    found = (supply - swing[:, 1]) / load
    assert np.abs(found - own).max() < CURRENT * own.max()
    assert cold[0, 1] == pytest.approx(supply - load * own[-1], rel=CURRENT)


def on_load_line(family, supply: float, load: float, grid: np.ndarray) -> np.ndarray:
    """Return the current where the family meets the load line, by bisection."""
    low, high = np.zeros(grid.size), np.full(grid.size, supply)
    for _ in range(60):
        middle = (low + high) / 2
        above = family.current(middle, grid) > (supply - middle) / load
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return (supply - high) / load


@pytest.mark.parametrize("name", TYPES)
def test_the_family_of_a_type_is_the_programs_own(tmp_path, name):
    family = shipped_families().families[name]
    form = ClosedForm(family.law, family.parameters)
    if family.followed is not None:  # published curves lead: the law has a correction
        form = closed_form(family.followed)
    text = "\n".join([".subckt tube P G K", *current_elements(form), ".ends tube"])
    most = family.region.most_voltage
    by_plate, by_grid = family.slopes(np.array([most]), np.array([0.0]))
    cutoff = most * float(by_plate[0] / by_grid[0])
    plate, grid, found = simulated_family(
        tmp_path, text, np.linspace(0.0, 1.2 * most, 25), np.linspace(-1.6 * cutoff, 0.0, 9)
    )
    assert_same_currents(found, family.current(plate, grid))


def test_the_three_halves_law_is_the_published_one(tmp_path):
    # Child 1911, Langmuir 1913: Ip = G (Vg + Vp/mu + Vc)^(3/2), none below cut-off.
    form = ClosedForm("three-halves", {"G": 1e-3, "mu": 20.0, "Vc": -0.4})
    text = "\n".join([".subckt tube P G K", *current_elements(form), ".ends tube"])
    plate, grid, found = simulated_family(
        tmp_path, text, np.linspace(0.0, 300.0, 31), np.linspace(-12.0, 0.0, 7), EXACT
    )
    drive = np.maximum(grid + plate / 20.0 - 0.4, 0.0)
    assert found == pytest.approx(1e-3 * drive**1.5, rel=CURRENT, abs=1e-6)


def test_two_tubes_in_one_circuit_keep_their_own_laws(tmp_path):
    forms = {
        "tube_a": ClosedForm("three-halves", {"G": 1e-3, "mu": 20.0, "Vc": 0.0}),
        "tube_b": ClosedForm("softplus", {"G": 2e-3, "mu": 5.0, "gamma": 1.4, "C": 3.0}),
    }
    text = "\n".join(
        line
        for name, form in forms.items()
        for line in (f".subckt {name} P G K", *current_elements(form), f".ends {name}")
    )
    circuit = ["Va a 0 100", "Vb b 0 100", "Xa a 0 0 tube_a", "Xb b 0 0 tube_b"]
    (found,) = simulate(tmp_path, deck(text, circuit, [EXACT, "op", "wrdata op i(Va) i(Vb)"]))
    own = [float(form.current(np.array([100.0]), np.array([0.0]))[0]) for form in forms.values()]
    assert [-found[0, 1], -found[0, 3]] == pytest.approx(own, rel=1e-4)
