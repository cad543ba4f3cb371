"""Round trip and refusal: tables read back as they are, and no cell becomes a formula."""

from __future__ import annotations

import csv
import io
import sys
import zipfile
from dataclasses import replace
from datetime import date, datetime

import pytest
from openpyxl import load_workbook

from curvelab.errors import OutputError
from curvelab.sheets.lot_tables import LotTable, lot_tables, tube_table
from curvelab.sheets.spreadsheet import table_csv, workbook
from helpers.papers import GAS, constants, grade, paper_set, paper_tube, result

DAY = date(2031, 3, 20)
NASTY = ('=HYPERLINK("http://x","y")', "+1+1", "-2+3", "@SUM(A1)", "\t=1", "{=1}", "http://x.org")


def read_back(*tables: LotTable):
    content = workbook(tables, title="Report of spring", made_with="curvelab 9.9", day=DAY)
    return load_workbook(io.BytesIO(content)), content


def cells(sheet) -> list[tuple[object, ...]]:
    return [tuple(cell.value for cell in row) for row in sheet.iter_rows()]


def test_tables_come_back_with_numbers_as_numbers_and_days_as_days():
    table = LotTable("tubes", ("tube", "Ip", "on"), (("A", 9.125, DAY), ("B", None, None)))
    book, _ = read_back(table, LotTable("sets", ("set",), ()))
    assert book.sheetnames == ["tubes", "sets"]
    assert cells(book["tubes"]) == [
        ("tube", "Ip", "on"),
        ("A", 9.125, datetime(2031, 3, 20)),
        ("B", None, None),
    ]
    assert book.properties.title == "Report of spring"
    assert book.properties.created == datetime(2031, 3, 20)


@pytest.mark.parametrize("text", NASTY)
def test_no_text_becomes_a_formula_or_a_link(text):
    tube = paper_tube(text, supplier=text, maker_mark=text, found=[replace(GAS, evidence=text)])
    tables = lot_tables([tube], [replace(paper_set("S", text), name=text)], DAY)
    book, content = read_back(*tables)
    kinds = {
        cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row if cell.value
    }
    assert "f" not in kinds
    # openpyxl takes a text that begins with "=" for a formula unless the file says string.
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        sheets = [parts.read(name).decode() for name in parts.namelist() if "sheet" in name]
    assert not any("<f>" in part or "hyperlink" in part.lower() for part in sheets)
    for row in csv.reader(io.StringIO(table_csv(tables[0]))):
        assert not any(cell.startswith(("=", "+", "@", "\t", "\r")) for cell in row)
        assert not any(cell.startswith("-") and not cell[1:2].isdigit() for cell in row)


def test_what_no_file_can_hold_is_made_fit():
    tube = paper_tube("a\0b\x1b\udce9", note="x" * 40_000, supplier="y" * 40_000)
    book, _ = read_back(*lot_tables([tube], [], DAY))
    sheet = book["tubes"]
    names = [cell.value for cell in sheet[1]]
    assert sheet.cell(2, names.index("tube") + 1).value == "a b �"
    assert len(sheet.cell(2, names.index("supplier") + 1).value) == 32_767


def test_the_csv_is_the_table_of_the_tubes():
    tubes = [
        paper_tube(
            "A",
            result(constants(9.0, 2.6), section="1"),
            result(constants(None, None), section="2"),
            graded=grade(),
            set_name="P-1",
        ),
        paper_tube("B", found=[GAS], supplier="river quarter"),
    ]
    one, two, other = csv.DictReader(io.StringIO(table_csv(tube_table(tubes))))
    assert (one["tube"], one["section"], one["grade"], one["set"]) == ("A", "1", "fresh", "P-1")
    assert (one["Ip (mA)"], one["Ip u95"], one["Ip of bogey (%)"]) == ("9.0", "0.09", "100.0")
    assert (one["Vp (V)"], one["Vg (V)"], one["Vs (V)"]) == ("250.0", "-8.0", "")
    assert (two["Ip (mA)"], two["Ip outcome"]) == ("", "not covered by the sweep")
    assert (other["cost"], other["return by"]) == ("7.50", "2031-04-01")
    assert other["findings"].startswith("reject gas: An ion current")
    assert other["grade because"] == "it was not asked for"


def test_rejects_sets_counts_and_histograms_have_tables_of_their_own():
    tubes = [paper_tube("A"), paper_tube("B", found=[GAS])]
    tables = {item.name: item for item in lot_tables(tubes, [paper_set("S", "A", "B")], DAY)}
    assert list(tables) == ["tubes", "rejects", "sets", "counts", "percent of bogey"]
    ((*_, cost, until, left, reasons, _, _),) = tables["rejects"].rows
    assert (str(cost), until, left) == ("7.50", date(2031, 4, 1), 12.0)
    assert reasons.startswith("gas: ")
    assert tables["sets"].rows[0][:4] == ("S", None, "A, B", 0.0)
    assert tables["counts"].rows == (
        ("6SN7GTB", "accept", "not graded", 1.0),
        ("6SN7GTB", "reject", "not graded", 1.0),
    )
    counted = [row[4:] for row in tables["percent of bogey"].rows if sum(row[4:])]
    assert counted == [(1.0, 0.0, 1.0)] * 2


def test_without_the_package_there_is_one_plain_line(monkeypatch):
    monkeypatch.setitem(sys.modules, "xlsxwriter", None)
    with pytest.raises(OutputError, match=r"xlsxwriter, which is not installed .* \.csv"):
        workbook([], title="x", made_with="x", day=DAY)
