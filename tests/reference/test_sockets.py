"""Published and refusal: bases and pins of two types, and what an adapter has to do."""

from __future__ import annotations

import pytest

from curvelab.reference.loader import load_library
from curvelab.reference.sockets import Fit, compare_sockets
from helpers.type_files import invented_type

TYPES = load_library().types


def fit(old: str, new: str):
    return compare_sockets(TYPES[old], TYPES[new])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        # Tung-Sol 6SN7GT data sheet (1945) and 6SN7EH data sheet: like pins, units named apart.
        ("6SN7GT", "6SN7GTB"),
        ("6SN7GTB", "6SN7GT"),
        ("12AX7", "12AU7"),  # RCA 12AX7-A and Philips ECC82 data sheets: both 9A
        ("6V6", "6V6GT"),  # Tung-Sol 6V6 (1941) and AWV 6V6-GT (1944): both 7AC
        ("2A3", "45"),
        ("845", "211"),
    ],
)
def test_the_same_base_and_pins(old, new):
    found = fit(old, new)
    assert found.fit is Fit.SAME
    assert found.wiring == ()


def test_a_nine_pin_twin_of_an_octal_dual_triode_takes_an_adapter_for_that_very_pair():
    """Common practice, no source; pins of the Tung-Sol 6SN7GT and 6CG7EH data sheets."""
    found = fit("6SN7GT", "6CG7")
    assert found.fit is Fit.ADAPTER
    assert "an adapter wired for 6CG7 in place of 6SN7GT, no other" in found.reason
    wires = {wire.socket_pin: wire.tube_pin for wire in found.wiring}
    # Octal: grid, plate, cathode, then the other unit, heater on 7 and 8. Nine-pin: plate,
    # grid, cathode; heater on 4 and 5.
    assert wires == {"1": "2", "2": "1", "3": "3", "4": "7", "5": "6", "6": "8", "7": "4", "8": "5"}


def test_an_adapter_for_one_nine_pin_tube_is_no_adapter_for_another():
    # 12AU7 (9A) and 6CG7 (9AJ) share plates, grids and cathodes, but not the heater.
    found = fit("6CG7", "12AU7")
    assert found.fit is Fit.ADAPTER
    assert "only one of the heaters is tapped" in found.reason
    assert not any(wire.electrode == "H" for wire in found.wiring)
    assert any("heater pins are wired to suit" in text for text in found.conditions)


def test_a_base_that_goes_in_with_other_pins_is_never_plugged_in():
    found = fit("12AU7", "5687")
    assert found.fit is Fit.ADAPTER
    assert "never plug it in" in found.reason


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("6SN7GT", "6J5", "no second unit"),
        ("6V6GT", "6J5", "no screen grid"),
        ("2A3", "27", "emits from a cathode"),
        ("27", "2A3", "emits from the filament"),
    ],
)
def test_what_no_adapter_can_do(old, new, why):
    found = fit(old, new)
    assert found.fit is Fit.IMPOSSIBLE
    assert why in found.reason


def test_a_pentode_in_place_of_a_triode_is_strapped():
    found = fit("6J5", "6V6GT")
    assert found.fit is Fit.ADAPTER
    assert "joins the screen grid to the plate" in found.conditions[0]


def test_a_suppressor_on_a_pin_of_its_own_is_joined_to_the_cathode():
    # EL34EH data sheet: pin 1 carries the suppressor, which a beam tetrode's socket leaves open.
    assert fit("6L6GC", "EL34").conditions == (
        "pin 1 is the suppressor grid and must be joined to the cathode",
    )
    assert fit("EL34", "6L6GC").conditions == ()


@pytest.mark.parametrize("missing", [{"base": ""}, {"pins": ""}])
def test_what_the_library_does_not_hold_is_unknown(missing):
    known, unknown = invented_type("1XA1"), invented_type("1XA2", **missing)
    for pair in ((known, unknown), (unknown, known)):
        found = compare_sockets(*pair)
        assert found.fit is Fit.UNKNOWN
        assert "1XA2" in found.reason


def test_a_pin_that_cannot_be_read_makes_the_pins_unknown():
    odd = invented_type("1XA2", pins="1 plate or so,2 G")
    assert compare_sockets(invented_type("1XA1"), odd).fit is Fit.UNKNOWN


def test_pins_connected_inside_are_kept_free():
    free = "1 NC,2 G,3 K,4 H,5 H,7 P"
    old = invented_type("1XA1", kind="triode", pins=free)
    new = invented_type("1XA2", kind="triode", pins=free.replace("NC", "IC"))
    assert compare_sockets(old, new).conditions == (
        "nothing may be wired to pin 1, which is connected inside",
    )
    assert compare_sockets(new, old).conditions == ()


def test_pins_from_memory_are_marked():
    assert fit("845", "211").from_memory
    assert not compare_sockets(invented_type("1XA1"), invented_type("1XA2")).from_memory
