"""Closed form and identity: harmonics from five points, against a Fourier transform."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.stage import five_point

SIGNAL = np.array([1.0, 0.5, 0.0, -0.5, -1.0])
ANGLE = np.arange(64) * 2 * np.pi / 64


def by_transform(current: np.ndarray) -> np.ndarray:
    """Return mean and amplitudes of a sampled wave."""
    lines = np.fft.rfft(current) / current.size
    return np.concatenate([lines[:1].real, 2 * lines[1:].real])


@pytest.mark.parametrize("seed", range(5))
def test_a_current_of_the_fourth_power_is_taken_apart_exactly(seed):
    powers = np.random.default_rng(seed).normal(size=5)
    found = five_point(np.polynomial.polynomial.polyval(SIGNAL, powers))
    wave = by_transform(np.polynomial.polynomial.polyval(np.cos(ANGLE), powers))
    assert found.shift == pytest.approx(wave[0] - powers[0])
    mine = (found.first, found.second, found.third, found.fourth)
    assert mine == pytest.approx(wave[1:5])


def test_a_square_law_has_a_second_harmonic_alone():
    # cos^2 a = (1 + cos 2a) / 2, so (1 + cos a / 2)^2 has 1/8 of second over 1 of first.
    found = five_point((1 + SIGNAL / 2) ** 2)
    assert found.second / found.first == pytest.approx(1 / 8)
    assert (found.third, found.fourth) == pytest.approx((0.0, 0.0), abs=1e-15)
    assert found.shift == pytest.approx(1 / 8)


def test_a_three_halves_law_is_near_enough():
    drive = 1 + 0.9 * SIGNAL
    found = five_point(drive**1.5)
    wave = by_transform((1 + 0.9 * np.cos(ANGLE)) ** 1.5)
    assert found.first == pytest.approx(wave[1], rel=0.005)
    assert found.second == pytest.approx(wave[2], rel=0.03)
