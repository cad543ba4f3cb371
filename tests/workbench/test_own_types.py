"""Behaviour and refusal: types of one's own, on disk."""

from __future__ import annotations

import pytest

from curvelab.errors import OutputError, ReferenceDataError, UnknownTypeError
from curvelab.reference.loader import load_library
from curvelab.workbench.own_types import check_type_file, copy_type, export_type, import_type
from curvelab.workbench.type_library import (
    current_families,
    current_types,
    own_folder,
    shipped_families,
)
from helpers.type_files import type_text, write_type


def test_without_own_types_the_shipped_ones_are_all():
    assert current_types().types is load_library()
    assert current_families() is shipped_families()


def test_a_copy_is_kept_and_found_at_once():
    target = copy_type("ecc83", "12AX7 from the attic")
    assert target.parent == own_folder() / "types"
    assert target.name == "12AX7-from-the-attic.toml"
    joined = current_types()
    assert joined.own == {"12AX7 from the attic": target}
    assert joined.types.find("12ax7 from the attic")[1] == "same"
    assert "12AX7 from the attic" in current_families().families


def test_an_edit_is_seen_without_a_new_start():
    target = copy_type("6SL7GT", "1XB1")
    assert not current_types().types.types["1XB1"].rating("plate_voltage").verified
    text = target.read_text(encoding="utf-8").replace("plate_v = 300", "plate_v = 275")
    target.write_text(text + "\n# looked up\n", encoding="utf-8")
    assert current_types().types.types["1XB1"].rating("plate_voltage").value == 275


def test_a_broken_file_of_one_s_own_stops_nothing():
    copy_type("6SL7GT", "1XB1")
    write_type(own_folder() / "types", 'name = "broken"', "broken.toml")
    joined = current_types()
    assert "1XB1" in joined.types.types
    (problem,) = joined.problems
    assert problem.startswith("broken.toml")


def test_a_type_travels_from_one_house_to_another(tmp_path, monkeypatch):
    copy_type("6922", "1XB1")
    away = write_type(tmp_path, export_type("1XB1"))
    there = tmp_path / "elsewhere"
    monkeypatch.setenv("XDG_DATA_HOME", str(there))
    found, kept = import_type(away)
    assert found.name == "1XB1"
    assert kept.is_relative_to(there)
    assert current_types().types.types["1XB1"].points == found.points


def test_a_file_with_sources_of_its_own_is_taken_and_replaced_only_on_request(tmp_path):
    path = write_type(tmp_path, type_text("1XB1"))
    _, kept = import_type(path)
    write_type(tmp_path, type_text("1XB1", ratings="plate_v = 400"))
    with pytest.raises(ReferenceDataError, match="you have a type '1XB1' already"):
        import_type(path)
    assert import_type(path, replace=True)[1] == kept
    assert current_types().types.types["1XB1"].rating("plate_voltage").value == 400
    assert len(current_types().own) == 1


def test_a_shipped_type_may_be_stood_in_for_and_comes_back(tmp_path):
    import_type(write_type(tmp_path, type_text("2A3")))
    assert current_types().types.types["2A3"].kind == "dual triode"
    assert load_library().types["2A3"].kind == "power triode"
    (kept,) = current_types().own.values()
    kept.unlink()
    assert current_types().types is load_library()


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("name = ", "not TOML"),
        (type_text("1XB1").replace("kind", "kin", 1), "an unknown key"),
        (type_text("1XB1").replace("aliases = []", 'aliases = ["ECC83"]'), "'ECC83' is claimed"),
        (type_text("1XB1", rated="guessed"), "verified or from memory"),
        (type_text("1XB1").replace("gm_umho = 2600", "gm_umho = 26"), "gm times rp"),
    ],
)
def test_a_file_that_breaks_a_rule_is_refused_and_nothing_is_kept(tmp_path, text, wanted):
    path = write_type(tmp_path, text)
    for ask in (check_type_file, import_type):
        with pytest.raises(ReferenceDataError, match=wanted):
            ask(path)
    assert not current_types().own


@pytest.mark.parametrize("name", ["", "  ", "x" * 41, "a\nb", "12AX7"])
def test_a_name_that_cannot_be_one_is_refused(name):
    with pytest.raises(ReferenceDataError):
        copy_type("6SL7GT", name)


@pytest.mark.parametrize("name", ["../../etc/passwd", "con", ".hidden", "C:\\x"])
def test_no_name_becomes_a_path(name):
    target = copy_type("6SL7GT", name)
    assert target.parent == own_folder() / "types"
    assert current_types().own == {name: target}


def test_what_is_not_there_cannot_be_copied_or_exported():
    with pytest.raises(UnknownTypeError):
        copy_type("no such tube", "1XB1")
    with pytest.raises(UnknownTypeError):
        export_type("no such tube")


def test_a_folder_that_cannot_be_made_is_said(tmp_path, monkeypatch):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.setenv("XDG_DATA_HOME", str(blocked))
    with pytest.raises(OutputError, match="cannot make the folder"):
        copy_type("6SL7GT", "1XB1")
