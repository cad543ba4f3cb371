"""Behaviour: separators, decimal marks, encodings, line ends and quotes."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.ingest.decode import split_lines
from curvelab.ingest.dialect import detect_dialect
from curvelab.ingest.numbers import read_number, read_quantity


def lines_of(readings, separator=",", decimal="."):
    rows = [separator.join(("plate_v", "grid_v", "plate_ma"))]
    rows += [
        separator.join(f"{value:.3f}".replace(".", decimal) for value in row) for row in readings
    ]
    return rows


@pytest.mark.parametrize(
    ("separator", "decimal"),
    [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", ","), (" ", "."),
     ("   ", "."), ("  ", ","), (", ", "."), ("; ", ","), (" ; ", ",")],
)  # fmt: skip
def test_separators_and_decimal_marks(read, readings, same_family, separator, decimal):
    result = read("\n".join(lines_of(readings, separator, decimal)))
    same_family(result.sweeps[0])
    assert result.set_aside == ()


def test_right_aligned_columns_of_blanks(read, readings, same_family):
    rows = ["   plate_v   grid_v  plate_ma"]
    rows += [f"{vp:10.1f}{vg:9.1f}{ip:10.3f}" for vp, vg, ip in readings]
    same_family(read("\n".join(rows)).sweeps[0])


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(read, readings, same_family, end):
    result = read(end.join(lines_of(readings)) + end)
    same_family(result.sweeps[0])
    assert result.sweeps[0].readings.line.tolist() == list(range(2, 17))


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [("utf-8", b""), ("utf-8", b"\xef\xbb\xbf"), ("cp1252", b""), ("utf-16", b""),
     ("utf-16-le", b""), ("utf-16-be", b""), ("utf-16-be", b"\xfe\xff")],
)  # fmt: skip
def test_encodings(read, readings, same_family, encoding, mark):
    text = "# bench: Prüfplatz\nUa (V);Ug (V);Ia (mA);Ig (\u00b5A)\n"
    text += "".join(f"{vp};{vg};{ip};-0.1\n" for vp, vg, ip in readings)
    (sweep,) = read(mark + text.encode(encoding)).sweeps
    same_family(sweep)
    np.testing.assert_allclose(sweep.readings.grid_current, -1e-7)
    assert sweep.metadata["bench"] == "Prüfplatz"


@pytest.mark.parametrize("first", ["sep=;", '"sep=;"', "SEP=;", "sep=;;;"])
def test_separator_line_of_a_spreadsheet(read, readings, same_family, first):
    result = read("\n".join([first, *lines_of(readings, ";", ",")]))
    same_family(result.sweeps[0])
    assert result.set_aside == ()


def test_quoted_cells(read, readings, same_family):
    rows = [
        ",".join(f'"{cell}"' for cell in row.split(";")) for row in lines_of(readings, ";", ",")
    ]
    same_family(read("\n".join(rows)).sweeps[0])


@pytest.mark.parametrize("tail", [",", ",,,", ", ,"])
def test_trailing_separators(read, readings, same_family, tail):
    result = read("\n".join(row + tail for row in lines_of(readings)))
    same_family(result.sweeps[0])
    assert result.set_aside == ()


def test_trailing_separators_under_a_clean_heading(read, readings, same_family):
    heading, *rows = lines_of(readings)
    same_family(read("\n".join([heading, *(row + "," for row in rows)])).sweeps[0])


def test_blank_lines_and_comments_between_rows(read, readings, same_family):
    rows = lines_of(readings)
    rows[5:5] = ["", "# pause for the meter", "   ", ";;;" if False else ",,", "% another"]
    result = read("\n".join(rows))
    same_family(result.sweeps[0])
    assert result.set_aside == ()


def test_an_unclosed_quote_ends_at_its_line(read):
    result = read('plate_v,grid_v,plate_ma\n100,-2,5\n"150,-2,9\n200,-2,14\n')
    assert result.sweeps[0].readings.plate_voltage.tolist() == [100, 200]
    (row,) = result.set_aside
    assert row.line == 3 and '"150' in row.text


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("1.2e-3", ".", 1.2e-3),
        ("-8", ".", -8.0),
        ("\u22128.5", ".", -8.5),
        ("+.5", ".", 0.5),
        ("1,234.5", ".", 1234.5),
        ("1'234.5", ".", 1234.5),
        ("1.234,5", ",", 1234.5),
        ("1 234,5", ",", 1234.5),
        ("1\u00a0234,5", ",", 1234.5),
        ("9,12", ",", 9.12),
        ("9.12", ",", 9.12),
        ("1,2E-3", ",", 1.2e-3),
        ("9,12", ".", None),
        ("1.2.3", ".", None),
        ("1_000", ".", None),
        ("inf", ".", None),
        ("1e400", ".", None),
        ("=cmd()", ".", None),
        ("", ".", None),
    ],
)
def test_numbers(cell, decimal, value):
    assert read_number(cell, decimal) == value


def test_quantities():
    value, unit = read_quantity("-2 V") or (0, None)
    assert value == -2 and unit is not None and unit.symbol == "V"
    assert read_quantity("9 bananas") is None


def test_thousands_separators_in_a_file(read):
    result = read("Vp;Vg;Ip (uA)\n1.000,5;-20;9.123,4\n1.100,0;-20;12.000,1\n")
    readings = result.sweeps[0].readings
    np.testing.assert_allclose(readings.plate_voltage, [1000.5, 1100])
    np.testing.assert_allclose(readings.plate_current, [9123.4e-6, 12000.1e-6])
    result = read('Vp,Vg,Ip (uA)\n"1,000.5",-20,"9,123.4"\n"1,100.0",-20,"12,000.1"\n')
    np.testing.assert_allclose(result.sweeps[0].readings.plate_voltage, [1000.5, 1100])


def test_commas_before_three_digits_are_a_guess_and_said(read):
    result = read("Vp;Vg;Ip (mA)\n100;-2;5,125\n150;-2;9,250\n")
    np.testing.assert_allclose(result.sweeps[0].readings.plate_current, [5.125e-3, 9.25e-3])
    assert any(item.guessed and "decimal commas" in item.text for item in result.remarks)


def test_lines_are_split_at_line_ends_only():
    assert split_lines("a\x0cb\u2028c\r\nd\re\n") == ["a\x0cb\u2028c", "d", "e", ""]


def test_metadata_do_not_mislead_the_dialect():
    lines = ["# a; b; c; d", "# note: x;y", "Vp,Vg,Ip", "1,2,3", "1,2,3"]
    assert detect_dialect(lines).separator == ","


@pytest.mark.parametrize(
    "heading", ["Plate V   Grid V   Plate mA", "Ua (V) Ug (V) Ia (mA)", "plate_v grid_v  plate_ma"]
)
def test_names_with_blanks_over_columns_of_blanks(read, readings, same_family, heading):
    rows = [f"{vp}  {vg}  {ip}" for vp, vg, ip in readings]
    same_family(read("\n".join([heading, *rows])).sweeps[0])
