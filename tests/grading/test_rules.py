"""Behaviour and refusal: the file that states the grades."""

from __future__ import annotations

import re

import pytest

from curvelab.errors import GradeRulesError
from curvelab.grading.rules import read_grade_rules
from curvelab.health.limits import COMMON_PRACTICE, HOUSE_RULE
from curvelab.paths import resource_folder
from curvelab.workbench.grading import load_grade_rules

SHIPPED = (resource_folder() / "grades.toml").read_text(encoding="utf-8")


def rules(text: str):
    return read_grade_rules(text.encode(), "grades.toml")


def test_the_shipped_rules():
    found = rules(SHIPPED)
    assert [rule.word for rule in found.grades] == ["fresh", "sound", "worked"]
    assert found.order[-1] == found.words.barred
    assert found.grades[0].bands["plate_current"].source == HOUSE_RULE
    assert found.grades[2].bands["transconductance"].source == COMMON_PRACTICE
    assert found.grades[2].printed == "end of life"


def test_any_change_changes_the_mark_that_is_printed():
    changed = SHIPPED.replace("[75, 125]", "[74, 125]")
    assert rules(changed).edition == rules(SHIPPED).edition
    assert rules(changed).title != rules(SHIPPED).title


def test_a_type_can_have_limits_of_its_own():
    own = (
        '\n[types."12AX7".fresh]\nplate_current_pct = [70, 120]\ntransconductance_pct = [82, 115]\n'
    )
    found = rules(SHIPPED + own)
    assert found.bands("12AX7", found.grades[0])["plate_current"].low == 0.7
    assert found.bands("12AU7", found.grades[0])["plate_current"].low == 0.75
    assert found.bands(None, found.grades[0])["plate_current"].low == 0.75
    assert found.bands("12AX7", found.grades[1])["plate_current"].low == 0.6


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("format = 1", "format = 2", "this program reads format 1"),
        ('edition = "1"', "edition = 1", "edition must be a text"),
        ("[75, 125]", "[125, 75]", "low below its high"),
        ("[75, 125]", "[0, 125]", "must be [low, high]"),
        ("[75, 125]", '["75", 125]', "must be [low, high]"),
        ("[75, 125]", "[55, 125]", "reaches beyond"),
        ('printed = "new"', 'printed = "old"', "new or end of life"),
        ('basis = "common practice"', 'basis = "hearsay"', "basis must be"),
        ('word = "sound"', 'word = "fresh"', "used twice"),
        ('hold_at_best = "sound"', 'hold_at_best = "fine"', "names no grade"),
        ('below = "spent"', 'under = "spent"', "no key is named 'under'"),
        ("format = 1", "format = 1\nnotes = 3", "no key is named 'notes'"),
        ("[words]", "[[words]]", "must be a table"),
    ],
)
def test_rules_that_make_no_sense_are_refused_with_the_place(old, new, said):
    assert old in SHIPPED
    with pytest.raises(GradeRulesError, match=re.escape(said)):
        rules(SHIPPED.replace(old, new, 1))


@pytest.mark.parametrize("text", ["", "format = 1", "format = ", "\udcff"])
def test_what_is_no_such_file_is_refused(text):
    with pytest.raises(GradeRulesError):
        read_grade_rules(text.encode("utf-8", "surrogateescape"), "grades.toml")


def test_a_types_limits_are_held_to_be_in_order_too():
    own = (
        '\n[types."12AX7".fresh]\nplate_current_pct = [50, 120]\ntransconductance_pct = [82, 115]\n'
    )
    with pytest.raises(GradeRulesError, match=r"12AX7.*reaches beyond"):
        rules(SHIPPED + own)


def test_the_users_own_file_goes_first_and_a_faulty_one_is_not_passed_over(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert load_grade_rules().edition == "1"
    own = tmp_path / "curvelab" / "grades.toml"
    own.parent.mkdir()
    own.write_text(SHIPPED.replace('edition = "1"', 'edition = "spring"'), encoding="utf-8")
    assert load_grade_rules().edition == "spring"
    own.write_text("nonsense", encoding="utf-8")
    with pytest.raises(GradeRulesError, match="not a TOML file"):
        load_grade_rules()
    with pytest.raises(GradeRulesError, match="such file"):
        load_grade_rules(tmp_path / "missing.toml")
