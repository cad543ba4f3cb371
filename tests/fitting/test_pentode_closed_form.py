"""Identity: a fitted family with a screen grid and the formulas made of it give one current."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting import fit_pentodes
from curvelab.fitting.pentode_closed_form import pentode_closed_form
from simulator.pentode import plan_for, random_pentode, run_pentode_sweep


@pytest.fixture(scope="module", params=[False, True], ids=["pentode", "beam"])
def family(request):
    own = random_pentode(np.random.default_rng(3), beam=request.param)
    readings = run_pentode_sweep(own, plan_for(own), np.random.default_rng(4))
    return fit_pentodes([readings])[0].family


def volts():
    return np.meshgrid(np.linspace(1.0, 450.0, 40), np.linspace(-25.0, 0.5, 30))


@pytest.mark.parametrize("screen", [90.0, 250.0, 300.0])
def test_the_formulas_are_the_family_at_any_screen_voltage(family, screen):
    form, there = pentode_closed_form(family), family.at_screen(screen)
    plate, grid = volts()
    of_plate, of_screen = form.currents(plate, grid, np.full(plate.shape, screen))
    for found, own in (
        (of_plate, there.current(plate, grid)),
        (of_screen, there.screen_current(plate, grid)),
    ):
        some = own > 1e-6 * own.max()
        assert found[some] == pytest.approx(own[some], rel=1e-4)
    assert form.departure < 1e-4


def test_a_law_alone_needs_no_series(family):
    alone = replace(family, correction=None)
    form = pentode_closed_form(alone)
    plate, grid = volts()
    assert form.series is None
    found, _ = form.currents(plate, grid, np.array(alone.screen_voltage))
    assert found == pytest.approx(alone.current(plate, grid), rel=1e-10)
