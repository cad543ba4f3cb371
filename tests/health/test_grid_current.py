"""Behaviour: gas, grid leakage and grid emission found, and told apart, by the grid current.

The tubes are simulated (tests/simulator), the faults invented. Limits: 1e-4 of the plate
current is common practice, no source; 1 uA at the end of life is printed for the 6922 at 90 V
and 15 mA (Philips E88CC / 6922 special-quality tube data, December 1968).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.grid_current import find, grid_current_note
from curvelab.health.limits import COMMON_PRACTICE
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.records import PrintedLimit, Status
from helpers.cases import case_of, sweep_of, tube_type
from simulator import faults
from simulator.bench import Bench
from simulator.tubes import SimulatedTube, healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6922", "2A3", "211")
FAULTS: dict[FindingCode, Callable[[SimulatedTube, float], SimulatedTube]] = {
    FindingCode.GAS: faults.gassy,
    FindingCode.GRID_LEAKAGE: faults.leaky,
    FindingCode.GRID_EMISSION: faults.emitting_grid,
}
SHEET = "Philips E88CC / 6922 special-quality tube data, December 1968"
PRINTED = PrintedLimit(
    "reverse_grid_current", "end of life", None, 1e-6, SHEET, Status.VERIFIED, "90 V, 15 mA"
)


def healthy(name: str, seed: int = 1) -> SimulatedTube:
    """Return a healthy tube."""
    return healthy_tube(name, np.random.default_rng(seed))


@pytest.mark.parametrize("name", TYPES)
@pytest.mark.parametrize("code", FAULTS)
def test_each_cause_is_found_alone_with_its_size(code: FindingCode, name: str) -> None:
    tube = FAULTS[code](healthy(name), 8e-4)
    found = list(find(case_of(sweep_of(tube, grid_current=True))))
    assert [item.code for item in found] == [code]
    at = (tube.figures.plate_voltage, tube.figures.grid_voltage)
    cause = {"gas": "gas", "grid-leakage": "leakage", "grid-emission": "emission"}[code]
    true = -1e6 * float(tube.grid_shares(*at)[cause])
    assert found[0].severity is Severity.REJECT
    assert found[0].value == pytest.approx(true, rel=0.1)
    assert found[0].limit_source == COMMON_PRACTICE
    assert found[0].readings


@pytest.mark.parametrize("name", TYPES)
@pytest.mark.parametrize("code", FAULTS)
def test_half_the_limit_raises_nothing(code: FindingCode, name: str) -> None:
    tube = FAULTS[code](healthy(name), 5e-5)
    assert list(find(case_of(sweep_of(tube, grid_current=True)))) == []


@pytest.mark.parametrize("name", TYPES)
def test_between_once_and_five_times_the_limit_is_a_caution(name: str) -> None:
    tube = faults.gassy(healthy(name), 3e-4)
    (found,) = find(case_of(sweep_of(tube, grid_current=True)))
    assert (found.code, found.severity) == (FindingCode.GAS, Severity.CAUTION)


@pytest.mark.parametrize("name", TYPES)
def test_a_healthy_tube_on_a_coarse_meter_raises_nothing(name: str) -> None:
    for seed in range(5):
        sweep = sweep_of(healthy(name, seed), seed, bench=Bench(grid_floor=2e-8), grid_current=True)
        assert sweep.grid_current is not None
        coarse = replace(sweep, grid_current=np.round(sweep.grid_current / 1e-8) * 1e-8)
        assert list(find(case_of(coarse))) == []


@pytest.mark.parametrize("ratio", [5e-5, 1e-4, 6e-4])
def test_a_printed_limit_goes_before_common_practice(ratio: float) -> None:
    tube = faults.gassy(healthy("6922"), ratio)
    sweep = sweep_of(tube, grid_current=True)
    case = case_of(sweep, tube_type=tube_type(tube, printed_limits=(PRINTED,)))
    at = (tube.figures.plate_voltage, tube.figures.grid_voltage)
    expected = ratio * float(tube.current(*at)) > 1e-6
    found = list(find(case))
    assert bool(found) is expected
    assert all(item.limit == 1.0 and SHEET in (item.limit_source or "") for item in found)


def test_the_evidence_names_the_ratio_and_the_grid_resistance() -> None:
    tube = faults.gassy(healthy("6SN7GTB"), 6e-4)
    (found,) = find(case_of(sweep_of(tube, grid_current=True)))
    assert "6.0e-04" in found.evidence
    assert "bias would be lost with 0." in found.evidence
    assert "the handbook allows at most 0.50 Mohm with fixed bias" in found.evidence


def test_two_causes_are_both_named() -> None:
    tube = faults.leaky(faults.gassy(healthy("6SN7GTB"), 8e-4), 8e-4, to_plate=False)
    found = {item.code for item in find(case_of(sweep_of(tube, grid_current=True)))}
    assert found == {FindingCode.GAS, FindingCode.GRID_LEAKAGE}


def test_without_grid_current_it_says_what_cannot_be_told() -> None:
    tube = faults.gassy(healthy("6SN7GTB"))
    blind = case_of(sweep_of(tube))
    assert list(find(blind)) == []
    assert "cannot be told" in (grid_current_note(blind) or "")
    assert grid_current_note(case_of(sweep_of(tube, grid_current=True))) is None
