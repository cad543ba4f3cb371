"""Behaviour and refusal: lots with little in them, and with names that nobody would choose.

The tubes are simulated (`helpers.boxes_of_tubes`); every figure is invented.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from openpyxl import load_workbook

from helpers.boxes_of_tubes import write_box, write_named
from helpers.lot_commands import as_json, lot
from helpers.pdf_pages import needs_poppler, page_texts

ODD = ("=1+1", "@SUM(A1)", "+cmd|calc", "-2", "../../etc/passwd", "a\\b", "№ 7 ☃", "CON",
       "<b>&amp;</b>", "semi;colon", "turned \u202e round", "x" * 150)  # fmt: skip


@pytest.fixture
def path(tmp_path) -> Path:
    assert lot("create", tmp_path / "odd.lot")[0] == 0
    return tmp_path / "odd.lot"


@pytest.fixture(scope="module")
def sweeps(tmp_path_factory) -> Path:
    return write_box(tmp_path_factory.mktemp("box")).folder


def test_an_empty_lot_says_so_everywhere(path, tmp_path):
    for command, says in (
        ("list", "holds no tube"), ("sets", "holds no set"), ("claims", "No tube is rejected"),
        ("match", "holds no tube"), ("grade", "no tube"),
    ):  # fmt: skip
        status, out, err = lot(command, path)
        assert (status, says in out, err) == (0, True, ""), command
    for command, out in (("labels", "l.pdf"), ("set-sheets", "s.pdf"), ("listing", "shop")):
        status, said, err = lot(command, path, tmp_path / out)
        assert (status, said, "nothing is written" in err) == (0, "", True), command
        assert not (tmp_path / out).exists()
    status, out, err = lot("mate", path, "--figures", "250,-8,9", "--type", "6J5")
    assert (status, "holds no other tube" in out, err) == (0, True, "")
    for command in (("mate", path, "X"), ("returned", path, "X")):
        assert lot(*command) == (1, "", f"curvelab: {path}: it holds no tube 'X'\n")
    document = as_json("match", path, "--what-if")
    assert (document["sets"], document["left_over"], document["proven"]) == ([], [], True)
    assert lot("report", path, tmp_path / "r.csv", "--no-grades") == (0, "", "")
    assert (tmp_path / "r.csv").read_text("utf-8").count("\n") == 1


def test_one_tube_has_no_partner(path, sweeps, tmp_path):
    lot("add", path, sweeps / "ARC-01.csv")
    status, out, _ = lot("match", path, "--spare", "--sheets", tmp_path / "s.pdf")
    assert status == 0
    assert "No set of 2 with 1 spare lies within 5 %." in out
    assert not (tmp_path / "s.pdf").exists()
    (left,) = as_json("match", path)["nearest"]
    assert (left["tube"], left["partner"], left["free_partner"]) == ("ARC-01", None, None)


def test_nothing_but_rejects(path, sweeps, tmp_path):
    lot("add", path, *(sweeps / f"ARC-{number}.csv" for number in (13, 14, 16)))
    assert "No tube is left that could be in a set." in lot("match", path)[1]
    assert {tube["grade"] for tube in as_json("grade", path)["tubes"]} == {"barred"}
    status, out, err = lot("listing", path, tmp_path / "shop", "--no-grades")
    assert (status, out) == (0, "")
    assert "nothing of what was asked for is to be offered" in err
    assert not (tmp_path / "shop").exists()
    assert len(as_json("claims", path)["claims"]) == 3


@pytest.mark.parametrize("label", ["# type: XZ-9", ""])
def test_a_type_that_no_library_holds_and_no_type_at_all(path, sweeps, tmp_path, label):
    for number in (7, 8):
        text = (sweeps / f"ARC-{number:02d}.csv").read_text("utf-8")
        (tmp_path / f"{number}.csv").write_text(text.replace("# type: 6J5", label), "utf-8")
    status, out, err = lot("add", path, tmp_path / "7.csv", tmp_path / "8.csv")
    assert (status, err) == (0, "")
    graded = as_json("grade", path)["tubes"]
    assert {tube["grade"] for tube in graded} == {"ungraded"}
    assert all("no family" in tube["reasons"][0] for tube in graded)
    document = as_json("match", path)
    if label:
        assert "Not in the library" in out
        assert [one["tubes"] for one in document["sets"]] == [["ARC-07", "ARC-08"]]
    else:  # who knows whether they are the same?
        assert document["sets"] == []
        assert {one["reasons"][0].split(":")[0] for one in document["excluded"]} == {
            "no type is named"
        }
    assert lot("add", path, "--again", "--type", "6J5", *tmp_path.glob("?.csv"))[0] == 0
    assert len(as_json("match", path)["sets"]) == 1
    assert "fresh" in {tube["grade"] for tube in as_json("grade", path)["tubes"]}


@needs_poppler
def test_odd_names_are_names_and_nothing_else(path, tmp_path):
    folder = tmp_path / "sweeps"
    folder.mkdir()
    write_named(folder, ODD)
    house = ("--lot", "=lot", "--supplier", '=HYPERLINK("x")', "--note", "@n", "--mark", "+1")
    assert lot("add", path, folder, *house)[0] == 0
    held = [tube["serial"] for tube in as_json("list", path)["tubes"]]
    assert held == [name.replace("\u202e", " ") for name in ODD]
    kept = as_json("match", path, "--keep", "=set")["sets"]
    assert len(kept) == len(ODD) // 2
    assert lot("overrule", path, "=1+1", "hold", "--reason", "r", "--person", "p")[0] == 0
    assert lot("mate", path, "--", "-2")[1].startswith("-2, by plate current")
    assert lot("report", path, tmp_path / "r.csv", "--no-grades")[0] == 0
    with (tmp_path / "r.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))[1:]
    assert len(rows) == len(ODD)
    for cell in (cell for row in rows for cell in row):
        assert not cell.startswith(("=", "+", "@")), cell
        assert not cell.startswith("-") or float(cell) < 0  # a number is no formula
    assert lot("report", path, tmp_path / "r.xlsx", "--no-grades")[0] == 0
    book = load_workbook(tmp_path / "r.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert "=1+1" in {cell.value for cell in cells}
    assert not [cell.value for cell in cells if cell.data_type == "f"]
    for command, out in (("labels", "l.pdf"), ("set-sheets", "s.pdf"), ("report", "r.pdf")):
        assert lot(command, path, tmp_path / out, "--no-grades")[0] == 0
    assert "../../etc/passwd" in " ".join(page_texts(tmp_path / "l.pdf"))
    shop = tmp_path / "shop"
    assert lot("listing", path, shop, "--no-grades", "--tube", "../../etc/passwd")[0] == 0
    written = sorted(item.name for item in shop.iterdir())
    assert len(written) == 2
    assert all(name.startswith("set-set-") for name in written)
