"""Behaviour: the report says of every tube what is known of it, and counts them right."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from curvelab.catalog.records import Overrule, SetState
from curvelab.health.records import Verdict
from curvelab.sheets.lot_report import lot_histograms, lot_report
from curvelab.sheets.paged import Heading, Histograms, PagedDocument, Paragraph, RuledTable
from helpers.papers import CAUTION, GAS, constants, grade, paper_set, paper_tube, result

TODAY = date(2031, 3, 20)


def report(*tubes, sets=()) -> PagedDocument:
    return lot_report(tubes, sets, name="spring", made_with="curvelab 9.9", date=TODAY)


def under(document: PagedDocument, heading: str) -> list:
    """Return the blocks below a heading, up to the next."""
    blocks = iter(document.blocks)
    assert any(item == Heading(heading) for item in blocks), heading
    found = []
    for item in blocks:
        if isinstance(item, Heading):
            break
        found.append(item)
    return found


def rows(document: PagedDocument, heading: str) -> tuple[tuple[str, ...], ...]:
    return next(item.rows for item in under(document, heading) if isinstance(item, RuledTable))


def test_tubes_are_counted_by_type_verdict_and_grade():
    other = replace(result().figures, type_name="12AX7")
    document = report(
        paper_tube("A", graded=grade()),
        paper_tube("B", found=[GAS], graded=grade("barred")),
        paper_tube("C", replace(result(), figures=other), graded=grade()),
        paper_tube("D", found=[CAUTION]),
    )
    assert rows(document, "Verdicts") == (
        ("12AX7", "1", "0", "0", "0", "1"),
        ("6SN7GTB", "1", "1", "1", "0", "3"),
        ("all", "2", "1", "1", "0", "4"),
    )
    assert rows(document, "Grades") == (
        ("12AX7", "1", "0", "0", "1"),
        ("6SN7GTB", "1", "1", "1", "3"),
        ("all", "2", "1", "1", "4"),
    )
    (table, said) = under(document, "Grades")
    assert [c.heading for c in table.columns] == ["type", "fresh", "barred", "not graded", "all"]
    assert "house grades, edition 7" in said.text


def test_a_lot_without_grades_says_why():
    (said,) = under(report(paper_tube("A")), "Grades")
    assert said == Paragraph("None of the tubes is graded: it was not asked for.")


def test_a_reject_has_all_that_a_claim_needs():
    tubes = [
        paper_tube("late", found=[GAS], supplier="river quarter", return_by=None),
        paper_tube("B", found=[GAS, CAUTION], supplier="river quarter"),
        paper_tube("good"),
    ]
    document = report(*tubes)
    first, second = rows(document, "Rejects, with what was found")
    assert first[:3] == ("B, 6SN7GTB", "river quarter, 2031-04-01 (12 days left)", "7.50")
    assert first[3].splitlines() == [
        "gas: An ion current goes with the plate current. 6.20 ± 0.40 µA, limit 1 µA "
        "(common practice, no source).",
        "[a.csv, 2031-03-01, bench: back room, SHA-256 abababababab]",
    ]
    assert second[0] == "late, 6SN7GTB"
    told = [item.text for item in under(document, "Rejects, with what was found")[1:]]
    assert told[0] == "Their cost, where it is on record, comes to 15.00."


def test_a_day_that_has_passed_is_said_to_have():
    tube = paper_tube("B", found=[GAS], return_by=date(2031, 3, 19))
    ((_, until, *_),) = rows(report(tube), "Rejects, with what was found")
    assert until == "2031-03-19 (passed)"


def test_a_verdict_set_by_a_person_is_said_with_the_reason():
    tube = paper_tube("A", found=[CAUTION])
    overrule = Overrule(datetime(2031, 3, 2, tzinfo=UTC), Verdict.REJECT, "cracked base", "Ines")
    tube = replace(tube, stored=replace(tube.stored, overrule=overrule))
    document = report(tube)
    ((*_, reasons),) = rows(document, "Rejects, with what was found")
    assert reasons.startswith("cracked base (Ines)\n")
    assert "reject (by a person), not graded" in rows(document, "Every tube")[0]


def test_no_reject_and_no_set_are_said():
    document = report(paper_tube("A"))
    assert under(document, "Rejects, with what was found") == [Paragraph("None.")]
    assert under(document, "Sets") == [Paragraph("None.")]


def test_sets_are_listed_with_what_the_bench_can_tell():
    tubes = [paper_tube("A"), paper_tube("B"), paper_tube("C")]
    quiet = paper_set("P-1", "A", "B", "C", spare="C", state=SetState.LOCKED)
    assert rows(report(*tubes, sets=[quiet]), "Sets") == (
        (
            "P-1",
            "locked",
            "A, B, C (spare)",
            "0.0",
            "No: their differences are within what the uncertainty leaves open.",
        ),
    )


def test_every_tube_has_a_row_and_every_section_its_own():
    sections = [result(constants(9.0), section="1"), result(constants(None, None), section="2")]
    document = report(paper_tube("A", *sections, set_name="P-1"), paper_tube("B", found=[GAS]))
    one, two, third = rows(document, "Every tube")
    assert one == (
        "A (1), 6SN7GTB",
        "250, -8",
        "9.000 ± 0.090",
        "2.600 ± 0.026",
        "7.692 ± 0.077",
        "20.00 ± 0.20",
        "100, 100",
        "accept, not graded",
        "set P-1",
    )
    assert two[:6] == ("A (2), 6SN7GTB", "250, -8", "-", "-", "-", "-")
    assert third[0] == "B, 6SN7GTB"
    assert third[-1] == "gas"


def test_shares_of_a_stand_ins_figure_are_marked_and_stand_in_no_histogram():
    tube = paper_tube("A", stand_in=True)
    document = report(tube)
    assert rows(document, "Every tube")[0][6] == "100, 100 s"
    assert any("stand-in" in getattr(item, "text", "") for item in document.blocks)
    assert lot_histograms([tube]) == ()
    assert not any(isinstance(item, Histograms) for item in document.blocks)


def test_histograms_take_every_section_under_the_verdict_of_its_tube():
    half = result(of_bogey={"plate_current": 0.5, "transconductance": 0.6}, section="1")
    tube = paper_tube("A", half, result(section="2"))
    current, slope = lot_histograms([tube, paper_tube("B", found=[GAS])])
    assert sum(part.accept for part in current.bins) == 2
    assert sum(part.reject for part in current.bins) == 1
    assert min(part.low for part in slope.bins if part.total) == 60


def test_a_tube_that_was_never_swept_has_its_row():
    tube = paper_tube("A")
    tube = replace(tube, stored=replace(tube.stored, results=()), curves={}, bases={})
    assert rows(report(tube), "Every tube") == (
        ("A, type unknown", *("-",) * 6, "not tested, not graded", "-"),
    )


@pytest.mark.parametrize("name", ["plain", "a\nname\0with\x1bcontrols", "\udce9t\udce9"])
def test_any_name_can_be_printed(name):
    document = lot_report([paper_tube(name)], (), name=name, made_with="x", date=TODAY)
    text = document.title + "".join(rows(document, "Every tube")[0])
    assert not any(ord(char) < 32 or 0xD800 <= ord(char) < 0xE000 for char in text)
