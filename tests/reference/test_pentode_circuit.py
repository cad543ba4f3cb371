"""Identity and published: tubes with a screen grid at rest in a circuit, and their substitution."""

from __future__ import annotations

import pytest

from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.reference.pentode_circuit import pentode_stage_around, settle_pentode
from curvelab.reference.substitution import Suitability, may_stand_in

LIBRARY = family_library(load_library())


@pytest.mark.parametrize("fixed", [False, True])
@pytest.mark.parametrize("resistance", [0.0, 1000.0])
def test_the_tube_itself_settles_where_the_stage_was_built(fixed, resistance):
    family = LIBRARY.pentodes["EL84"]
    circuit = pentode_stage_around(
        family, (250.0, -7.3), 250.0, fixed_bias=fixed, plate_resistance=resistance
    )
    found = settle_pentode(family, circuit)
    assert (found.plate_voltage, found.grid_voltage) == pytest.approx((250.0, -7.3), rel=1e-5)
    assert found.screen_voltage == pytest.approx(250.0, rel=1e-5)
    drop = found.cathode_current * circuit.cathode_resistance
    assert found.plate_voltage + drop + resistance * found.plate_current == pytest.approx(
        circuit.supply_voltage
    )


def test_the_cathode_resistor_is_the_printed_one():
    # Philips EL84 data sheets 1-6 (1953-11): class A, 250 V on plate and screen,
    # 135 ohm in the cathode, 48 mA and 5.5 mA at -7.3 V (as in the library's type file).
    family = LIBRARY.pentodes["EL84"]
    circuit = pentode_stage_around(family, (250.0, -7.3), 250.0)
    assert circuit.cathode_resistance == pytest.approx(135, rel=0.03)
    found = settle_pentode(family, circuit)
    assert found.plate_current == pytest.approx(48e-3, rel=0.05)
    assert found.screen_current == pytest.approx(5.5e-3, rel=0.05)


def test_pentodes_are_compared_with_their_screens_at_the_old_type_s_point():
    both = may_stand_in(LIBRARY, "6V6", "6V6GT").in_circuit
    # The point the sheet of the 6V6 prints, as in its type file: 45 mA at -12.5 V.
    assert both.old.screen_voltage == pytest.approx(250.0)
    assert both.old.plate_current == pytest.approx(45e-3, rel=0.05)
    assert both.cathode_bias.plate_current == pytest.approx(both.old.plate_current, rel=0.05)


def test_a_place_of_one_s_own_sets_the_screen_too():
    found = may_stand_in(LIBRARY, "6L6GC", "6V6", at=(250.0, -20.0, 200.0))
    assert found.in_circuit is not None
    assert found.in_circuit.old.screen_voltage == pytest.approx(200.0)
    assert found.in_circuit.old.screen_dissipation == pytest.approx(
        found.in_circuit.old.screen_voltage * found.in_circuit.old.screen_current
    )


def test_two_voltages_mean_the_triode_connection():
    both = may_stand_in(LIBRARY, "EL84", "6V6GT", at=(250.0, -9.2)).in_circuit
    assert both is not None
    assert both.old.screen_voltage is None


def test_a_screen_without_a_family_of_its_own_is_unknown():
    found = may_stand_in(LIBRARY, "12AX7", "12AU7", at=(250.0, -2.0, 100.0))
    assert found.in_circuit is None
    assert any("in this connection" in text for text in found.unknown)


def test_another_pentode_that_would_be_overloaded_is_no_replacement():
    found = may_stand_in(LIBRARY, "EL84", "6V6")
    assert found.suitability is Suitability.NOT
    assert any("beyond the rated 12 W" in text for text in found.against)
    assert not any("would restore it" in text for text in found.conditions)
