"""Published: curve readings of handbooks and a textbook family through the fitting core.

Sources stand in the head of each file of ``tests/data/outside``; the published values
compared with are typed in below with theirs. They are averages drawn by hand.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curvelab.fitting import constants_at, fit_sweep, local_constants_at
from curvelab.fitting.constants import with_local
from curvelab.ingest import read_file

_DATA = Path(__file__).parents[1] / "data" / "outside"

# file, (Vp, Vg), Ip [mA], gm [mA/V], rp [kohm], mu: from the type's handbook table.
_POINTS = [
    # RCA 12AX7-A tube handbook sheets DATA 1 / DATA 2, 10-60
    ("C1-12AX7-triode.csv", (250.0, -2.0), 1.2, 1.6, 62.5, 100.0),
    # Philips ECC82 data sheets 1-4, A, B (1954-11 / 1955-06 / 1959-06)
    ("C5-12AU7-triode.csv", (250.0, -8.5), 10.5, 2.2, 7.7, 17.0),
    # RCA Receiving Tube Manual RC-30, from memory
    ("C6-6SL7GT-triode.csv", (250.0, -2.0), 2.3, 1.6, 44.0, 70.0),
    # Tung-Sol 6SN7GT data sheet, plates 1584 / 1585 / 1586, July 31, 1945. The sheet's own
    # curve and table differ by 7 %.
    ("D1-6SN7GT-triode.csv", (250.0, -8.0), 9.0, 2.6, 7.7, 20.0),
]


def _fit(name):
    sweep = read_file(_DATA / name).sweeps[0]
    return sweep.readings, fit_sweep(sweep.readings)


@pytest.mark.parametrize(("name", "at", "ip", "gm", "rp", "mu"), _POINTS)
def test_constants_agree_with_the_handbook(name, at, ip, gm, rp, mu):
    readings, fit = _fit(name)
    found = constants_at(fit, readings, at)
    for constant, published in (
        (found.plate_current, ip * 1e-3),
        (found.transconductance, gm * 1e-3),
        (found.plate_resistance, rp * 1e3),
        (found.amplification_factor, mu),
    ):
        # Within the tenth by which a sheet's curve and table differ.
        assert constant.u95 is not None
        assert constant.u95 < 0.15 * constant.value
        assert constant.value == pytest.approx(published, rel=0.10)


# A curve read off paper is good to 5 % or 0.2 mA on small triodes, 3 % or 1 mA on an EL84
# (the files' own statements). Root mean square, in units of that accuracy.
@pytest.mark.parametrize(
    ("name", "relative", "floor"),
    [
        ("C1-12AX7-triode.csv", 0.05, 0.2e-3),
        ("C5-12AU7-triode.csv", 0.05, 0.2e-3),
        ("C6-6SL7GT-triode.csv", 0.05, 0.2e-3),
        ("D1-6SN7GT-triode.csv", 0.05, 0.2e-3),
        ("C3-EL84-triode.csv", 0.03, 1.0e-3),
    ],
)
def test_the_family_follows_the_readings_to_their_accuracy(name, relative, floor):
    readings, fit = _fit(name)
    accuracy = np.maximum(relative * readings.plate_current, floor)
    assert np.sqrt(np.mean((fit.residual / accuracy) ** 2)) < 1.0


@pytest.mark.parametrize("name", [name for name, *_ in _POINTS] + ["C3-EL84-triode.csv"])
def test_no_slope_turns_negative_where_current_flows(name):
    _, fit = _fit(name)
    low, span = fit.hull.origin, fit.hull.span
    plate, grid = np.meshgrid(
        low[0] + span[0] * np.linspace(0, 1, 60), low[1] + span[1] * np.linspace(0, 1, 50)
    )
    by_plate, by_grid = fit.family.slopes(plate, grid)
    current = fit.family.current(plate, grid)
    flowing = fit.family.covers(plate, grid) & (current > 0.03 * current.max())
    assert (by_plate[flowing] > 0).all()
    assert (by_grid[flowing] > 0).all()


def test_a_textbook_family_by_graphical_differences():
    # Bhargava, Kulshreshtha and Gupta, Basic Electronics and Linear Circuits, ch. 6, Example
    # 6.2 (p. 202): near 150 V, -1 V rp = 6.06 kohm, gm = 7.1 mS, mu = 43.
    readings, fit = _fit("textbook-family.csv")
    at = (150.0, -1.0)
    local = local_constants_at(fit, readings, at)
    given = with_local(fit, readings, constants_at(fit, readings, at), local)
    for found in (local, given):
        assert found.transconductance.value == pytest.approx(7.1e-3, rel=0.15)
        assert found.plate_resistance.value == pytest.approx(6.06e3, rel=0.15)
        assert found.amplification_factor.value == pytest.approx(43.0, rel=0.15)
        assert found.transconductance.u95 > 0.05 * found.transconductance.value
    assert given.transconductance.u95 > abs(given.transconductance.value - 7.1e-3)
