"""Behaviour: a listing says what was measured, where, how well, and what was not."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from curvelab.catalog.records import HandTest, Overrule
from curvelab.health.records import Finding, FindingCode, Severity, Verdict
from curvelab.sheets.listing import listing_picture, listing_text, listing_title
from curvelab.sheets.paged import Curves, RuledTable
from curvelab.sheets.paper_records import Basis, Found
from curvelab.sweep.records import Conditions
from helpers.papers import CAUTION, GAS, POINT, constants, grade, paper_set, paper_tube, result


def told(*tubes, item=None) -> str:
    """Return a listing as one line."""
    return " ".join(listing_text(tubes, item).split())


def test_a_good_tube_with_its_figures_and_where_they_hold():
    text = told(paper_tube("PIT-01", graded=grade(), maker_mark="a bell"))
    assert text.startswith("6SN7GTB, serial PIT-01 PIT-01, 6SN7GTB: accept, ")
    for wanted in (
        "grade fresh (our own grading",
        'Marked: "a bell".',
        "Measured at Vp 250 V, Vg -8 V; judged on 2031-03-01. The uncertainty (±) is at 95 %",
        "no accuracy of the bench is stated",
        "plate current: 9.000 ± 0.090 mA, 100 % of bogey",
        "transconductance: 2.600 ± 0.026 mA/V",
        "Found against it: nothing.",
        "Noise, microphony and life were not tested.",
        "Age and past use are not known",
        "holds lethal voltage",
        "Keep within the ratings",
    ):
        assert wanted in text, wanted


def test_a_listing_promises_no_life():
    text = told(paper_tube("A", graded=replace(grade("sound"), meaning="plenty of life")))
    assert "plenty of life" not in text


def test_a_reject_is_called_one_first_and_last():
    tube = paper_tube("A", found=[GAS])
    assert listing_title([tube]).startswith("REJECT, not fit for use: ")
    assert "Found (gas): An ion current goes with the plate current. 6.20 ± 0.40 µA" in told(tube)
    assert "nothing" not in told(tube)


def test_cautions_and_an_overruled_verdict_are_told():
    tube = paper_tube("A", found=[CAUTION])
    overrule = Overrule(datetime(2031, 3, 2, tzinfo=UTC), Verdict.ACCEPT, "pins cleaned", "Ines")
    tube = replace(tube, stored=replace(tube.stored, overrule=overrule))
    text = told(tube)
    assert "The readings alone say hold; Ines set the verdict: pins cleaned" in text
    assert "Found (contact): Isolated readings fell toward zero." in text


def test_a_figure_that_could_not_be_had_is_left_out_and_said():
    assert "No figure could be had" in told(paper_tube("A", result(constants(None, None))))


def test_a_stated_bench_and_a_stand_in_are_told_as_what_they_are():
    tube = replace(paper_tube("A"), bases={None: Basis("5814A", True, bench_assumed=False)})
    text = told(tube)
    assert "for the bench back room with its stated accuracy" in text
    assert "100 % of 5814A" in text


def test_hand_tests_are_told():
    tube = paper_tube("A")
    conditions = Conditions(heater_cathode_leakage=3e-6, shorts="none", heater_current=0.6)
    test = HandTest(datetime(2031, 3, 2, tzinfo=UTC), None, conditions, None, (), Verdict.ACCEPT)
    text = told(replace(tube, stored=replace(tube.stored, hand_tests=(test,))))
    assert (
        "Tested by hand on 2031-03-02: heater 600 mA; heater-cathode leakage 3 µA; shorts: none."
    ) in text


def test_what_two_sections_share_is_told_once_and_a_note_says_its_section():
    shared = Finding(FindingCode.SECTION_IMBALANCE, Severity.CAUTION, "They differ by 35 %.")
    note = Finding(FindingCode.OVER_RATING, Severity.NOTE, "Two readings lie above the rating.")
    tube = paper_tube("A", result(section="1"), result(section="2"))
    found = (Found("1", shared), Found("2", shared), Found("2", note))
    text = told(replace(tube, found=found))
    assert text.count("They differ by 35 %.") == 1
    assert "Found (section-imbalance, sections 1 and 2): They differ" in text
    assert "Note, section 2: Two readings" in text


def test_a_set_says_how_close_and_whether_that_can_be_told():
    tubes = [paper_tube("A"), paper_tube("B"), paper_tube("C")]
    item = paper_set("P-1", "A", "B", "C", spare="C", spread_percent=2.34, matched_by="curves")
    text = told(*tubes, item=item)
    assert text.startswith("Matched pair with a spare of 6SN7GTB: A, B, C (set P-1)")
    assert "They lie within 2.3 % of each other by curves." in text
    assert "No: their differences are within what the uncertainty leaves open." in text
    assert "Spare: C." in text
    assert text.count("Measured at") == 3


def test_the_picture_has_curves_and_a_row_a_section():
    tubes = [paper_tube("A", found=[CAUTION]), paper_tube("B")]
    picture = listing_picture(
        tubes, lambda *_: None, paper_set("S", "A", "B"), made_with="x", date=date(2031, 3, 2)
    )
    (curves,) = [item for item in picture.blocks if isinstance(item, Curves)]
    assert curves.picture.members == ("A", "B")
    (table,) = [item for item in picture.blocks if isinstance(item, RuledTable)]
    assert [row[0] for row in table.rows] == ["A", "B"]
    assert [row[-1] for row in table.rows] == ["contact", "nothing"]
    assert "not tested" in dict(picture.feet)
    assert "before use" in dict(picture.feet)


def test_the_picture_of_a_pentode_says_that_a_third_voltage_is_the_screens():
    day = date(2031, 3, 2)
    for volts, heading in ((None, "Vp, Vg (V)"), (250.0, "Vp, Vg, Vs (V)")):
        tube = paper_tube("A", result(point=replace(POINT, screen_voltage=volts)))
        picture = listing_picture([tube], lambda *_: None, made_with="x", date=day)
        (table,) = [item for item in picture.blocks if isinstance(item, RuledTable)]
        assert table.columns[1].heading == heading


def test_a_tube_without_a_sweep_has_a_listing_and_a_picture_without_figures():
    tube = paper_tube("A")
    tube = replace(tube, stored=replace(tube.stored, results=()), curves={}, bases={})
    assert "A, type unknown: not tested. No curves were measured." in told(tube)
    picture = listing_picture([tube], lambda *_: None, made_with="x", date=date(2031, 3, 2))
    assert not [item for item in picture.blocks if isinstance(item, Curves)]
