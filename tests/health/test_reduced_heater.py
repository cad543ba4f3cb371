"""Behaviour: weak emission from a sweep at a reduced heater voltage (simulated tubes).

That a good cathode holds its current at nine tenths of the heater voltage and a worn one does not
is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import Assessment, assess
from curvelab.health.records import FindingCode
from curvelab.sweep.records import Conditions
from curvelab.workbench.type_library import shipped_families
from scorecard.measures import codes_found
from simulator import faults
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import SimulatedTube, healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6DJ8", "2A3", "211")
HEATER = 6.3


def two_files(tube: SimulatedTube, ratio: float, *, both: bool = True) -> list[Assessment]:
    """Return the assessments of sweeps at full and at reduced heater voltage."""
    rng, plan = np.random.default_rng(1), usual_plan(tube)
    sweeps = [
        as_sweep(
            run_sweep(tube.with_heater(share), plan, Bench(), rng),
            conditions=Conditions(heater_voltage=share * HEATER),
        )
        for share in ((1.0, ratio) if both else (1.0,))
    ]
    return list(assess(sweeps, shipped_families()))


def by_test(assessment: Assessment) -> list[str]:
    """Return the evidence of weak emission that the reduced heater gave."""
    return [
        item.evidence
        for item in assessment.findings
        if item.code is FindingCode.WEAK_EMISSION and "on the heater instead of" in item.evidence
    ]


@pytest.mark.parametrize("ratio", [0.85, 0.9])
@pytest.mark.parametrize("name", TYPES)
def test_a_cathode_without_reserve_is_found_on_both_files(name: str, ratio: float) -> None:
    # So mild that the full heater alone shows little of it.
    tube = faults.worn(healthy_tube(name, np.random.default_rng(2)), 3.0, 2.5)
    for assessment in two_files(tube, ratio):
        assert by_test(assessment)
        assert codes_found(assessment) == {"weak-emission"}


@pytest.mark.parametrize("ratio", [0.85, 0.9])
@pytest.mark.parametrize("name", TYPES)
def test_a_good_cathode_raises_nothing(name: str, ratio: float) -> None:
    tube = healthy_tube(name, np.random.default_rng(2))
    assert [codes_found(item) for item in two_files(tube, ratio)] == [set(), set()]


def test_half_the_heater_is_another_measurement() -> None:
    tube = healthy_tube("6SN7GTB", np.random.default_rng(2))
    assert not any(map(by_test, two_files(tube, 0.5)))


def test_both_levels_in_one_file_are_told_apart() -> None:
    tube = faults.worn(healthy_tube("6SN7GTB", np.random.default_rng(2)), 3.0, 2.5)
    rng, plan = np.random.default_rng(3), usual_plan(tube)
    parts = [
        as_sweep(run_sweep(tube.with_heater(share), plan, Bench(), rng)) for share in (1.0, 0.9)
    ]
    sizes = [len(part.readings) for part in parts]
    readings = replace(
        parts[0].readings,
        **{
            field: np.concatenate([getattr(part.readings, field) for part in parts])
            for field in ("plate_voltage", "grid_voltage", "plate_current", "line")
        },
        heater_voltage=np.repeat((HEATER, 0.9 * HEATER), sizes),
    )
    (found,) = assess([replace(parts[0], readings=readings)], shipped_families())
    assert by_test(found)
    assert not found.fit.used[sizes[0] :].any()
    (alone,) = assess([parts[0]], shipped_families())
    assert found.constants.plate_current.value == pytest.approx(
        alone.constants.plate_current.value, rel=1e-9
    )
