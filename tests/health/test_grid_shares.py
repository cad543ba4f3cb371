"""Identity: the shares of a grid current at many points are those at each of them."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.grid_shares import split_grid_current
from curvelab.paths import sample_folder
from curvelab.workbench.characterize import Request, characterize


@pytest.fixture(scope="module", params=["BOOTH-02", "BALCONY-02", "FOYER-02"])
def split(request):
    (tube,) = characterize(Request(paths=(sample_folder() / f"{request.param}.csv",))).assessments
    readings = tube.sweep.readings
    shares = split_grid_current(
        readings, tube.fit.used, ionisation_voltage=20.0, electron_grid_voltage=-1.0
    )
    return readings.take(shares.index), shares


def test_many_points_say_what_each_says_alone(split):
    readings, shares = split
    voltages = readings.plate_voltage, readings.grid_voltage, readings.plate_current
    parts = shares.parts_at(*voltages)
    for at in range(0, len(readings), 17):
        point = tuple(float(values[at]) for values in voltages)
        assert -parts.gas[at] == pytest.approx(shares.gas(point)[0], abs=1e-15)
        assert -parts.leakage[at] == pytest.approx(shares.leakage(point)[0], abs=1e-15)
        assert -parts.emission[at] == pytest.approx(shares.emission(point)[0], abs=1e-15)


def test_together_they_explain_the_readings(split):
    readings, shares = split
    parts = shares.parts_at(readings.plate_voltage, readings.grid_voltage, readings.plate_current)
    assert parts.together == pytest.approx(
        parts.gas + parts.leakage + parts.emission + parts.electrons
    )
    left = readings.grid_current - parts.together
    assert np.abs(left).max() < 0.05 * np.abs(readings.grid_current).max()


def test_only_electrons_flow_forward(split):
    readings, shares = split
    parts = shares.parts_at(readings.plate_voltage, readings.grid_voltage, readings.plate_current)
    assert (np.concatenate((parts.gas, parts.leakage, parts.emission)) <= 0).all()
    assert (parts.electrons >= 0).all()
