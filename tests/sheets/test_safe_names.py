"""Behaviour and refusal: no name out of a file becomes a path, and no two tubes one file."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curvelab.sheets.names import safe_file_stem


@pytest.mark.parametrize(
    ("tube", "section", "stem"),
    [
        ("A17", None, "A17"),
        ("A17", "2", "A17_section-2"),
        ("../../etc/passwd", None, "etc-passwd"),
        ("C:\\tubes\\A 17", None, "C-tubes-A-17"),
        (".hidden", None, "hidden"),
        ("...", None, "tube"),
        ("", None, "tube"),
        ("con", None, "con_tube"),
        ("LPT1", None, "LPT1_tube"),
        ("a\x00b\nc", None, "a-b-c"),
        ("Röhre µ", None, "Röhre-μ"),
    ],
)
def test_known_names(tube, section, stem):
    assert safe_file_stem(tube, section) == stem


def test_two_tubes_never_share_a_file():
    used: set[str] = set()
    for name in ["A17", "a17", "A/17", "A.17", "A-17", "A17"]:
        stem = safe_file_stem(name, None, used)
        assert stem.casefold() not in {one.casefold() for one in used}
        used.add(stem)
    assert used == {"A17", "a17_2", "A-17", "A-17_2", "A-17_3", "A17_3"}


@given(st.text(), st.none() | st.text())
def test_any_name_is_safe(tube, section):
    stem = safe_file_stem(tube, section)
    assert stem
    assert all(char.isalnum() or char in "-_" for char in stem)
    assert not stem.startswith(("-", "_"))
    assert len(stem.encode("utf-8")) <= 90


@given(st.lists(st.text(alphabet="aA./\\:1 é", max_size=4), max_size=20))
def test_any_lot_gets_as_many_files_as_tubes(names):
    used: list[str] = []
    for name in names:
        used.append(safe_file_stem(name, None, used))
    assert len({stem.casefold() for stem in used}) == len(names)
