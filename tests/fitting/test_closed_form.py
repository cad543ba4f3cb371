"""Identity: a fitted family and the formula made of it give the same current."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.fitting import fit_sweep
from curvelab.fitting.closed_form import ClosedForm, closed_form
from curvelab.fitting.laws import LAWS
from curvelab.ingest import read_file
from curvelab.paths import sample_folder
from curvelab.sheets.netlist_elements import current_elements


@pytest.fixture(scope="module", params=["PIT-01", "PIT-03", "BALCONY-02", "FOYER-01"])
def family(request):
    (sweep,) = read_file(sample_folder() / f"{request.param}.csv").sweeps
    return fit_sweep(sweep.readings).family


def plane(family, reach=1.3):
    low, span = family.hull.origin, family.hull.span
    return np.meshgrid(
        np.linspace(0.0, reach * (low[0] + span[0]), 40),
        np.linspace(reach * low[1], low[1] + span[1], 30),
    )


def test_the_formula_is_the_family_and_beyond_the_readings_too(family):
    form = closed_form(family)
    plate, grid = plane(family)
    own = family.current(plate, grid)
    some = own > 1e-6 * own.max()
    assert form.current(plate, grid)[some] == pytest.approx(own[some], rel=1e-5)
    assert form.departure < 1e-6


def test_a_law_alone_needs_no_series(family):
    alone = replace(family, correction=None)
    form = closed_form(alone)
    plate, grid = plane(family)
    assert form.series is None
    assert form.current(plate, grid) == pytest.approx(alone.current(plate, grid), rel=1e-12)


class Bent:
    """A correction that no series of sines can follow: a step in the middle of the plane."""

    def __init__(self, like) -> None:
        self.largest_current = like.largest_current
        self.largest_plate_voltage = like.largest_plate_voltage
        self.waves = like.waves

    def log_ratio(self, law_current, plate_voltage):
        return np.where(plate_voltage > self.largest_plate_voltage / 2, 0.1, 0.0)


def test_a_departure_is_told(family):
    form = closed_form(replace(family, correction=Bent(family.correction)))
    assert form.departure > 0.005


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_every_law_has_its_lines(law):
    form = ClosedForm(law.name, dict.fromkeys(law.symbols, 1.0))
    assert current_elements(form)[-1].startswith("Bplate P K I=")
