"""Refusal and behaviour: a type file that breaks a rule is refused, with file, place and key."""

from __future__ import annotations

import shutil

import pytest

from curvelab.errors import ReferenceDataError
from curvelab.paths import resource_folder
from curvelab.reference.loader import join_own_types, load_library

SOURCES = """
[T1]
title = "A sheet on the bench, 1950"
kind = "sheet scan"

[M1]
title = "A manual remembered"
kind = "memory"
"""

GOOD = """
name = "1XY1"
aliases = ["XY"]
kind = "triode"
cathode = "indirect"
near = []
notes = ["Taken from a sheet [T1]."]

[heater]
source = "T1"
status = "verified"
rows = [{ heater_v = 6.3, heater_a = 0.3, arrangement = "single" }]

[capacitances]
source = "T1"
status = "verified"
grid_plate_pf = [3.8, 4.0]

[[ratings]]
system = "design-center"
source = "T1"
status = "verified"
plate_v = 300
plate_w = { value = 2.5, source = "M1", status = "from memory" }

[[points]]
source = "T1"
status = "verified"
rows = [
{plate_v = 250, grid_v = -8, plate_ma = 9.0, mu = 20, gm_umho = 2600, rp_ohm = 7700, bogey = true},
{ plate_v = 90, grid_v = 0, plate_ma = 10.0 },
]

[[cutoffs]]
source = "T1"
status = "verified"
rows = [{ plate_v = 250, grid_v = -18, plate_ma = 0.01 }]

[[limits]]
stage = "new"
source = "T1"
status = "verified"
at = { plate_v = 250, grid_v = -8 }
plate_ma = { low = 7, high = 14 }
"""


def library_folder(folder, text, name="1XY1.toml"):
    """Write a library of one type."""
    (folder / "types").mkdir(parents=True, exist_ok=True)
    (folder / "sources.toml").write_text(SOURCES, encoding="utf-8")
    (folder / "types" / name).write_text(text, encoding="utf-8")
    return folder


def test_a_good_file_is_read_with_the_origin_of_each_value(tmp_path):
    found, how = load_library(library_folder(tmp_path, GOOD)).find("1xy1")
    assert how == "same"
    assert found.bogey.plate_current.value == pytest.approx(9e-3)
    assert found.rating("plate_voltage").verified
    assert not found.rating("plate_dissipation").verified
    assert found.rating("plate_dissipation").source == "A manual remembered"
    assert found.notes == ("Taken from a sheet [A sheet on the bench, 1950].",)


def test_an_editor_s_byte_order_mark_does_no_harm(tmp_path):
    folder = library_folder(tmp_path, "\ufeff" + GOOD)
    assert load_library(folder).names == ("1XY1",)


@pytest.mark.parametrize(
    ("old", "new", "place", "wanted"),
    [
        ('kind = "triode"', 'kin = "triode"', ", kin:", "an unknown key"),
        ('kind = "triode"\n', "", ", kind:", "a text"),
        ('name = "1XY1"', "name = 11", ", name:", "a text"),
        ('"indirect"', '"warm"', ", cathode:", "direct"),
        ("[T1].", "[T9].", ", notes:", "a source of sources.toml"),
        ('aliases = ["XY"]', 'aliases = "XY"', ", aliases:", "a list of texts"),
        ("grid_v = -8, plate_ma = 9.0", "grid = -8, plate_ma = 9.0", "row 1, grid:", "unknown key"),
        ("plate_ma = 9.0", "plate_ma = nan", "row 1, plate_ma:", "a number from"),
        ("plate_ma = 9.0", "plate_ma = inf", "row 1, plate_ma:", "a number from"),
        ("plate_ma = 9.0", "plate_ma = -9.0", "row 1, plate_ma:", "a number from"),
        ("plate_ma = 9.0", 'plate_ma = "9"', "row 1, plate_ma:", "a number from"),
        ("plate_ma = 9.0", "plate_ma = true", "row 1, plate_ma:", "a number from"),
        ("plate_ma = 9.0", f"plate_ma = {'9' * 400}", "row 1, plate_ma:", "a number from"),
        ("plate_ma = 9.0", "plate_ma = { value = 9.0 }", "row 1, plate_ma:", "source and status"),
        ("gm_umho = 2600", "gm_umho = 26000", "points 1, row 1, mu:", "gm times rp"),
        ("gm_umho = 2600", "gm_umho = 2.6", "row 1, gm_umho:", "µmho"),
        (", bogey = true", "", ", points:", "exactly one"),
        ("plate_ma = 10.0 }", "plate_ma = 10.0, bogey = true }", ", points:", "exactly one"),
        ("bogey = true", "bogey = 1", "row 1, bogey:", "true or false"),
        ("bogey = true", "bogey = true, unit = true", "row 1, unit:", "1 or 2"),
        ("{ plate_v = 90, grid_v = 0, plate_ma = 10.0 }", "{ plate_v = 90 }", "row 2", "one of"),
        ("plate_v = 90, grid_v = 0", "grid_v = 0", "row 2", "the supply voltage"),
        ("plate_v = 90, grid_v = 0", "plate_v = 90", "row 2", "a cathode resistor"),
        (
            "rows = [{ plate_v = 250, grid_v = -18, plate_ma = 0.01 }]",
            "rows = []",
            "cutoffs",
            "row",
        ),
        ("grid_v = -18, plate_ma = 0.01", "grid_v = -18", "cutoffs 1, row 1", "plate_ma"),
        ("heater_v = 6.3, ", "", "heater, row 1", "heater_v and heater_a"),
        ("grid_plate_pf = [3.8, 4.0]", "grid_plate_pf = [1, 2, 3]", "grid_plate_pf:", "two units"),
        ("plate_v = 300", "plate_kv = 300", "ratings 1, plate_kv:", "unknown key"),
        ('"M1", status = "from memory"', '"M1", status = "verified"', "plate_w:", "no page of M1"),
        (
            '"M1", status = "from memory"',
            '"M2", status = "from memory"',
            "plate_w:",
            "sources.toml",
        ),
        ('"from memory"', '"guessed"', "plate_w:", "verified or from memory"),
        ('"from memory"', "1", "plate_w:", "verified or from memory"),
        (
            'system = "design-center"\nsource = "T1"\n',
            'system = "x"\n',
            "ratings 1, source:",
            "source",
        ),
        (
            'system = "design-center"\nsource = "T1"\nstatus = "verified"\n',
            'system = "design-center"\n',
            "ratings 1, source:",
            "source and status",
        ),
        ('stage = "new"', 'stage = "old"', "limits 1, stage:", "new or end of life"),
        ("{ low = 7, high = 14 }", "{ low = 14, high = 7 }", "limits 1, plate_ma:", "low below"),
        ("{ low = 7, high = 14 }", "9", "limits 1, plate_ma:", "low = "),
        ("plate_ma = { low = 7, high = 14 }", "", "limits 1", "at least one"),
        ("at = { plate_v = 250, grid_v = -8 }", "", "limits 1, at:", "the condition"),
        ("at = { plate_v = 250, ", "at = { volts = 250, ", "limits 1, at, volts:", "unknown key"),
    ],
)
def test_a_broken_rule_is_named_with_its_place(tmp_path, old, new, place, wanted):
    assert old in GOOD
    folder = library_folder(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(ReferenceDataError) as caught:
        load_library(folder)
    message = str(caught.value)
    assert message.startswith("1XY1.toml")
    assert place in message
    assert wanted in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("content", "wanted"),
    [
        (b"name = ", "not TOML"),
        (b"a = " + b"[" * 5000, "not TOML"),
        (b"\xff\xfe\x00", "cannot be read"),
        (b"", "a text"),
    ],
)
def test_a_file_that_is_no_type_file_is_refused(tmp_path, content, wanted):
    folder = library_folder(tmp_path, GOOD)
    (folder / "types" / "junk.toml").write_bytes(content)
    with pytest.raises(ReferenceDataError, match=f"junk.toml.*{wanted}"):
        load_library(folder)


def test_a_folder_that_is_no_library_is_refused(tmp_path):
    with pytest.raises(ReferenceDataError, match="no such file"):
        load_library(tmp_path)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ('T1 = "x"', "wanted a table"),
        ('[T1]\ntitle = "x"\nkind = "hearsay"', "one of memory"),
        ('[T1]\nkind = "page"', "title: wanted a text"),
        ('[T1]\ntitle = "x"\nkind = "page"\nyear = 1950', "unknown key"),
    ],
)
def test_sources_have_a_title_and_a_kind(tmp_path, text, wanted):
    folder = library_folder(tmp_path, GOOD)
    (folder / "sources.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=f"sources.toml, T1.*{wanted}"):
        load_library(folder)


def test_two_files_for_one_type_are_refused(tmp_path):
    library_folder(tmp_path, GOOD)
    library_folder(tmp_path, GOOD, "again.toml")
    with pytest.raises(ReferenceDataError, match=r"again\.toml.*'1XY1'"):
        load_library(tmp_path)


def test_types_of_one_s_own_join_the_shipped_ones(tmp_path):
    joined = join_own_types(library_folder(tmp_path, GOOD))
    assert set(joined.types.names) == {*load_library().names, "1XY1"}
    assert joined.types.find("ecc83")[0].name == "12AX7"
    assert joined.own == {"1XY1": tmp_path / "types" / "1XY1.toml"}
    assert not joined.problems


def test_a_type_of_one_s_own_stands_in_the_place_of_a_shipped_one(tmp_path):
    own = library_folder(tmp_path, GOOD.replace('"1XY1"', '"12AY7"'))
    library = join_own_types(own).types
    assert load_library().find("12AY7")[0].bogey is None
    assert library.find("12AY7")[0].bogey is not None
    assert library.names == load_library().names


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("name = ", "not TOML"),
        (GOOD.replace('kind = "triode"', 'kin = "triode"'), "an unknown key"),
        (GOOD.replace('["XY"]', '["ECC83"]').replace("1XY1", "2XY2"), "'ECC83' is claimed by"),
        (GOOD, "a second file for type '1XY1'"),
    ],
)
def test_a_broken_file_of_one_s_own_keeps_nobody_from_the_rest(tmp_path, text, wanted):
    library_folder(tmp_path, GOOD)
    joined = join_own_types(library_folder(tmp_path, text, "late.toml"))
    assert list(joined.own) == ["1XY1"]
    assert set(joined.types.names) == {*load_library().names, "1XY1"}
    (problem,) = joined.problems
    assert wanted in problem


def test_a_file_may_bring_its_own_sources(tmp_path):
    own = '\n[sources.N1]\ntitle = "Found in a drawer"\nkind = "page"\n'
    text = GOOD.replace('source = "T1"', 'source = "N1"') + own
    found = join_own_types(library_folder(tmp_path, text)).types.types["1XY1"]
    assert found.bogey.plate_current.source == "Found in a drawer"
    with pytest.raises(ReferenceDataError, match=r"1XY1.toml, sources, N1, kind"):
        load_library(library_folder(tmp_path, text.replace('"page"', '"hearsay"')))


def test_the_shipped_library_is_read_once_and_a_folder_each_time(tmp_path):
    assert load_library() is load_library()
    copy = shutil.copytree(resource_folder(), tmp_path / "copy")
    before = load_library(copy)
    (copy / "types" / "12AX7.toml").unlink()
    assert set(before.names) - set(load_library(copy).names) == {"12AX7"}
