"""Behaviour: the line of a type file that a refusal is about."""

from __future__ import annotations

import tomllib

import pytest

from curvelab.errors import ReferenceDataError
from curvelab.reference.typeplace import line_of_refusal
from helpers.type_files import parse, type_text

TEXT = type_text("1XA1", more='[[ratings]]\nsystem = "absolute"\nsource = "N1"\n'
                 'status = "verified"\nplate_v = 400\n')  # fmt: skip


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ("heater_v = 6.3", "heater_v = -6.3"),
        ("plate_w = 2.5", "plate_w = 'x'"),
        ("plate_v = 400", "plate_v = 'x'"),
        ("gm_umho = 2600", "gm_umho = 'x'"),
        ('cathode = "indirect"', 'cathode = "cold"'),
    ],
)
def test_a_refused_figure_is_found_where_it_stands(good, bad):
    text = TEXT.replace(good, bad, 1)
    with pytest.raises(ReferenceDataError) as refused:
        parse(text)
    line = line_of_refusal(text, str(refused.value))
    assert bad in text.splitlines()[line - 1]


def test_the_reader_of_toml_names_its_line():
    with pytest.raises(tomllib.TOMLDecodeError) as refused:
        tomllib.loads("a = 1\nb = \n")
    assert line_of_refusal("a = 1\nb = \n", f"x: not TOML ({refused.value})") == 2


def test_what_has_no_place_has_no_line():
    assert line_of_refusal(TEXT, "the name 'x' is claimed by two") is None
