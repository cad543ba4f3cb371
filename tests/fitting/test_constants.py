"""Identity: mu = gm rp, in the values and in what is left open of them."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.fitting import constants_at, fit_sweep
from curvelab.sweep import Readings

_PLATE, _GRID = (
    item.ravel() for item in np.meshgrid(np.linspace(20, 350, 30), np.linspace(-40, 0, 9))
)


def _exercise(noise: float) -> Readings:
    """Return readings of Ip = 41 (Vp + 7 Vg)^1.41 uA, a power law with a sharp cut-off."""
    current = 41e-6 * np.maximum(_PLATE + 7.0 * _GRID, 0.0) ** 1.41
    rng = np.random.default_rng(5)
    measured = current * (1.0 + noise * rng.standard_normal(current.size))
    return Readings(_PLATE, _GRID, measured, np.arange(_PLATE.size))


# Down to no noise at all, where a steep foot is a parameter that no reading touches.
@pytest.mark.parametrize("noise", [0.0, 1e-9, 1e-6, 1e-4, 3e-3])
def test_mu_is_gm_times_rp_and_no_less_certain_than_both(noise):
    readings = _exercise(noise)
    found = constants_at(fit_sweep(readings), readings, (250.0, -20.0))
    gm, rp, mu = (
        found.transconductance,
        found.plate_resistance,
        found.amplification_factor,
    )
    assert mu.value == pytest.approx(gm.value * rp.value, rel=1e-9)
    assert mu.u95 / mu.value <= 1.001 * (gm.u95 / gm.value + rp.u95 / rp.value)
