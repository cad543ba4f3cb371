"""Published and behaviour: grid volts to the two ends of a filament's supply.

A type 10 sheet prints 5.0 V between AC (mid-point) and DC (negative end) for its 7.5 V filament:
-23.5, -32 and -40 V on AC are -18.5, -27 and -35 V on DC (source: see resources/types/10.toml).
For 2A3, 300B, 45 and the others no shift is printed, and none is made.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.reference.families import families_for
from curvelab.reference.filament import filament_reference
from curvelab.sheets.facts import facts_of
from curvelab.sweep.records import Conditions, Readings
from curvelab.workbench.type_library import shipped_families
from scorecard.measures import codes_found
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

ON_DC = Conditions(filament="DC", filament_return="negative end")
ON_AC = Conditions(filament="AC", filament_return="centre tap")
# By the sheet: AC grid volts, DC grid volts, Vp, Ip.
POINTS = [(-23.5, -18.5, 250.0, 10e-3), (-32.0, -27.0, 350.0, 16e-3), (-40.0, -35.0, 425.0, 18e-3)]


def type_of(name):
    """Return a type of the library."""
    return shipped_families().find(name)[0]


def family_sweep(shift: float, conditions: Conditions):
    """Return the family of type 10 as if it were read off on a bench, ``shift`` volts higher."""
    family = shipped_families().families["10"]
    plate, grid = (
        axis.ravel() for axis in np.meshgrid(np.linspace(60, 430, 24), np.arange(-56.0, -3.0, 4.0))
    )
    current = family.current(plate, grid)
    noise = 1 + np.random.default_rng(1).normal(0, 0.003, plate.size)
    readings = Readings(plate, grid + shift, current * noise, np.arange(plate.size) + 2)
    tube = healthy_tube("6SN7GTB", np.random.default_rng(1))
    blank = as_sweep(run_sweep(tube, usual_plan(tube), Bench(), np.random.default_rng(1)))
    return replace(blank, readings=readings, type_label="10", conditions=conditions)


@pytest.mark.parametrize(("conditions", "column"), [(ON_AC, 0), (ON_DC, 1)])
def test_the_printed_shift_is_applied_to_the_family(conditions, column):
    shift = filament_reference(type_of("10"), conditions).shift
    family = replace(shipped_families().families["10"], grid_shift=shift)
    for point in POINTS:
        current = float(family.current(np.array([point[2]]), np.array([point[column]]))[0])
        assert current == pytest.approx(point[3], rel=0.05)


def test_a_sweep_on_dc_is_compared_at_the_dc_point():
    (found,) = assess([family_sweep(5.0, ON_DC)], shipped_families())
    assert found.operating_point.grid_voltage == pytest.approx(-27.0)
    assert found.operating_point.origin == "handbook"
    assert found.comparison.of_bogey["plate_current"] == pytest.approx(1.0, abs=0.05)
    assert found.comparison.family_deviation < 0.02
    assert any("5 V more by the sheet" in fact.text for fact in facts_of(found))
    (wrong,) = assess([family_sweep(5.0, ON_AC)], shipped_families())
    assert wrong.comparison.family_deviation > 0.2


def test_without_a_printed_shift_none_is_invented_and_the_comparison_is_open():
    for name in ("2A3", "300B", "45", "211"):
        known = filament_reference(type_of(name), ON_DC)
        assert known.shift == 0
        assert known.open_by == pytest.approx(0.5 * type_of(name).heaters[0].voltage.value)
        assert "nothing is shifted" in (known.words or "")
        on_ac = filament_reference(type_of(name), ON_AC)
        assert (on_ac.shift, on_ac.open_by, on_ac.words) == (0, 0, None)


def test_what_the_filament_leaves_open_raises_no_finding():
    tube = healthy_tube("45", np.random.default_rng(3), scatter=0.0)
    swept = as_sweep(run_sweep(tube, usual_plan(tube), Bench(), np.random.default_rng(4)))
    readings = replace(swept.readings, grid_voltage=swept.readings.grid_voltage + 1.25)
    (found,) = assess([replace(swept, readings=readings, conditions=ON_DC)], shipped_families())
    assert codes_found(found, notes=True) <= {"over-rating"}
    assert any("no sheet on record prints" in note for note in found.notes)


def test_an_indirectly_heated_tube_has_no_such_question():
    assert filament_reference(type_of("6SN7GTB"), ON_DC).words is None
    library = shipped_families()
    nothing = np.empty(0)
    assert families_for(library, Conditions(), nothing, nothing, nothing) is library.families
