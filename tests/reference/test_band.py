"""Published and behaviour: how far a good tube may lie from its family."""

from __future__ import annotations

import pytest

from curvelab.reference.band import tolerance_band
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library

LIBRARY = family_library(load_library())


def band(name: str):
    return tolerance_band(LIBRARY.types.types[name], LIBRARY.families[name])


def test_a_printed_acceptance_limit_is_the_tolerance():
    # 6SN7EH data sheet (current production), TUBEEH-72382: 7 to 13 mA at 250 V, -8 V.
    found = band("6SN7GTB")
    assert found.printed
    assert (found.least, found.most) == (pytest.approx(7e-3), pytest.approx(13e-3))
    assert found.shares == (pytest.approx(7 / 9, rel=0.02), pytest.approx(13 / 9, rel=0.02))


def test_without_one_common_practice_stands_in_and_says_so():
    found = band("2A3")
    assert not found.printed
    assert found.source == "common practice, no source"
    assert (found.plate_voltage, found.grid_voltage) == (250, -45)
    assert found.shares == pytest.approx((0.7, 1.3))


def test_a_limit_of_the_pentode_connection_is_none_of_the_triode_s():
    # 6V6GT/6V6EH data sheet: 33 to 59 mA with the screen at 250 V.
    assert not band("6V6GT").printed


def test_every_family_has_a_tolerance_at_a_point_it_covers():
    for name, family in LIBRARY.families.items():
        found = band(name)
        assert found.least < found.family_current < found.most, name
        assert found.family_current == pytest.approx(
            family.current(found.plate_voltage, found.grid_voltage).item()
        )
