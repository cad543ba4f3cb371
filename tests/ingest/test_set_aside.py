"""Behaviour: nothing of a file is lost, and every figure leads back to its line."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from curvelab.ingest.scan import LONGEST_LINE

HEAD = "plate_v,grid_v,plate_ma,grid_ua\n"


@pytest.mark.parametrize("cell", ["OL", "ol", "OVLD", "O.L", "overload", "---", "-", "NaN", "nan",
                                  "n/a", "inf", "1e999", "abc", "=cmd()", "9.1.2"])  # fmt: skip
def test_a_row_without_a_readable_current_is_set_aside(read, cell):
    result = read(HEAD + f"100,-2,5,0\n150,-2,{cell},0\n200,-2,14,0\n")
    assert result.sweeps[0].readings.line.tolist() == [2, 4]
    (row,) = result.set_aside
    assert (row.file, row.line) == ("A17.csv", 3)
    assert cell in row.text and "plate current" in row.reason
    assert result.sweeps[0].set_aside == (row,)


def test_a_row_with_an_empty_required_cell_is_set_aside(read):
    result = read(HEAD + "100,-2,5,0\n,-2,9,0\n200,,14,0\n200,-2\n")
    reasons = [item.reason for item in result.set_aside]
    assert reasons == [
        "the row has no plate voltage",
        "the row has no grid voltage",
        "the row has no plate current",
    ]
    assert len(result.sweeps[0].readings) == 1


def test_an_unreadable_grid_current_keeps_the_reading(read):
    result = read(HEAD + "100,-2,5,OL\n150,-2,9,\n200,-2,14,-0.1\n")
    found = result.sweeps[0].readings
    assert len(found) == 3
    assert np.isnan(found.grid_current).tolist() == [True, True, False]
    (cell,) = result.set_aside  # the empty cell is simply no reading
    assert cell.line == 2 and "grid current" in cell.reason and "kept" in cell.reason


def test_an_over_range_cell_of_a_wide_file_is_set_aside_and_an_empty_one_is_not(read):
    result = read("Vp;-2 V;-4 V\n100;5;OL\n150;;4\nOL;9;5\n200;15;8\n")
    assert len(result.sweeps[0].readings) == 4
    assert [item.line for item in result.set_aside] == [2, 4]


def test_too_many_cells_are_set_aside(read):
    result = read("plate_v,grid_v,plate_ma\n100,-2,5\n150,0,-2,0,9,1\n200,-2,14\n")
    (row,) = result.set_aside
    assert "6 cells where the heading has 3" in row.reason


def test_text_between_rows_and_at_the_end_is_set_aside(read):
    result = read("plate_v,grid_v,plate_ma\n100,-2,5\nmeter paused\n150,-2,9\n2 readings in all\n")
    assert [item.line for item in result.set_aside] == [3, 5]
    assert len(result.sweeps[0].readings) == 2


def test_a_line_of_absurd_length_is_set_aside_shortened(read):
    result = read("plate_v,grid_v,plate_ma\n100,-2,5\n1" + "0" * (LONGEST_LINE + 5) + ",-2,9\n")
    (row,) = result.set_aside
    assert (
        row.line == 3 and len(row.text) <= 120 and f"{LONGEST_LINE + 11} characters" in row.reason
    )


def test_a_long_cell_is_shortened_in_the_message(read):
    result = read("plate_v,grid_v,plate_ma\n100,-2,5\n150,-2," + "x" * 5000 + "\n")
    assert len(result.set_aside[0].reason) < 120 and len(result.set_aside[0].text) <= 120


def test_control_characters_do_not_reach_a_message(read):
    result = read("plate_v,grid_v,plate_ma\n100,-2,5\n150,-2,\x1b[31mred\n" + "200,-2,9\n" * 50)
    assert result.set_aside[0].text.isprintable() and result.set_aside[0].reason.isprintable()


def test_rows_of_one_tube_stay_with_it_and_others_are_shared(read):
    result = read(
        "# tube: A1\nplate_v,grid_v,plate_ma\n100,-2,OL\n150,-2,9\n"
        "# tube: A2\n100,-2,5\n150,-2,9\nwho knows\n"
    )
    first, second = result.sweeps
    assert [item.line for item in first.set_aside] == [3, 8]
    assert [item.line for item in second.set_aside] == [8]
    assert [item.line for item in result.set_aside] == [3, 8]


def test_a_tube_whose_every_row_is_unreadable_is_not_forgotten(read):
    result = read(
        "# tube: A1\nplate_v,grid_v,plate_ma\n100,-2,OL\n# tube: A2\n100,-2,5\n150,-2,9\n"
    )
    assert [sweep.tube for sweep in result.sweeps] == ["A2"]
    assert [item.line for item in result.set_aside] == [3]


def test_rows_of_a_tube_column_file(read):
    result = read("tube,plate_v,grid_v,plate_ma\nA1,100,-2,5\nA1,150,-2,OL\nA2,100,-2,6\n")
    assert [item.line for item in result.set_aside] == [3]
    assert [len(sweep.readings) for sweep in result.sweeps] == [1, 1]


def test_source_bytes_and_hash_are_kept(read):
    content = b"plate_v,grid_v,plate_ma\r\n100,-2,5\r\n"
    result = read(content)
    assert result.source.content == content
    assert result.source.sha256 == hashlib.sha256(content).hexdigest()
    assert result.source.name == "A17.csv"
    assert result.sweeps[0].source is result.source


def test_every_line_is_a_reading_or_set_aside_or_understood(read):
    rng = np.random.default_rng(3)
    rows = []
    for i in range(200):
        cells = [f"{i}", f"{-2}", f"{i / 20}", "0"]
        if rng.random() < 0.3:
            cells[int(rng.integers(3))] = rng.choice(["OL", "x", ""])
        rows.append(",".join(cells))
    result = read(HEAD + "\n".join(rows))
    lines = [*result.sweeps[0].readings.line, *(item.line for item in result.set_aside)]
    assert sorted(lines) == list(range(2, 202))
