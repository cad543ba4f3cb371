"""Published and behaviour: ratings side by side, each under its system."""

from __future__ import annotations

import pytest

from curvelab.reference.loader import load_library
from curvelab.reference.rating_pairs import Relation, compare_ratings
from helpers.type_files import invented_type

TYPES = load_library().types


def pairs(old, new):
    return {(pair.name, pair.service): pair for pair in compare_ratings(old, new)}


def test_figures_of_one_system_are_compared_where_both_have_it():
    # RCA 12AX7-A sheets: 330 V, design-maximum; Tung-Sol 12AX7: 300 V, design-center; Philips
    # ECC82 and Tung-Sol 12AU7: 300 V, design-center.
    pair = pairs(TYPES["12AX7"], TYPES["12AU7"])["plate_voltage", None]
    assert (pair.old.value, pair.new.value) == (300, 300)
    assert pair.old_system.startswith("design-center")
    assert pair.relation is Relation.EQUAL


def test_figures_of_two_systems_that_lie_close_are_not_compared():
    # 6SN7GT: 300 V design-center (Tung-Sol, 1945); 6CG7: 330 V design-maximum, from memory.
    pair = pairs(TYPES["6SN7GT"], TYPES["6CG7"])["plate_voltage", None]
    assert pair.relation is Relation.NOT_COMPARABLE
    assert pair.from_memory


@pytest.mark.parametrize(
    ("old", "new", "relation"),
    [(175, 250, "higher"), (250, 175, "lower"), (175, 175, "equal")],
)
def test_higher_equal_and_lower(old, new, relation):
    found = pairs(
        *(
            invented_type(f"1X{place}", ratings=f"plate_ma = {v}")
            for place, v in enumerate((old, new))
        )
    )
    assert found["plate_current", None].relation == relation


def test_what_only_one_prints_is_unknown():
    one, both = invented_type("1XA1"), invented_type("1XA2", ratings="plate_v = 300")
    assert pairs(one, both)["plate_dissipation", None].relation is Relation.UNKNOWN
    assert pairs(both, one)["plate_dissipation", None].relation is Relation.UNKNOWN


def test_a_limit_that_holds_for_both_kinds_of_bias_stands_for_either():
    either = invented_type("1XA1", ratings="grid_circuit_megohm = 1.0")
    fixed = invented_type("1XA2", ratings="grid_circuit_fixed_bias_megohm = 0.5")
    assert pairs(either, fixed)["grid_circuit_resistance", None].relation is Relation.LOWER
    (found,) = pairs(fixed, either).values()
    assert found.relation is Relation.HIGHER


def test_the_plate_never_stands_above_its_supply():
    # 6DJ8: 130 V of plate supply (RCA); 6922: 220 V on the plate (Philips).
    found = pairs(TYPES["6DJ8"], TYPES["6922"])
    assert found["plate_supply_voltage", None].relation is Relation.HIGHER


def test_other_services_are_compared_apart():
    found = pairs(TYPES["801A"], TYPES["10-Y"])
    assert found["plate_dissipation", "class C telegraphy"].old.value == 20
    assert found["plate_dissipation", "class B"].new is None
    # Sets of the triode connection say nothing of the pentode connection.
    found = pairs(TYPES["6V6"], TYPES["6V6GT"])
    assert found["plate_voltage", None].relation is Relation.EQUAL
    assert found["plate_voltage", "class A, triode-connected"].old is None
