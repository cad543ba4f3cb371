"""Published, identity and refusal: pentodes in the library, as pentodes and as triodes."""

from __future__ import annotations

import pytest

from curvelab.errors import ReferenceDataError
from curvelab.reference.loader import load_library
from curvelab.reference.records import Status
from helpers.type_files import invented_type

TYPES = load_library().types
PENTODES = [found for found in TYPES.values() if found.has_screen]
POINT = "plate_v = 250, screen_v = 250, plate_ma = 48, screen_ma = 5.5"


def pentode(rows: str, **changes: str):
    table = f'[[pentode_points]]\nsource = "N1"\nstatus = "verified"\nrows = [\n{rows}\n]\n'
    return invented_type("1XP1", kind="pentode", points="", more=table, **changes)


def test_the_pentodes_that_were_asked_for_are_there():
    names = {found.name for found in PENTODES}
    assert names == set(
        "5881 6550 6AU6 6F6 6K6GT 6L6GC 6SJ7 6V6 6V6GT 807 EF86 EL34 EL84 KT66 KT88".split()
    )


def test_published_pentode_points():
    # Philips EL84 data sheets 1-6 (1953-11 / 1955-03 / 1957-10).
    bogey, *_ = (point for point in TYPES["EL84"].pentode_points if point.bogey)
    assert (bogey.plate_voltage, bogey.screen_voltage, bogey.grid_voltage) == (250, 250, -7.3)
    assert bogey.plate_current.value == pytest.approx(48e-3)
    assert bogey.screen_current.value == pytest.approx(5.5e-3)
    assert bogey.transconductance.value == pytest.approx(11.3e-3)
    assert bogey.plate_resistance.value == 38_000
    assert bogey.screen_amplification_factor.value == 19
    # Tung-Sol 6V6, 6V6GT/G data sheet, June 6, 1941.
    (low,) = (point for point in TYPES["6V6"].pentode_points if point.plate_voltage == 315)
    assert (low.screen_voltage, low.grid_voltage) == (225, -13)
    assert low.plate_resistance.value == 77_000


def test_a_cathode_resistor_carries_both_currents():
    # RCA Receiving Tube Manual RC-30, from memory: 6AU6 at 250 V, 150 V, 68 ohm, 10.6 and 4.3 mA.
    (point,) = (p for p in TYPES["6AU6"].pentode_points if p.screen_voltage == 150)
    assert point.grid_voltage == pytest.approx(-68 * 14.9e-3)
    assert "14.9 mA x 68 ohm" in point.converted


@pytest.mark.parametrize(
    ("row", "wanted"),
    [
        (f"{{ {POINT}, bogey = true }}", "the grid voltage or a cathode resistor"),
        ("{ plate_v = 250, grid_v = -7, plate_ma = 48, bogey = true }", "screen_v and a figure"),
        ("{ plate_v = 250, screen_v = 250, grid_v = -7, bogey = true }", "screen_v and a figure"),
        (f"{{ {POINT}, grid_v = -7.3 }}", "exactly one"),
        (
            "{ plate_v = 250, screen_v = 250, cathode_ohm = 135, plate_ma = 48, bogey = true }",
            "the plate current, on which",
        ),
    ],
)
def test_a_pentode_point_that_makes_no_point_is_refused(row, wanted):
    with pytest.raises(ReferenceDataError, match=wanted):
        pentode(row)


def test_a_triode_has_no_pentode_points():
    table = (
        '[[pentode_points]]\nsource = "N1"\nstatus = "verified"\nrows = [\n'
        f"{{ {POINT}, grid_v = -7, bogey = true }}\n]\n"
    )
    with pytest.raises(ReferenceDataError, match="a pentode or tetrode"):
        invented_type("1XT1", more=table)


def test_plate_and_screen_at_one_voltage_are_a_triode():
    """Identity: the triode connection has the same electrode volts, so both currents add."""
    found = pentode(f"{{ {POINT}, grid_v = -7.3, gm_umho = 11300, bogey = true }}")
    (point,) = found.points
    assert point.plate_current.value == pytest.approx(53.5e-3)
    assert point.transconductance is None  # that of the plate alone says nothing here
    assert point.bogey
    apart = pentode(
        "{ plate_v = 250, screen_v = 210, grid_v = -6.4, plate_ma = 36, screen_ma = 3.9, "
        "bogey = true }"
    )
    assert apart.points == ()


def test_two_sheets_agree_on_the_triode_connection():
    """Published: the identity against figures that were printed apart.

    Tung-Sol 6V6 (June 6, 1941), push-pull: two tubes at 250 V, 250 V, -15 V pass 70 and 5 mA
    without signal. AWV Radiotron 6V6-GT (December 1944), triode connection: 37.5 mA at 250 V,
    -15 V.
    """
    (row,) = (
        row.figures
        for row in TYPES["6V6"].operations
        if "push-pull" in row.service and row.figures["plate_voltage"].value == 250
    )
    each = 0.5 * (row["plate_current_two_tubes"].value + row["screen_current_two_tubes"].value)
    printed = TYPES["6V6GT"].bogey
    assert (printed.plate_voltage, printed.grid_voltage) == (250, row["grid_voltage"].value)
    assert each == pytest.approx(printed.plate_current.value, rel=1e-9)
    assert printed.status is Status.VERIFIED


def test_a_triode_connected_operation_stands_at_its_point():
    # Philips EL84: 270 ohm and 34 mA make -9.18 V; the sheet's own note says -9.2 V.
    assert TYPES["EL84"].bogey.grid_voltage == pytest.approx(-9.2, abs=0.05)


def test_curves_are_kept_with_their_screen():
    assert {curves.screen_voltage for curves in TYPES["EL84"].curves} == {None, 250.0}
    assert TYPES["6V6"].triode_curves is None
    assert TYPES["EL84"].triode_curves.plate_current.max() == pytest.approx(176.3e-3)
    assert not TYPES["EL84"].triode_curves.plate_current.flags.writeable


@pytest.mark.parametrize(
    ("curve", "wanted"),
    [
        ("{ grid_v = 0, plate_v = [50, 100], plate_ma = [1] }", "as many as plate_v"),
        ("{ grid_v = 0, plate_v = 50, plate_ma = [1] }", "lists of plate_v and plate_ma"),
        ("{ plate_v = [50], plate_ma = [1] }", "grid_v and lists"),
        ("{ grid_v = 0, plate_v = [50], plate_ma = [1] }", "6 to 2000 readings"),
        ("{ grid_v = 0, plate_v = [50, nan], plate_ma = [1, 2] }", "plate_v: wanted a number"),
    ],
)
def test_curves_that_are_none_are_refused(curve, wanted):
    table = (
        '[[curves]]\nsource = "N1"\nstatus = "verified"\naccuracy = "1 mA"\n'
        f"rows = [\n{curve},\n]\n"
    )
    with pytest.raises(ReferenceDataError, match=wanted):
        invented_type("1XC1", more=table)


def test_limits_with_a_screen_know_it():
    # EL34EH data sheet (current production): 80 to 120 mA at 250 V, 265 V, -13.5 V.
    (limit,) = (p for p in TYPES["EL34"].printed_limits if p.quantity == "plate_current")
    assert limit.screen_voltage == 265
    assert limit.condition == "250 V on the plate, 265 V on the screen, -13.5 V on the grid"
