"""Behaviour: a spreadsheet opens the table as a table, and runs nothing in it."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from curvelab.assessment.records import BenchUsed
from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.sheets.results_csv import results_csv
from helpers.assessments import drifting, gassy, healthy, make_sweep, without_constants
from helpers.lots import EARLY


def rows(*lot):
    return list(csv.DictReader(io.StringIO(results_csv(lot))))


def test_one_row_a_tube_under_headings_with_units():
    table = rows(healthy(), gassy(), without_constants(), drifting())
    assert [row["tube"] for row in table] == ["A17", "B02", "C3", "D-run 2A3"]
    assert [row["verdict"] for row in table] == ["accept", "reject", "hold", "reject"]
    for heading in ("Vp (V)", "Ip (mA)", "gm (mA/V)", "rp (ohm)", "mu", "slope (%/min)"):
        assert heading in table[0]
    assert float(table[0]["gm (mA/V)"]) == 1.63
    assert float(table[0]["rp u95 (ohm)"]) == 900.0


def test_every_row_is_as_wide_as_its_heading():
    wide = list(csv.reader(io.StringIO(results_csv([healthy(), drifting()]))))
    assert len({len(row) for row in wide}) == 1
    assert len(set(wide[0])) == len(wide[0])


def test_what_cannot_be_had_is_empty_beside_its_outcome():
    row = rows(without_constants())[0]
    assert row["gm (mA/V)"] == ""
    assert row["gm outcome"] == "not covered by the sweep"
    assert row["drift"] == ""


def test_findings_stand_in_words():
    found = rows(gassy())[0]["findings"]
    assert found.startswith("reject gas: Reverse grid current")
    assert found.count(";") >= 5


def test_an_empty_lot_has_its_headings():
    text = results_csv([])
    assert text.startswith("tube,section,verdict")
    assert text.count("\n") == 1


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_cell_is_taken_for_a_formula(start):
    evil = f"{start}HYPERLINK(1)"
    tube = healthy(
        sweep=make_sweep(evil, evil, type_label=evil), bench=BenchUsed(evil, assumed=False)
    )
    for cell in rows(tube)[0].values():
        assert not (cell.startswith(tuple("=+-@\t\r")) and not _is_number(cell)), cell
    # A tab or return is a blank by then; the other four are kept behind an apostrophe.
    kept = rows(tube)[0]["tube"]
    assert kept == (f"'{evil}" if start in "=+-@" else " HYPERLINK(1)")


def test_numbers_stay_numbers():
    row = rows(healthy())[0]
    assert row["Vg (V)"] == "-2.0"


def test_a_sentence_with_quotes_and_commas_survives():
    finding = replace(gassy().findings[0], evidence='He said "gas", twice,\nloudly')
    row = rows(healthy(findings=(finding,)))[0]
    assert row["findings"] == 'reject gas: He said "gas", twice, loudly'


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_verdicts_set_by_persons_follow_at_the_end_and_change_nothing_before_them():
    overrule = Overrule(EARLY, Verdict.REJECT, "=cracked", "+Ada")
    plain = results_csv([healthy(), gassy()]).splitlines()
    text = results_csv([healthy(), gassy()], [overrule, None])
    for line, before in zip(text.splitlines(), plain, strict=True):
        assert line.startswith(before)
    first, second = csv.DictReader(io.StringIO(text))
    assert first["verdict"] == "accept"
    assert first["verdict set by a person"] == "reject"
    assert (first["set by"], first["reason"], first["set on"]) == (
        "'+Ada", "'=cracked", "2031-03-01",
    )  # fmt: skip
    assert second["verdict set by a person"] == second["reason"] == ""
