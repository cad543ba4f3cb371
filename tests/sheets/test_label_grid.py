"""Closed form and refusal: where labels lie on a sheet, and sheets that cannot be."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.errors import LabelSheetError
from curvelab.sheets.label_grid import LabelGrid, Spot, place_labels, read_label_sheets
from helpers.checkout import ROOT

GRID = LabelGrid(210, 297, 8.0, 21.5, 48.5, 25.4, 50.0, 26.0, 4, 10)
TOML = b"""
[small]
page_width = 210
page_height = 297
left = 8
top = 21.5
width = 48.5
height = 25.4
across = 50
down = 26
columns = 4
rows = 10
"""


def test_labels_lie_row_by_row_at_their_pitch():
    spots = place_labels(GRID, 6)
    assert [(spot.left, spot.top) for spot in spots] == [
        (8.0, 21.5),
        (58.0, 21.5),
        (108.0, 21.5),
        (158.0, 21.5),
        (8.0, 47.5),
        (58.0, 47.5),
    ]
    assert {spot.sheet for spot in spots} == {0}


def test_a_sheet_begun_goes_on_where_it_was_left_and_then_on_a_new_one():
    spots = place_labels(GRID, 3, start=39)
    assert spots == [
        Spot(0, 108.0, 21.5 + 9 * 26.0),
        Spot(0, 158.0, 21.5 + 9 * 26.0),
        Spot(1, 8.0, 21.5),
    ]


@pytest.mark.parametrize("start", [0, 41, -3])
def test_a_label_that_is_not_there_cannot_be_the_first(start):
    with pytest.raises(LabelSheetError, match=f"there is no label {start} on a sheet of 40"):
        place_labels(GRID, 1, start)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"across": 48.0}, "the labels overlap: across is 48 mm, less than their 48.5 mm"),
        ({"down": 20.0}, "the labels overlap: down"),
        ({"left": 20.0}, "beyond the page of 210 x 297 mm"),
        ({"rows": 11}, "beyond the page"),
        ({"columns": 0}, "at least one column"),
        ({"height": 5.0}, "too small: 8 mm a side at least"),
        ({"top": float("nan")}, "top is nan, wanted: a length"),
        ({"left": -1.0}, "left is -1.0, wanted: a length"),
    ],
)
def test_an_impossible_sheet_is_refused_with_what_is_wrong(change, told):
    with pytest.raises(LabelSheetError, match=told):
        replace(GRID, **change)


def test_a_sheet_is_read_from_toml():
    assert read_label_sheets(TOML, "own.toml") == {"small": GRID}


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "own.toml: it describes no sheet"),
        (b"\xff", "own.toml"),
        (b"[small", "own.toml"),
        (b"small = 3", r"\[small\]: wanted: a table"),
        (TOML.replace(b"top = 21.5\n", b""), r"\[small\]: top is missing"),
        (TOML + b"gap = 2\n", r"\[small\]: gap is not known"),
        (TOML.replace(b"rows = 10", b"rows = 2.5"), "rows is 2.5, wanted: a whole number"),
        (TOML.replace(b"left = 8", b"left = true"), "left is True, wanted: a length"),
    ],
)
def test_a_faulty_description_is_refused_with_its_place(content, told):
    with pytest.raises(LabelSheetError, match=told):
        read_label_sheets(content, "own.toml")


def test_the_shipped_sheets_are_named_by_their_dimensions():
    content = (ROOT / "resources" / "label_sheets.toml").read_bytes()
    sheets = read_label_sheets(content, "label_sheets.toml")
    assert len(sheets) >= 5
    for name, grid in sheets.items():
        assert name.removeprefix("letter-") == f"{grid.width:g}x{grid.height:g}"
        inches = (grid.page_width, grid.page_height) == (215.9, 279.4)
        assert inches or (grid.page_width, grid.page_height) == (210, 297)
        assert inches == name.startswith("letter-")
        # A sheet is cut evenly: what is left at the right is what is left at the left.
        reach = grid.left + (grid.columns - 1) * grid.across + grid.width
        assert grid.page_width - reach == pytest.approx(grid.left, abs=0.7)
        depth = grid.top + (grid.rows - 1) * grid.down + grid.height
        assert grid.page_height - depth == pytest.approx(grid.top, abs=0.7)
