"""Closed form: the planar diode's constant, and a power-law triode with constants by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import constants as codata

from curvelab.fitting.constants import constants_at
from curvelab.fitting.fit import fit_sweep
from curvelab.fitting.laws import THREE_HALVES
from curvelab.sweep.records import Readings

# Space-charge-limited current of a planar diode: I = P V^(3/2), P = (4/9) eps0 sqrt(2 e/m) A/d^2.
# Source: Child, Physical Review 32 (1911) 492; Langmuir, Physical Review 2 (1913) 450;
# eps0, e and m: CODATA, as scipy.constants has them.
CHILD_LANGMUIR = (
    4.0 / 9.0 * codata.epsilon_0 * math.sqrt(2.0 * codata.elementary_charge / codata.electron_mass)
)
AREA, GAP = 1.0e-4, 1.0e-3  # [m2], [m]

# A common physics-textbook exercise (source: from memory): a 6F6 connected as triode follows
# ip = 41 (vp + 7 vg)^1.41 uA; find ip, rp, gm and mu at vp = 250 V, vg = -20 V. By hand, with
# u = 250 - 140 = 110 V: ip = 41e-6 u^1.41, 1/rp = 1.41 ip / u, gm = 7 / rp, mu = 7.
AT = (250.0, -20.0)
BY_HAND = {
    "plate_current": 31.0e-3,
    "plate_resistance": 2.52e3,
    "transconductance": 2.78e-3,
    "amplification_factor": 7.0,
}


def power_law(plate_voltage: np.ndarray, grid_voltage: np.ndarray) -> np.ndarray:
    """Return the exercise's plate current [A], none below cut-off."""
    return 41e-6 * np.maximum(plate_voltage + 7.0 * grid_voltage, 0.0) ** 1.41


def sweep(noise: float) -> Readings:
    """Return a sweep of the exercise's formula; ``noise`` is a share of each current."""
    plate, grid = (
        axis.ravel()
        for axis in np.meshgrid(np.arange(0.0, 401.0, 10.0), np.arange(-40.0, 1.0, 5.0))
    )
    current = power_law(plate, grid)
    kept = current < 90e-3
    plate, grid, current = plate[kept], grid[kept], current[kept]
    draw = np.random.default_rng(6).standard_normal(current.size)
    return Readings(plate, grid, current * (1.0 + noise * draw), np.arange(current.size) + 1)


def test_child_langmuir_constant() -> None:
    assert pytest.approx(2.334e-6, rel=2e-4) == CHILD_LANGMUIR  # [A V^-3/2]


@pytest.mark.parametrize("voltage", [0.0, 1.0, 25.0, 100.0, 300.0])
def test_three_halves_law_is_a_planar_diode(voltage: float) -> None:
    """A grid at 0 V that screens nothing (mu = 1) leaves a diode."""
    perveance = CHILD_LANGMUIR * AREA / GAP**2
    internal = THREE_HALVES.internal({"G": perveance, "mu": 1.0, "Vc": 0.0})[None]
    current, by_plate, _ = THREE_HALVES.slopes(np.array([[voltage]]), np.zeros((1, 1)), internal)
    # 2.334 uA V^-3/2 on 1 cm2 at 1 mm is 233.4 uA V^-3/2: 0.2334 A at 100 V.
    expected = 233.4e-6 * voltage * math.sqrt(voltage)
    assert current[0, 0] == pytest.approx(expected, rel=2e-4)
    assert by_plate[0, 0] == pytest.approx(1.5 * 233.4e-6 * math.sqrt(voltage), rel=2e-4)


def test_exercise_by_hand_agrees_with_its_formula() -> None:
    current = 41e-6 * 110.0**1.41
    assert current == pytest.approx(BY_HAND["plate_current"], rel=2e-3)
    assert 110.0 / (1.41 * current) == pytest.approx(BY_HAND["plate_resistance"], rel=2e-3)
    assert 7.0 * 1.41 * current / 110.0 == pytest.approx(BY_HAND["transconductance"], rel=2e-3)


@pytest.mark.parametrize("noise", [0.0, 0.003])
@pytest.mark.parametrize("name", sorted(BY_HAND))
def test_fit_gives_the_exercise_constants(name: str, noise: float) -> None:
    readings = sweep(noise)
    constant = getattr(constants_at(fit_sweep(readings), readings, AT), name)
    assert constant.value == pytest.approx(BY_HAND[name], rel=0.02)
    assert constant.u95 is not None
    assert constant.u95 > 0
