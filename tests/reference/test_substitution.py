"""Published, common practice and refusal: whether one type may stand in for another."""

from __future__ import annotations

import tomllib
from dataclasses import fields

import pytest

from curvelab.errors import ReferenceDataError, UnknownTypeError
from curvelab.paths import resource_folder
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.reference.sockets import Fit
from curvelab.reference.stand_in_limits import StandInLimits
from curvelab.reference.substitution import Suitability, may_stand_in
from curvelab.reference.substitution_notes import shown
from helpers.type_files import type_text, types_from

LIBRARY = family_library(load_library())


def ask(*texts: str, **asked):
    library = family_library(types_from(texts))
    return may_stand_in(library, "1XA1", "1XA2", **asked)


def twins(one: str, other: str, **changes: str) -> tuple[str, str]:
    return type_text("1XA1", ratings=one, **changes), type_text("1XA2", ratings=other, **changes)


FULL = "plate_v = 1250\nplate_w = 75\nplate_ma = {}"
BIG = {
    "kind": "power triode",
    "cathode": "direct (thoriated filament)",
    "base": "jumbo 4-large-pin",
    "pins": "1 F,2 G,3 P,4 F",
    "heater": "heater_v = 10, heater_a = 3.25",
    "points": "{ plate_v = 1000, grid_v = -61, plate_ma = 53, mu = 12, gm_umho = 3150, "
    "rp_ohm = 3800, bogey = true }",
}


def test_an_uprated_twin_replaces_the_lower_rated_type():
    """Common practice, no source: 250 mA on the plate instead of 175 mA, all else the same."""
    found = ask(*twins(FULL.format(175), FULL.format(250), **BIG))
    assert found.suitability is Suitability.DIRECT
    assert found.against == found.conditions == ()


def test_the_lower_rated_twin_does_not_replace_the_uprated_one():
    """Common practice, no source: the reverse of the one above."""
    found = ask(*twins(FULL.format(250), FULL.format(175), **BIG))
    assert found.suitability is Suitability.NOT
    assert found.against == ("rated for less plate current: 175 mA instead of 250 mA",)


def test_a_lower_rating_is_a_condition_where_the_amplifier_is_known_to_stay_below():
    found = ask(*twins(FULL.format(250), FULL.format(175), **BIG), at=(1000.0, -61.0))
    assert found.suitability is Suitability.WITH_CONDITIONS
    assert "it must never be asked for more than that" in found.conditions[0]


def test_at_a_point_beyond_its_rating_it_is_no_replacement():
    low = FULL.replace("75", "50").format(250)
    found = ask(*twins(FULL.format(250), low, **BIG), at=(1000.0, -61.0))
    assert found.suitability is Suitability.NOT
    assert any("beyond the rated 50 W" in text for text in found.against)


def test_a_rating_from_memory_never_protects_alone():
    found = ask(*twins(FULL.format(175), FULL.format(250), rated="from memory", **BIG))
    assert found.suitability is Suitability.WITH_CONDITIONS
    assert found.conditions == (
        "check the sheet of 1XA2, from memory: plate voltage, plate dissipation, plate current",
    )


def test_no_type_of_the_library_is_direct_on_the_word_of_memory():
    names = LIBRARY.types.names
    for old in ("6SN7GT", "12AU7", "2A3", "6V6", "211"):
        for new in names:
            if new == old:
                continue
            found = may_stand_in(LIBRARY, old, new)
            if found.suitability is Suitability.DIRECT:
                assert not any(pair.from_memory for pair in found.ratings if pair.new)


def test_a_nine_pin_twin_of_an_octal_dual_triode():
    """Common practice, no source: 6CG7 for 6SN7GT, with an adapter wired for that very pair."""
    found = may_stand_in(LIBRARY, "6SN7GT", "6CG7")
    assert found.suitability is Suitability.WITH_CONDITIONS
    assert found.socket.fit is Fit.ADAPTER
    assert any("an adapter wired for 6CG7 in place of 6SN7GT" in t for t in found.conditions)
    # Tung-Sol 6SN7GT data sheet and RC-30 (from memory): both 9 mA at 250 V, -8 V.
    shift = found.in_circuit.cathode_bias.plate_current / found.in_circuit.old.plate_current
    assert shift == pytest.approx(1.0, abs=0.03)


def test_the_gtb_for_the_gt_and_not_the_reverse():
    """Published: 2.5 W (Tung-Sol, 1945) against 5 W of the GTB (from memory)."""
    assert may_stand_in(LIBRARY, "6SN7GT", "6SN7GTB").suitability is Suitability.WITH_CONDITIONS
    reverse = may_stand_in(LIBRARY, "6SN7GTB", "6SN7GT")
    assert reverse.suitability is Suitability.NOT
    assert any("2.5 W instead of 5 W" in text for text in reverse.against)


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("12AX7", "12AU7", "mu is"),  # mu 100 (RCA) against 17 (Philips) on one base
        ("845", "211", "mu is"),  # mu 12 against 5.3 on one base
        ("2A3", "6B4G", "its heater takes 6.3 V, where the amplifier gives 2.5 V"),
        ("2A3", "45", "plate dissipation"),
        ("6SN7GT", "6J5", "no second unit"),
    ],
)
def test_what_is_no_replacement_says_why(old, new, why):
    found = may_stand_in(LIBRARY, old, new)
    assert found.suitability is Suitability.NOT
    assert any(why in text for text in found.against)


def test_the_heater_current_is_what_the_amplifier_must_be_able_to_give():
    # GE Five-Star data sheets, from memory: a 5814A takes 0.35 A at 6.3 V, a 12AU7 0.3 A.
    found = may_stand_in(LIBRARY, "12AU7", "5814A")
    assert any(
        text.startswith("the heater supply must give 0.05 A more") for text in found.conditions
    )
    back = may_stand_in(LIBRARY, "5814A", "12AU7")
    assert any(text.startswith("heaters must be in parallel") for text in back.conditions)


def test_what_is_not_known_is_said_to_be_unknown():
    found = ask(
        type_text("1XA1"), type_text("1XA2", ratings="", heater="", base="", pins="", points="")
    )
    assert found.suitability is Suitability.WITH_CONDITIONS
    for what in ("heater", "base or pins", "rated for: plate voltage", "bias and current"):
        assert any(what in text for text in found.unknown), what
        assert any(text.startswith("find out") and what in text for text in found.conditions)


def test_a_grid_circuit_limit_that_is_lower_is_a_condition():
    rated = "plate_v = 300\nplate_w = 2.5\ngrid_circuit_fixed_bias_megohm = {}"
    found = ask(*twins(rated.format(1.0), rated.format(0.25)))
    assert found.conditions == (
        "rated for less grid circuit resistance fixed bias: 0.25 Mohm instead of 1 Mohm; look at "
        "the circuit",
    )


def test_a_grid_to_plate_capacitance_that_is_larger_is_a_condition():
    tables = [
        f'[capacitances]\nsource = "N1"\nstatus = "verified"\ngrid_plate_pf = {pf}\n'
        for pf in (2, 8)
    ]
    texts = [type_text(f"1XA{place}", more=table) for place, table in enumerate(tables, start=1)]
    assert "8 pF instead of 2 pF" in ask(*texts).conditions[0]


def test_another_current_in_the_same_circuit_is_a_condition_with_its_remedy():
    points = (
        "{{ plate_v = 250, grid_v = -8, plate_ma = {}, mu = 20, gm_umho = 2600, rp_ohm = 7700, "
        "bogey = true }}"
    )
    texts = [
        type_text(f"1XA{place}", points=points.format(ma), ratings="plate_v = 300\nplate_w = 9")
        for place, ma in enumerate((9, 13), start=1)
    ]
    found = ask(*texts)
    assert found.suitability is Suitability.WITH_CONDITIONS
    assert found.in_circuit.fixed_bias.plate_current == pytest.approx(13e-3, rel=0.02)
    assert found.in_circuit.cathode_bias.plate_current < 13e-3
    assert found.in_circuit.bias_for_same_current < -8
    assert any("with the same fixed bias it draws 13 mA" in text for text in found.conditions)


def test_no_remedy_leads_beyond_a_rating():
    # 45: 10 W on the plate (from memory); at the 2A3's 250 V and 60 mA it would bear 15 W.
    found = may_stand_in(LIBRARY, "2A3", "45")
    said = [text for text in found.conditions if "with the same fixed bias" in text]
    assert any("the same current would be beyond its rating" in text for text in said)
    assert not any("would restore it" in text for text in found.conditions)


def test_a_plate_circuit_resistance_moves_the_supply():
    plain = may_stand_in(LIBRARY, "6SN7GT", "6SN7GTB", at=(120.0, -3.5))
    coupled = may_stand_in(
        LIBRARY, "6SN7GT", "6SN7GTB", at=(120.0, -3.5), plate_circuit_resistance=47e3
    )
    drop = coupled.in_circuit.supply_voltage - plain.in_circuit.supply_voltage
    assert drop == pytest.approx(47e3 * plain.in_circuit.old.plate_current)


def test_one_type_by_two_names_is_no_question():
    with pytest.raises(ReferenceDataError, match="names of one type, 12AX7"):
        may_stand_in(LIBRARY, "12AX7", "ECC83")
    with pytest.raises(UnknownTypeError):
        may_stand_in(LIBRARY, "12AX7", "no such tube")


def test_the_house_rules_decide_and_are_said():
    plain = may_stand_in(LIBRARY, "6SN7GT", "6CG7")
    strict = StandInLimits.from_mapping({"mu_other_stage_pct": 0.01, "heater_apart_pct": 5})
    found = may_stand_in(LIBRARY, "6SN7GT", "6CG7", limits=strict)
    assert plain.suitability is Suitability.WITH_CONDITIONS
    assert found.suitability is Suitability.NOT
    assert any("another stage" in line for line in found.against)
    assert any("15 %" in line for line in plain.house_rules)
    assert any("0.01 %" in line for line in found.house_rules)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"mu": 3}, "none is named 'mu'"),
        ({"heater_apart_pct": 0}, "must be a number above 0, not 0"),
        ({"heater_apart_pct": "2"}, "must be a number above 0, not '2'"),
        ({"heater_apart_pct": True}, "not True"),
        ({"heater_apart_pct": float("nan")}, "not nan"),
    ],
)
def test_house_rules_that_make_no_sense_are_refused(values, said):
    with pytest.raises(ReferenceDataError, match=said):
        StandInLimits.from_mapping(values)


def test_the_shipped_file_says_what_is_built_in():
    text = (resource_folder() / "stand_in.toml").read_text(encoding="utf-8")
    assert StandInLimits.from_mapping(tomllib.loads(text)) == StandInLimits()
    assert set(tomllib.loads(text)) == {item.name for item in fields(StandInLimits)}


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("plate_voltage_no_current", 400.0, "400 V"),
        ("plate_current_cathode_bias", 0.06, "60 mA"),
        ("grid_circuit_resistance_fixed_bias", 1e5, "0.1 Mohm"),
        ("screen_dissipation", 2.0, "2 W"),
    ],
)
def test_a_limit_is_shown_in_its_own_unit(name, value, words):
    assert shown(name, value) == words


def test_a_tube_that_is_cut_off_gets_no_figure_of_a_current():
    found = may_stand_in(LIBRARY, "845", "211")
    assert any("next to no current instead of 65 mA" in line for line in found.conditions)
    assert not any("e-0" in line for line in (*found.conditions, *found.against))


def test_the_same_fixed_bias_is_warned_of_even_where_the_cathode_resistor_forbids():
    found = may_stand_in(LIBRARY, "211", "845")
    assert any("in the same circuit its plate dissipation" in line for line in found.against)
    assert any(line.startswith("never with the same fixed bias") for line in found.conditions)


def test_what_is_known_of_another_name_is_said_where_it_is_used():
    # Of the library's notes, from memory: the 6F8G has the units of a 6SN7GT on another base.
    found = may_stand_in(LIBRARY, "6F8G", "6SN7GTB")
    assert any("another base with a top cap" in line for line in found.conditions)
    assert found.suitability is not Suitability.DIRECT
    plain = may_stand_in(LIBRARY, "6SN7GT", "6SN7GTB")
    assert not any("top cap" in line for line in plain.conditions)
    with pytest.raises(ReferenceDataError, match="another base with a top cap"):
        may_stand_in(LIBRARY, "6SN7GT", "6f8g")
