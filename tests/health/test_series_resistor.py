"""Behaviour: reverse grid current found from plate current with a resistor in the grid lead.

The simulator solves the grid's own voltage exactly (Kirchhoff); the ion current it was given is
the truth. Limit: 1e-4 of the plate current, common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.health.records import FindingCode, Severity
from curvelab.sweep.records import Conditions
from curvelab.workbench.type_library import shipped_families
from scorecard.measures import codes_found
from simulator import faults
from simulator.bench import Bench, SweepPlan, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import SimulatedTube, healthy_tube

TYPES = ("12AX7", "12AU7", "6SN7GTB", "6DJ8", "2A3", "211")
RATIO = 6e-4


def resistor_for(tube: SimulatedTube) -> float:
    """Return a resistor that shifts the grid by about 0.4 V."""
    return 0.4 / (RATIO * tube.figures.plate_current)


def cool_plan(tube: SimulatedTube) -> SweepPlan:
    """Return the usual plan to about the rated dissipation: the shift adds to it."""
    return usual_plan(tube, overload=1.05)


def two_files(tube: SimulatedTube, seed: int = 1, *, points: int | None = None):
    """Return the assessments of a sweep without and one with the resistor."""
    rng = np.random.default_rng(seed)
    plan, ohms = cool_plan(tube), resistor_for(tube)
    with_it = run_sweep(tube, plan, Bench(), rng, grid_resistor=ohms)
    second = as_sweep(with_it, conditions=Conditions(grid_resistor=ohms))
    if points is not None:
        figures = tube.figures
        near = np.hypot(
            (with_it.plate_voltage - figures.plate_voltage) / figures.plate_voltage,
            (with_it.grid_voltage - figures.grid_voltage) / figures.grid_voltage,
        )
        second = replace(second, readings=second.readings.take(np.argsort(near)[:points]))
    return assess([as_sweep(run_sweep(tube, plan, Bench(), rng)), second], shipped_families())


@pytest.mark.parametrize("points", [None, 1], ids=["sweep", "one reading"])
@pytest.mark.parametrize("name", TYPES)
def test_gas_is_found_on_both_files_with_its_size(name: str, points: int | None) -> None:
    tube = faults.gassy(healthy_tube(name, np.random.default_rng(2)), RATIO)
    usual, second = two_files(tube, points=points)
    for assessment in (usual, second):
        assert codes_found(assessment) - {"over-rating"} == {"gas"}
        (found,) = (item for item in assessment.findings if item.code is FindingCode.GAS)
        point = usual.operating_point
        true = -1e6 * float(
            tube.grid_current(point.plate_voltage, point.grid_voltage)  # type: ignore[union-attr]
        )
        assert found.severity is Severity.REJECT
        assert found.value == pytest.approx(true, rel=0.1, abs=2 * (found.u95 or 0))
        assert "unless leakage" in found.evidence
        assert "bias would be lost" in found.evidence


@pytest.mark.parametrize("name", TYPES)
def test_half_the_limit_raises_nothing(name: str) -> None:
    tube = faults.gassy(healthy_tube(name, np.random.default_rng(2)), 4e-5)
    assert [codes_found(item) for item in two_files(tube)] == [set(), set()]


@pytest.mark.parametrize("name", TYPES)
def test_readings_of_both_kinds_in_one_file_are_told_apart(name: str) -> None:
    tube = faults.gassy(healthy_tube(name, np.random.default_rng(3)), RATIO)
    rng, resistor = np.random.default_rng(4), resistor_for(tube)
    parts = [
        as_sweep(run_sweep(tube, cool_plan(tube), Bench(), rng, grid_resistor=ohms)).readings
        for ohms in (0.0, resistor)
    ]
    sizes = [len(part) for part in parts]
    joined = replace(
        parts[0],
        **{
            field: np.concatenate([getattr(part, field) for part in parts])
            for field in ("plate_voltage", "grid_voltage", "plate_current", "line")
        },
        grid_resistor=np.repeat((0.0, resistor), sizes),
    )
    sweep = replace(as_sweep(run_sweep(tube, usual_plan(tube), Bench(), rng)), readings=joined)
    (found,) = assess([sweep], shipped_families())
    assert codes_found(found) - {"over-rating"} == {"gas"}
    assert not found.fit.used[sizes[0] :].any()
    gas = next(item for item in found.findings if item.code is FindingCode.GAS)
    assert min(gas.readings) >= sizes[0]
    assert any("not its cause" in note for note in found.notes)


def test_two_single_readings_are_judged_by_the_handbooks_family() -> None:
    tube = faults.gassy(healthy_tube("6SN7GTB", np.random.default_rng(5)), RATIO)
    figures, rng = tube.figures, np.random.default_rng(6)
    plan = replace(
        usual_plan(tube),
        plate_voltage=(figures.plate_voltage,),
        grid_voltage=(figures.grid_voltage,),
    )
    sweeps = [
        as_sweep(
            run_sweep(tube, plan, Bench(), rng, grid_resistor=ohms),
            conditions=Conditions(grid_resistor=ohms or None),
        )
        for ohms in (0.0, resistor_for(tube))
    ]
    for found in assess(sweeps, shipped_families()):
        assert "gas" in codes_found(found)
        assert any("the family of 6SN7GTB" in item.evidence for item in found.findings)


def test_without_any_of_it_the_sheet_says_what_to_measure() -> None:
    tube = healthy_tube("6SN7GTB", np.random.default_rng(7))
    sweep = as_sweep(run_sweep(tube, usual_plan(tube), Bench(), np.random.default_rng(8)))
    (found,) = assess([sweep], shipped_families())
    assert any("cannot be told" in note and "resistor" in note for note in found.notes)
    metered = replace(usual_plan(tube), grid_current=True)
    swept = as_sweep(run_sweep(tube, metered, Bench(), np.random.default_rng(8)))
    (found,) = assess([swept], shipped_families())
    assert found.notes == ()
