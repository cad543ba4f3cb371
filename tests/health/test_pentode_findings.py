"""Behaviour: the findings on simulated tubes with a screen grid, through the whole judgement."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment.assess import Settings, assess
from curvelab.health.records import FindingCode, Severity
from curvelab.reference.library import library_of
from curvelab.reference.records import Rating, Status, TubeType
from curvelab.sweep.records import Conditions, SourceFile, Sweep, SweepKind
from curvelab.workbench.type_library import shipped_families
from helpers.cases import figure
from simulator.pentode import plan_for, random_pentode, run_pentode_sweep

_SCREEN_W = 2.0


def _type(status: Status = Status.VERIFIED, **limits: float) -> TubeType:
    rated = {"screen_dissipation": _SCREEN_W, "screen_voltage": 300.0} | limits
    return TubeType(
        name="INVENTED",
        aliases=(),
        kind="pentode",
        cathode="indirect",
        base=None,
        points=(),
        cutoffs=(),
        ratings=(Rating("design centre", {name: figure(v, status) for name, v in rated.items()}),),
        printed_limits=(),
        heaters=(),
        notes=(),
        near=(),
    )


def _found(readings, tube_type: TubeType | None = None, conditions: Conditions | None = None):
    shipped = shipped_families()
    types = (*shipped.types.types.values(), *(() if tube_type is None else (tube_type,)))
    library = replace(shipped, types=library_of(types))
    sweep = Sweep(
        tube="SIM-1",
        section=None,
        type_label=None if tube_type is None else tube_type.name,
        kind=SweepKind.CURVES,
        readings=readings,
        source=SourceFile("SIM-1.csv", "SIM-1.csv", "0", b""),
        conditions=conditions or Conditions(connection="pentode"),
    )
    return assess([sweep], library, Settings())[0].findings


def _codes(findings) -> set[FindingCode]:
    return {item.code for item in findings}


def _swept(seed: int = 1, **plan: object):
    tube = random_pentode(np.random.default_rng(seed), beam=seed % 2 == 1)
    rng = np.random.default_rng(seed + 100)
    return run_pentode_sweep(tube, replace(plan_for(tube), **plan), rng)


@pytest.mark.parametrize("seed", range(12))
def test_a_healthy_tube_raises_nothing_but_what_is_not_covered(seed: int) -> None:
    found = _found(_swept(seed))
    assert _codes(found) <= {FindingCode.NOT_COVERED}
    assert all(item.severity is Severity.NOTE for item in found)


@pytest.mark.parametrize("seed", range(12))
def test_a_worn_cathode_is_found_above_the_knee(seed: int) -> None:
    rng = np.random.default_rng(seed)
    tube = random_pentode(rng)
    cathode = replace(tube.cathode, emission=3.0 * tube.knee_current, sharpness=1.5)
    worn = replace(tube, cathode=cathode)
    found = _found(run_pentode_sweep(worn, plan_for(tube), rng))
    (weak,) = (item for item in found if item.code is FindingCode.WEAK_EMISSION)
    assert weak.severity is not Severity.NOTE
    assert weak.value is not None and weak.value > 15


def _screen_findings(readings, **limits: float):
    tube_type = _type(**limits)
    found = _found(readings, tube_type)
    return [
        item for item in found if item.code is FindingCode.OVER_RATING and "screen" in item.evidence
    ]


def test_screen_over_dissipation_is_found_where_the_screen_was_metered() -> None:
    readings = _swept(screen_metered=True)
    power = readings.screen_voltage * readings.screen_current
    worst = float(power.max())
    (found,) = _screen_findings(readings, screen_dissipation=worst / 1.2)
    assert found.severity is Severity.NOTE
    assert "screen dissipation" in found.evidence
    assert found.value == pytest.approx(worst)
    assert power[list(found.readings)].min() > worst / 1.2
    (serious,) = _screen_findings(readings, screen_dissipation=worst / 1.8)
    assert serious.severity is Severity.CAUTION


def test_within_the_screen_s_ratings_nothing_is_said() -> None:
    readings = _swept(screen_metered=True)
    worst = float((readings.screen_voltage * readings.screen_current).max())
    assert _screen_findings(readings, screen_dissipation=1.05 * worst) == []


def test_without_a_screen_meter_its_watts_are_not_judged() -> None:
    assert _screen_findings(_swept(), screen_dissipation=0.01) == []


def test_a_screen_above_its_rated_voltage_is_found() -> None:
    (found,) = _screen_findings(_swept(), screen_voltage=240.0)
    assert (found.unit, found.limit, found.severity) == ("V", 240.0, Severity.NOTE)


def test_a_screen_tied_to_the_plate_is_not_judged_as_one() -> None:
    readings = _swept(screen_metered=True)
    tied = replace(readings, screen_voltage=readings.plate_voltage, screen_current=None)
    found = _found(tied, _type(screen_voltage=100.0), Conditions(connection="triode-connected"))
    assert not any("screen" in item.evidence for item in found)


def test_gas_is_found_as_in_a_triode() -> None:
    readings = _swept()
    ions = 1e-3 * readings.plate_current * (readings.plate_voltage > 25.0)
    gassy = replace(readings, grid_current=-ions)
    assert FindingCode.GAS in _codes(_found(gassy))
    clean = replace(readings, grid_current=-1e-3 * ions)
    assert FindingCode.GAS not in _codes(_found(clean))


def _with_both_connections() -> TubeType:
    """Return a type with limits of its triode connection besides (volts, watts)."""
    base = _type(plate_voltage=400.0, plate_dissipation=10.0)
    tied = {"plate_voltage": 300.0, "plate_and_screen_dissipation": 12.5}
    limits = {name: figure(value, Status.VERIFIED) for name, value in tied.items()}
    triode = Rating("design centre", limits, service="class A, triode-connected")
    return replace(base, ratings=(*base.ratings, triode))


def _over(readings, connection: str) -> dict[float, str]:
    found = _found(readings, _with_both_connections(), Conditions(connection=connection))
    return {item.limit: item.evidence for item in found if item.code is FindingCode.OVER_RATING}


def test_limits_of_the_triode_connection_hold_for_it_alone():
    readings = _swept()
    with_screen = _over(readings, "pentode")
    assert 300.0 not in with_screen  # the plate was swept to 350 V, as a pentode may be
    assert 12.5 not in with_screen
    assert 10.0 in with_screen
    tied = _over(replace(readings, screen_voltage=None, screen_current=None), "triode-connected")
    assert 300.0 in tied
    assert "plate and screen together" in tied[12.5]
    assert 10.0 not in tied
