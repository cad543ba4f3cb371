"""Behaviour and refusal: ``curvelab lot`` on real files."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing

import pytest

from curvelab.catalog.schema import VERSION
from curvelab.cli import main
from helpers.sweeps import write_sweep


@pytest.fixture
def run(capsys):
    def command(*arguments: object) -> tuple[int, str, str]:
        status = main(["lot", *map(str, arguments)])
        out, err = capsys.readouterr()
        return status, out, err

    return command


@pytest.fixture
def lot(tmp_path, run):
    path = tmp_path / "spring.lot"
    write_sweep(tmp_path / "A17.csv")
    assert run("create", path) == (0, "", "")
    return path


def test_from_an_empty_file_to_a_list(run, lot, tmp_path):
    assert run("list", lot) == (0, "The lot file holds no tube.\n", "")
    status, out, err = run("add", lot, tmp_path / "A17.csv", "--lot", "spring", "--cost", "4.50")
    assert (status, err) == (0, "")
    assert "A17" in out
    assert "filed: 1" in out
    status, out, _ = run("list", lot)
    assert status == 0
    row = next(line for line in out.splitlines() if line.startswith("A17"))
    assert "spring" in row
    assert "accept" in row
    status, out, _ = run("add", lot, tmp_path / "A17.csv")
    assert (status, out) == (0, "filed: 0\nin the lot already, left as they are: 1\n")


def test_the_list_as_json(run, lot, tmp_path):
    run("add", lot, tmp_path / "A17.csv", "--return-by", "2031-04-01", "--mark", "a bell")
    status, out, err = run("list", lot, "--json", "-")
    assert (status, err) == (0, "")
    document = json.loads(out)
    assert (document["schema"], document["extent"]) == ("curvelab.lot/1", "list")
    (tube,) = document["tubes"]
    assert (tube["serial"], tube["return_by"], tube["maker_mark"]) == (
        "A17",
        "2031-04-01",
        "a bell",
    )
    assert tube["verdict"] == "accept"
    constants = tube["results"][0]["constants"]
    main(["characterize", str(tmp_path / "A17.csv"), "--json", str(tmp_path / "r.json")])
    made = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))["tubes"][0]
    assert constants == made["constants"]
    assert tube["results"][0]["operating_point"] == made["operating_point"]


def test_what_was_added_as_json_is_that_of_the_main_job(run, lot, tmp_path):
    status, out, _ = run("add", lot, tmp_path / "A17.csv", "--json", "-")
    assert status == 0
    assert json.loads(out)["schema"] == "curvelab.characteristics/1"


def test_an_export_can_be_added_to_another_lot(run, lot, tmp_path):
    run("add", lot, tmp_path / "A17.csv")
    assert run("export", lot, tmp_path / "all.json") == (0, "", "")
    other = tmp_path / "other.lot"
    run("create", other)
    status, out, _ = run("add", other, tmp_path / "all.json")
    assert (status, "taken in from an export: 1 new tubes, 1 files" in out) == (0, True)
    assert run("export", other, "-")[1] == (tmp_path / "all.json").read_text(encoding="utf-8")


def test_hand_tests_from_a_table(run, lot, tmp_path):
    table = tmp_path / "tests.csv"
    table.write_text("tube,shorts\nA17,plate to grid\n")
    status, out, _ = run("add", lot, tmp_path / "A17.csv", "--hand-tests", table)
    assert (status, "hand tests entered: 1" in out) == (0, True)
    assert "reject" in run("list", lot)[1]
    assert run("add", lot, "--hand-tests", tmp_path / "none.csv")[0] == 3


def test_a_file_that_cannot_be_read_is_told_and_the_rest_is_filed(run, lot, tmp_path):
    status, out, err = run("add", lot, tmp_path / "A17.csv", tmp_path / "none.csv")
    assert status == 3
    assert "filed: 1" in out
    assert "none.csv: there is no such file" in err


def test_what_cannot_be_opened_is_one_plain_line(run, lot, tmp_path):
    for arguments in (
        ("create", lot),
        ("list", tmp_path / "none.lot"),
        ("list", tmp_path / "A17.csv"),
        ("add", tmp_path / "none.lot", tmp_path / "A17.csv"),
        ("export", lot, tmp_path / "no" / "folder.json"),
        ("create", tmp_path / "new.lot", "--salvage", tmp_path / "none.lot"),
        ("create", tmp_path / "no" / "folder.lot"),
    ):
        status, out, err = run(*arguments)
        assert (status, out) == (1, "")
        assert len(err.splitlines()) == 1


def test_wrong_usage(capsys, lot, tmp_path):
    for arguments in (
        [], ["add", lot], ["add", lot, "a.csv", "--cost", "much"],
        ["add", lot, "a.csv", "--return-by", "soon"], ["export", lot], ["sell", lot],
    ):  # fmt: skip
        with pytest.raises(SystemExit) as end:
            main(["lot", *map(str, arguments)])
        assert end.value.code == 2
    assert main(["lot", "add", str(lot), str(tmp_path / "A17.csv"), "--type", "6ZZ9"]) == 2
    capsys.readouterr()


def test_a_newer_file_is_listed_and_not_changed(run, lot, tmp_path):
    run("add", lot, tmp_path / "A17.csv")
    with closing(sqlite3.connect(lot)) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    status, out, err = run("list", lot)
    assert (status, "A17" in out, "only read" in err) == (0, True, True)
    status, _, err = run("add", lot, tmp_path / "A17.csv")
    assert (status, "newer curvelab" in err) == (1, True)


def test_a_damaged_file_is_salvaged(run, lot, tmp_path):
    run("add", lot, tmp_path / "A17.csv")
    with closing(sqlite3.connect(lot)) as connection, connection:
        connection.execute("UPDATE source SET content = x'00'")
    status, out, err = run("create", tmp_path / "saved.lot", "--salvage", lot)
    assert status == 3
    assert "1 tube" in out
    assert "A17.csv are damaged" in err
    assert "A17" in run("list", tmp_path / "saved.lot")[1]
