"""Published and behaviour: which rating guards a triode in class A."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.reference.loader import load_library
from curvelab.reference.records import Figure, Rating, Status


@pytest.mark.parametrize(
    ("name", "plate_v", "plate_w", "verified"),
    [
        # Tung-Sol 12AX7 tentative data, plates 1931/1932, Dec 1 1947: design center; the later
        # design-maximum set (330 V, 1.2 W) is higher.
        ("12AX7", 300, 1.0, True),
        # Tung-Sol 12AU7 data sheet, plate 6593, October 1 1962.
        ("12AU7", 300, 2.75, True),
        # GE 12AT7 Description and Rating ET-T1440, 2-57.
        ("12AT7", 300, 2.5, True),
        # Tung-Sol 6SN7GT data sheet, July 31, 1945; its note lends them to the 6J5.
        ("6SN7GT", 300, 2.5, True),
        ("6J5", 300, 2.5, True),
        # GE data sheets, receiving types, from memory: the GTB dissipates twice as much.
        ("6SN7GTB", 450, 5.0, False),
        # Philips E88CC / 6922 special-quality tube data, December 1968.
        ("6922", 220, 1.5, True),
        # RCA Receiving Tube Manual, page 245: 130 V is the supply, which bounds the plate.
        ("6DJ8", 130, 1.8, True),
        # 2A3 / UX-2A3 data page (Japanese).
        ("2A3", 300, 15, True),
        # WE 300B Technical Data Sheets.
        ("300B", 450, 40, True),
        # RCA Type 845 data page.
        ("845", 1250, 75, True),
        # RCA HB-3 handbook sheets 801-A/801, April 15, 1940: class A1, not the modulated
        # class C set of 500 V and 13.5 W.
        ("801A", 600, 20, True),
        # RCA HB-3 handbook sheets 10-Y, Dec. 20, 1946: class C alone is rated; the lowest.
        ("10-Y", 350, 10, True),
    ],
)
def test_the_class_a_guards_of_a_type(name, plate_v, plate_w, verified):
    found = load_library().types[name]
    voltage, dissipation = found.rating("plate_voltage"), found.rating("plate_dissipation")
    assert (voltage.value, dissipation.value) == (plate_v, plate_w)
    assert (voltage.verified, dissipation.verified) == (verified, verified)


@pytest.mark.parametrize(
    ("name", "limit", "value"),
    [
        # RCA HB-3 handbook sheets 801-A/801, April 15, 1940: 0.1 megohm fixed, 0.5 cathode bias.
        ("801A", "grid_circuit_resistance_fixed_bias", 0.1e6),
        ("801A", "grid_circuit_resistance_cathode_bias", 0.5e6),
        # Philips E88CC / 6922, December 1968: cathode 150 V above the heater.
        ("6922", "heater_cathode_voltage_negative", 150.0),
        ("6922", "heater_cathode_voltage_positive", 100.0),
        ("6922", "cathode_current", 20e-3),
        # Brimar 12AX7/ECC83 Application Report VAD/513.5 (Mar 1950, repr. Jan 1952).
        ("12AX7", "cathode_current", 8e-3),
        # WE 300B Technical Data Sheets.
        ("300B", "plate_current_fixed_bias", 70e-3),
    ],
)
def test_other_published_ratings(name, limit, value):
    assert load_library().types[name].rating(limit).value == pytest.approx(value)


def test_a_class_a_sheet_without_a_limit_does_not_borrow_that_of_class_c():
    found = load_library().types["801A"]
    assert any("plate_current" in rating.limits for rating in found.ratings)
    assert found.rating("plate_current") is None


def test_what_is_nowhere_printed_is_none():
    found = load_library().types["12AY7"]
    assert found.rating("plate_voltage") is None
    assert found.rating("plate_dissipation") is None


def watts(value, status):
    """Return a plate dissipation in a set of its own."""
    figure = Figure(value, "a sheet", status)
    return Rating("design-center", {"plate_dissipation": figure})


@pytest.mark.parametrize("order", [1, -1])
def test_verified_goes_before_from_memory_and_lower_before_higher(order):
    sets = (
        watts(1.0, Status.FROM_MEMORY),
        watts(3.0, Status.VERIFIED),
        watts(2.0, Status.VERIFIED),
        replace(watts(0.5, Status.VERIFIED), service="class C telegraphy"),
    )
    found = replace(load_library().types["12AX7"], ratings=sets[::order])
    assert found.rating("plate_dissipation") == Figure(2.0, "a sheet", Status.VERIFIED)


def test_the_first_gt_s_dissipation_is_kept_out_of_the_gtb():
    found = load_library().types["6SN7GTB"]
    assert [rating.limits["plate_dissipation"].value for rating in found.ratings] == [5.0]
    assert any("2.5 W" in note for note in found.notes)
