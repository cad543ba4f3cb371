"""Behaviour and refusal: the commands that write the papers of a lot."""

from __future__ import annotations

import csv
import sys

import pytest

from curvelab.cli import main
from curvelab.cli.lot_paper_arguments import add_papers
from curvelab.paths import sample_folder
from curvelab.sheets.label import Marks
from curvelab.workbench.lot_upkeep import lock_set
from helpers.lots import EARLY
from helpers.pdf_pages import needs_poppler, page_texts


@pytest.fixture
def run(capsys):
    def command(*arguments: object) -> tuple[int, str, str]:
        try:
            status = main(["lot", *map(str, arguments)])
        except SystemExit as end:  # what argparse does with wrong usage
            status = end.code
        out, err = capsys.readouterr()
        return status, out, err

    return command


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    from curvelab.catalog.records import SetMember, SetState, TubeSet  # noqa: PLC0415

    path = tmp_path_factory.mktemp("lot") / "spring.lot"
    sweeps = [str(sample_folder() / f"{name}.csv") for name in ("PIT-01", "PIT-02", "PIT-03")]
    assert main(["lot", "create", str(path)]) == 0
    assert main(["lot", "add", str(path), *sweeps]) == 0
    members = (SetMember("PIT-01"), SetMember("PIT-02"))
    lock_set(path, TubeSet("P-1", SetState.LOCKED, members, EARLY))
    return path


@needs_poppler
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_report_to_print(run, filled, tmp_path, page):
    out = tmp_path / "report.pdf"
    assert run("report", filled, out, "--page", page) == (0, "", "")
    text = " ".join(page_texts(out))
    for wanted in ("Report of a lot", "PIT-03, 6SN7GTB", "weak-emission", "P-1", "house grades"):
        assert wanted in text, wanted


def test_a_report_to_work_with(run, filled, tmp_path):
    assert run("report", filled, tmp_path / "r.csv", "--no-grades") == (0, "", "")
    with (tmp_path / "r.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["tube"] for row in rows] == ["PIT-01", "PIT-02", "PIT-03"]
    assert {row["grade"] for row in rows} == {"not graded"}
    assert run("report", filled, tmp_path / "r.xlsx") == (0, "", "")
    assert (tmp_path / "r.xlsx").read_bytes().startswith(b"PK")


def test_a_workbook_without_its_package_is_one_plain_line(run, filled, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "xlsxwriter", None)
    status, out, err = run("report", filled, tmp_path / "r.xlsx", "--no-grades")
    assert (status, out) == (1, "")
    assert "xlsxwriter" in err
    assert err.count("\n") == 1
    assert not (tmp_path / "r.xlsx").exists()


@needs_poppler
def test_the_sheet_of_a_set(run, filled, tmp_path):
    assert run("set-sheets", filled, tmp_path / "s.pdf", "--set", "P-1") == (0, "", "")
    (text,) = page_texts(tmp_path / "s.pdf")
    assert "Matched pair" in text
    assert "Set P-1" in text


def test_a_lot_without_sets_writes_no_sheet_and_says_so(run, filled, tmp_path):
    status, out, err = run("set-sheets", filled, tmp_path / "s.pdf", "--lot", "none")
    assert (status, out) == (0, "")
    assert "holds no set" in err
    assert not (tmp_path / "s.pdf").exists()


@needs_poppler
def test_labels_for_one_tube_and_its_set(run, filled, tmp_path):
    out = tmp_path / "l.pdf"
    told = ("--tube", "PIT-01", "--sheet", "38.1x21.2", "--start", 4, "--marks", "outline")
    assert run("labels", filled, out, *told) == (0, "", "")
    (text,) = page_texts(out)
    assert "PIT-01" in text
    assert "PIT-02" in text
    assert "PIT-03" not in text


@pytest.mark.parametrize(
    ("told", "says"),
    [
        (("--sheet", "round"), "no sheet of labels 'round' (there are: 70x37"),
        (("--start", "99"), "there is no label 99 on a sheet of 24"),
        (("--start", "0"), "'0' is not a whole number of at least 1"),
        (("--marks", "stars"), "invalid choice"),
    ],
)
def test_labels_that_cannot_be_are_wrong_usage(run, filled, tmp_path, told, says):
    status, out, err = run("labels", filled, tmp_path / "l.pdf", *told)
    assert (status, out) == (2, "")
    assert says in err
    assert not (tmp_path / "l.pdf").exists()


def test_listings_are_a_text_and_a_picture_each(run, filled, tmp_path):
    status, out, err = run("listing", filled, tmp_path / "shop")
    assert (status, err) == (0, "")
    assert [line.rsplit("/", 1)[-1] for line in out.splitlines()] == ["set-P-1.txt", "set-P-1.png"]
    text = (tmp_path / "shop" / "set-P-1.txt").read_text(encoding="utf-8")
    assert text.startswith("Matched pair of 6SN7GTB: PIT-01, PIT-02 (set P-1)\n")
    assert (tmp_path / "shop" / "set-P-1.png").read_bytes().startswith(b"\x89PNG")
    _, out, _ = run("listing", filled, tmp_path / "shop", "--tube", "PIT-03")
    text = (tmp_path / "shop" / "PIT-03.txt").read_text(encoding="utf-8")
    assert text.startswith("REJECT, not fit for use: ")


@pytest.mark.parametrize("command", ["report", "set-sheets", "labels", "listing"])
def test_a_tube_that_is_not_there_is_one_plain_line(run, filled, tmp_path, command):
    status, out, err = run(command, filled, tmp_path / "x.pdf", "--tube", "Z")
    assert (status, out) == (1, "")
    assert err == f"curvelab: {filled}: it holds no tube 'Z'\n"


def test_the_marks_that_can_be_asked_for_are_those_there_are():
    choices: list[tuple[str, ...]] = []

    class Spy:
        def add_argument(self, *names: str, **given: object) -> None:
            if "--marks" in names:
                choices.append(given["choices"])

    add_papers(lambda name, says: Spy())
    assert choices == [tuple(map(str, Marks))]


@pytest.mark.parametrize(
    ("command", "name"), [("report", "r.doc"), ("labels", "l.png"), ("set-sheets", "spring.lot")]
)
def test_a_paper_is_never_written_under_a_name_of_another_kind(
    run, filled, tmp_path, command, name
):
    status, out, err = run(command, filled, tmp_path / name)
    assert (status, out, "does not end in .pdf" in err) == (2, "", True)
    assert not (tmp_path / name).exists()


def test_claims_of_a_supplier_without_rejects_do_not_say_that_none_is_rejected(run, filled):
    assert run("claims", filled, "--supplier", "nobody") == (
        0, "No tube of supplier 'nobody' is rejected.\n", "",
    )  # fmt: skip


def test_the_list_fits_a_usual_terminal_and_parts_what_was_found(run, filled, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    status, out, err = run("list", filled)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 100
    assert "weak-emission," in out
    monkeypatch.setenv("COLUMNS", "200")
    assert "weak-emission, far-from-bogey" in run("list", filled)[1]
