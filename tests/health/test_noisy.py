"""Behaviour: scatter beyond a sound bench's is reported by its size (simulated tubes)."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.health.noisy import find
from curvelab.health.records import FindingCode, Severity
from helpers.cases import case_of, sweep_of
from simulator.bench import Bench
from simulator.tubes import healthy_tube

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(1))


@pytest.mark.parametrize(("noise", "severity"), [(0.02, Severity.NOTE), (0.04, Severity.CAUTION)])
def test_a_noisy_bench_is_found(noise: float, severity: Severity) -> None:
    (found,) = find(case_of(sweep_of(TUBE, bench=Bench(noise=noise))))
    assert (found.code, found.severity) == (FindingCode.NOISY, severity)
    assert found.value == pytest.approx(100 * noise, rel=0.2)


@pytest.mark.parametrize("noise", [0.0, 0.003, 0.01])
def test_a_sound_bench_raises_nothing(noise: float) -> None:
    assert list(find(case_of(sweep_of(TUBE, bench=Bench(noise=noise))))) == []
