"""Behaviour and refusal: a name finds its type, and never another variant."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.errors import ReferenceDataError, UnknownTypeError
from curvelab.reference.library import library_of
from curvelab.reference.loader import load_library


@pytest.mark.parametrize(
    ("asked", "name", "how"),
    [
        ("12AX7", "12AX7", "same"),
        ("12ax7", "12AX7", "same"),
        (" 12 AX-7 ", "12AX7", "same"),
        ("12ax7-a", "12AX7", "alias"),
        ("ecc83", "12AX7", "alias"),
        ("E 88 CC", "6922", "alias"),
        ("12AX7/ECC83", "12AX7", "same"),
        ("ECC83 (12AX7)", "12AX7", "same"),
        ("ECC83/7025", "12AX7", "alias"),
        ("801-A/801", "801A", "same"),
        ("6SN7GTA/6SN7GTB", "6SN7GTB", "same"),
        ("6sn7gt", "6SN7GT", "same"),
        ("10y", "10-Y", "same"),
        ("6EM7 Unit 2", "6EM7 unit 2", "same"),
    ],
)
def test_names_as_labels_spell_them(asked, name, how):
    found, found_how = load_library().find(asked)
    assert (found.name, found_how) == (name, how)


@pytest.mark.parametrize(
    ("asked", "near"),
    [
        ("6SN7", {"6SN7GT", "6SN7GTB"}),  # 2.5 W or 5 W: the suffix must decide
        ("6SN7GT/6SN7GTB", {"6SN7GT", "6SN7GTB"}),
        ("6DJ8/6922", {"6DJ8", "6922"}),
        ("6EM7", {"6EM7 unit 1", "6EM7 unit 2"}),
        ("12AX7WA", {"12AX7"}),
        ("12AX7/unheard", {"12AX7"}),
        ("ECC85", {"ECC83"}),
        ("300", {"300B"}),
        ("VT-25", {"10"}),  # a relative that the type states itself
        ("5692", {"6SN7GTB"}),
    ],
)
def test_an_unknown_name_gets_near_ones_to_choose_from(asked, near):
    with pytest.raises(UnknownTypeError) as caught:
        load_library().find(asked)
    assert near <= set(caught.value.near)
    assert caught.value.name == asked


@pytest.mark.parametrize("asked", ["", "/", "---", "no such tube"])
def test_a_name_like_no_other_gets_no_suggestion(asked):
    with pytest.raises(UnknownTypeError) as caught:
        load_library().find(asked)
    assert caught.value.near == ()


def test_every_name_and_alias_finds_its_type_and_every_suggestion_can_be_found():
    library = load_library()
    for name in library.names:
        assert library.find(name) == (library.types[name], "same")
        for alias in library.types[name].aliases:
            assert library.find(alias) == (library.types[name], "alias")
    with pytest.raises(UnknownTypeError) as caught:
        library.find("6SN")
    assert caught.value.near
    for near in caught.value.near:
        library.find(near)


def test_a_type_s_own_name_goes_before_another_s_alias():
    first = replace(load_library().find("6SN7GTB")[0], aliases=("6SN7GT",))
    second = load_library().find("6SN7GT")[0]
    for types in ((first, second), (second, first)):
        assert library_of(types).find("6sn7gt") == (second, "same")


def test_two_types_may_not_claim_one_name():
    found = load_library().find("12AX7")[0]
    with pytest.raises(ReferenceDataError, match=r"'12ax-7'.*claimed by '12AX7'"):
        library_of([found, replace(found, name="12ax-7", aliases=())])
    with pytest.raises(ReferenceDataError, match="'ecc 83' is claimed"):
        library_of([found, replace(found, name="other", aliases=("ecc 83",))])


def test_a_section_of_a_dissimilar_dual_triode_is_a_type_of_its_own():
    library = load_library()
    assert library.find_section("6EM7", "1")[0].name == "6EM7 unit 1"
    assert library.find_section("6EM7", "B")[0].name == "6EM7 unit 2"
    assert library.find_section("12AX7", "2")[0].name == "12AX7"
    for section in (None, "3", ""):
        with pytest.raises(UnknownTypeError):
            library.find_section("6EM7", section)
    with pytest.raises(UnknownTypeError):
        library.find_section("no such tube", "1")
