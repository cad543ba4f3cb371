"""Identity and behaviour: a table keeps every part of every cell at any width."""

from __future__ import annotations

import pytest

from curvelab.cli.table import table_text

ROWS = [
    [("tube",), ("Ip (mA)",), ("verdict",)],
    [("A17", "section 1"), ("9.12", "± 0.05", "101 %"), ("accept",)],
    [("B02",), ("-",), ("hold",)],
]


def test_with_room_each_row_is_a_line():
    lines = table_text(ROWS, 120).splitlines()
    assert lines[0].split() == ["tube", "Ip", "(mA)", "verdict"]
    assert lines[2] == "A17 section 1  9.12 ± 0.05 101 %  accept"
    assert len(lines) == 4


def test_with_less_room_the_last_parts_stand_below():
    lines = table_text(ROWS, 38).splitlines()
    assert lines[2] == "A17 section 1  9.12 ± 0.05  accept"
    assert lines[3].strip() == "101 %"


@pytest.mark.parametrize("width", range(1, 60))
def test_nothing_is_lost_and_the_width_is_kept_where_it_can_be(width):
    text = table_text(ROWS, width)
    for row in ROWS:
        for cell in row:
            assert all(part in text for part in cell)
    narrowest = max(map(len, table_text(ROWS, 1).splitlines()))
    assert max(map(len, text.splitlines())) <= max(width, narrowest)
