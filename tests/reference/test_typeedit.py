"""Behaviour and round trip: changes to a type file leave all else of it as it was written."""

from __future__ import annotations

import difflib
import tomllib

import numpy as np
import pytest

from curvelab.errors import ReferenceDataError
from curvelab.paths import resource_folder
from curvelab.reference.records import PublishedCurves, Status
from curvelab.reference.typeedit import (
    add_limit,
    add_row,
    add_source,
    remove,
    set_bogey,
    set_curves,
    set_origin,
    set_socket,
    set_value,
)
from curvelab.reference.typeparts import parts_of, place_of_refusal
from helpers.type_files import parse, type_text

TEXT = "# a remark of its owner\n" + type_text(
    "27",
    heater="heater_v = 2.5, heater_a = 1.75",
    ratings='plate_v = 275\nplate_w = { value = 2.5, source = "M1", status = "from memory" }',
)
FIRST = ("points", 0, "rows", 0)
SEEN, RECALLED = ("N1", "verified"), ("M1", "from memory")


def changed(text: str) -> list[str]:
    """Return the lines that a change took away and those that it brought."""
    lines = difflib.unified_diff(TEXT.splitlines(), text.splitlines(), lineterm="", n=0)
    return [line for line in lines if line[:2] not in ("--", "++", "@@")]


@pytest.mark.parametrize("path", sorted((resource_folder() / "types").glob("*.toml")), ids=str)
def test_every_type_of_the_library_can_be_shown(path):
    text = path.read_text(encoding="utf-8")
    content, parts = tomllib.loads(text), parts_of(text)
    assert parts.texts["name"] == content["name"]
    assert len(parts.points) == sum(len(item["rows"]) for item in content.get("points", []))
    beside = {"system", "service", "note", "source", "status"}
    limits = [key for item in content.get("ratings", []) for key in item if key not in beside]
    assert [row.values["limit"] for row in parts.limits] == limits


def test_the_parts_say_value_source_and_status_as_they_hold():
    parts = parts_of(TEXT)
    assert parts.texts["name"] == "27"
    assert [(row.values["limit"], row.values["value"]) for row in parts.limits] == [
        ("plate_v", "275"),
        ("plate_w", "2.5"),
    ]
    assert [row.source for row in parts.limits] == ["N1", "M1"]
    assert [row.status for row in parts.limits] == ["verified", "from memory"]
    assert parts.heaters[0].values["heater_v"] == "2.5"
    assert parts.points[0].values["bogey"] == "true"
    assert parts.sources["N1"] == "An invented sheet"


@pytest.mark.parametrize(
    ("edit", "lines"),
    [
        (
            lambda t: set_value(t, ("ratings", 0), "plate_v", "250"),
            ["-plate_v = 275", "+plate_v = 250"],
        ),
        (
            lambda t: set_value(t, ("ratings", 0), "plate_w", "3.0"),
            [
                '-plate_w = { value = 2.5, source = "M1", status = "from memory" }',
                '+plate_w = { value = 3.0, source = "M1", status = "from memory" }',
            ],
        ),
        (lambda t: set_value(t, (), "name", "56"), ['-name = "27"', '+name = "56"']),
        (
            lambda t: set_value(t, (), "aliases", "A, 56"),
            ["-aliases = []", '+aliases = ["A", "56"]'],
        ),
        (
            lambda t: set_socket(t, "base", "5-pin", "N1", "verified"),
            ['-base = "noval"', '+base = "5-pin"'],
        ),
        (
            lambda t: set_origin(t, ("ratings", 0), "plate_w", "N1", "verified"),
            ['-plate_w = { value = 2.5, source = "M1", status = "from memory" }', "+plate_w = 2.5"],
        ),
    ],
)
def test_only_what_is_changed_changes(edit, lines):
    assert changed(edit(TEXT)) == lines
    assert edit(TEXT).startswith("# a remark of its owner\n")
    parse(edit(TEXT))


def test_an_emptied_figure_is_taken_away():
    found = parse(set_value(TEXT, FIRST, "mu", ""))
    assert found.points[0].amplification_factor is None
    assert found.points[0].plate_current.value == pytest.approx(9e-3)


def test_a_row_gets_an_origin_of_its_own_and_loses_it_again():
    own = set_origin(TEXT, FIRST, None, "M1", "from memory")
    assert parts_of(own).points[0].status == "from memory"
    assert not parse(own).points[0].plate_current.verified
    back = set_origin(own, FIRST, None, "N1", "verified")
    assert parts_of(back) == parts_of(TEXT)


def test_rows_and_limits_come_and_go():
    more = add_row(
        TEXT, "points", {"plate_v": "100", "grid_v": "-2", "plate_ma": "2"}, "M1", "from memory"
    )
    assert len(parse(more).points) == 2
    second = ("points", 0, "rows", 1)
    moved = set_bogey(more, second)
    assert [point.bogey for point in parse(moved).points] == [False, True]
    assert len(parse(remove(moved, FIRST)).points) == 1
    assert "[[points]]" not in remove(TEXT, FIRST)
    limited = add_limit(TEXT, "absolute", "plate_ma", "20", "M1", "from memory")
    assert parse(limited).ratings[1].system == "absolute"
    assert changed(remove(limited, ("ratings", 1), "plate_ma")) == []
    same = add_limit(TEXT, "design-center", "cathode_ma", "20", "M1", "from memory")
    assert len(parse(same).ratings) == 1
    assert not parse(same).ratings[0].limits["cathode_current"].verified
    with pytest.raises(ReferenceDataError, match="has a limit plate_v already"):
        add_limit(TEXT, "design-center", "plate_v", "20", "N1", "verified")


def test_tables_are_made_where_there_are_none():
    bare = type_text("1XA1", base="", heater="", ratings="", points="")
    heater = {"heater_v": "6.3", "heater_a": "0.3", "arrangement": "single"}
    point = {"plate_v": "250", "grid_v": "-8", "plate_ma": "9", "bogey": "true"}
    text = set_socket(bare, "base", "octal", *SEEN)
    text = add_row(text, "heater", heater, *SEEN)
    text = add_limit(text, "design-center", "plate_v", "300", *SEEN)
    text = add_row(text, "points", point, *SEEN)
    found = parse(text)
    assert found.base == "octal"
    assert found.heaters[0].voltage.value == 6.3
    assert found.rating("plate_voltage").value == 300
    assert found.bogey.plate_current.value == pytest.approx(9e-3)


def test_a_source_of_one_s_own_gets_a_short_name():
    text, name = add_source(TEXT, "My own copy of the sheet, 1951", "sheet scan")
    assert name == "N2"
    assert parts_of(text).sources["N2"] == "My own copy of the sheet, 1951"
    parse(set_origin(text, FIRST, None, "N2", "verified"))
    for title, kind in ((" ", "page"), ("x", "hearsay")):
        with pytest.raises(ReferenceDataError, match="source"):
            add_source(TEXT, title, kind)


def test_a_refusal_leads_to_its_field():
    for place, key, written in (
        (("ratings", 0), "plate_v", "much"),
        (FIRST, "plate_ma", "0"),
        (("heater", "rows", 0), "heater_a", "-1"),
        ((), "cathode", "warm"),
    ):
        with pytest.raises(ReferenceDataError) as refused:
            parse(set_value(TEXT, place, key, written))
        assert place_of_refusal(str(refused.value)) == (place, key)
    assert place_of_refusal("x: not TOML (at line 3)") is None


@pytest.mark.parametrize("text", ["name = ", "ratings = 3\n", "heater = [1]\n", "points = [[1]]\n"])
def test_what_is_no_type_file_is_refused(text):
    with pytest.raises(ReferenceDataError):
        parts_of(text)
    with pytest.raises(ReferenceDataError):
        set_value(text, ("points", 0, "rows", 0), "plate_v", "1")


def drawn(screen: float | None, *, screen_current: bool = False) -> PublishedCurves:
    plate = np.array([100.0, 50.0, 150.0, 100.0, 50.0, 150.0])
    return PublishedCurves(
        screen_voltage=screen,
        plate_voltage=plate,
        grid_voltage=np.array([0.0] * 3 + [-2.0] * 3),
        plate_current=1e-5 * plate + 1e-3,
        source="whatever",
        status=Status.VERIFIED,
        accuracy="not stated",
        screen_current=1e-4 + 1e-6 * plate if screen_current else None,
    )


def test_curves_come_into_a_file_and_stand_in_the_place_of_those_at_their_screen():
    text = set_curves(TEXT, [drawn(None)], "N1", "verified", "about 1 mA")
    (found,) = parse(text).curves
    assert found.screen_voltage is None
    assert (found.source, found.accuracy) == ("An invented sheet", "about 1 mA")
    np.testing.assert_allclose(found.plate_voltage[:3], [50.0, 100.0, 150.0])
    np.testing.assert_allclose(found.plate_current[:3], [1.5e-3, 2e-3, 2.5e-3])
    again = set_curves(text, [drawn(None)], "N1", "verified", "about 2 mA")
    assert [item.accuracy for item in parse(again).curves] == ["about 2 mA"]
    assert [row.values["readings"] for row in parts_of(again).curves] == ["6"]
    assert "[[curves]]" not in remove(again, ("curves", 0))
    with pytest.raises(ReferenceDataError, match="how closely"):
        set_curves(TEXT, [drawn(None)], "N1", "verified", " ")


def test_curves_at_several_screens_keep_the_screens_current():
    base = TEXT.replace('kind = "dual triode"', 'kind = "pentode"')
    sets = [drawn(100.0, screen_current=True), drawn(250.0)]
    found = parse(set_curves(base, sets, "N1", "verified", "about 1 mA")).curves
    assert [item.screen_voltage for item in found] == [100.0, 250.0]
    np.testing.assert_allclose(found[0].screen_current[:3], [1.5e-4, 2e-4, 2.5e-4])
    assert found[1].screen_current is None
