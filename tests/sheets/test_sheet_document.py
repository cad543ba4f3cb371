"""Behaviour: a sheet says everything a reader needs, and says plainly what is not known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from curvelab.assessment.records import BenchUsed, OperatingPoint
from curvelab.catalog.records import Overrule
from curvelab.health.records import Severity, Verdict
from curvelab.reference.records import Status
from curvelab.sheets.document import sheet_document
from curvelab.sheets.text import signed_percent, trimmed, volts
from helpers.assessments import (
    SIX_FINDINGS,
    constants,
    drifting,
    gassy,
    healthy,
    reference_family,
    triode_type,
    without_constants,
)
from helpers.lots import EARLY


def sheet(assessment):
    return sheet_document(assessment, made_with="curvelab 9.9", date=date(2026, 3, 1))


def fact(document, label):
    return next(item.text for item in document.facts if item.label == label)


def test_constants_stand_with_uncertainty_handbook_family_and_percent():
    document = sheet(healthy())
    assert document.table_title == "Constants at Vp 250 V, Vg -2 V"
    assert document.table.rows[0].cells == (
        "plate current Ip (mA)",
        "1.240",
        "0.012",
        "1.245",
        "1.2",
        "1.20",
        "103.3",
    )
    assert document.table.rows[2].cells[0] == "plate resistance rp (kohm)"
    assert document.table.rows[2].cells[1:3] == ("61.20", "0.90")
    assert document.table.footnote is None


def test_a_figure_from_memory_is_marked():
    document = sheet(healthy(tube_type=triode_type(status=Status.FROM_MEMORY)))
    assert document.table.rows[0].cells[4] == "1.2 m"
    assert "from memory" in document.table.footnote


def test_the_handbook_has_no_figure_away_from_its_points():
    away = healthy(operating_point=OperatingPoint(200.0, -2.0, None, "given"))
    assert {row.cells[4] for row in sheet(away).table.rows} == {"-"}
    assert fact(sheet(away), "point") == "Vp 200 V, Vg -2 V: as asked for"


def test_a_null_shows_its_outcome_and_reason():
    rows = sheet(without_constants()).table.rows
    assert rows[1].note == "not covered by the sweep. One grid curve gives no transconductance."
    assert rows[3].note == "ill-conditioned. The grid voltage never changed."
    assert rows[2].note is None


@pytest.mark.parametrize(
    ("verdict", "meaning"),
    [
        (Verdict.ACCEPT, "nothing found"),
        (Verdict.HOLD, "a person must decide"),
        (Verdict.REJECT, "not fit for use"),
    ],
)
def test_the_verdict_is_a_word_and_its_meaning(verdict, meaning):
    assert meaning in sheet(healthy(verdict=verdict)).verdict_meaning


def test_findings_come_worst_first_with_value_limit_and_source():
    document = sheet(healthy(findings=tuple(reversed(SIX_FINDINGS))))
    severities = [line.severity for line in document.findings]
    assert severities == [Severity.REJECT, *[Severity.CAUTION] * 3, *[Severity.NOTE] * 2]
    gas = document.findings[0]
    assert gas.code == "gas"
    assert gas.figure == "6.20 ± 0.40 µA, limit 1 µA (Invented sheet, first edition)"


def test_a_finding_wears_the_marker_of_its_readings():
    document = sheet(gassy())
    shapes = {line.code: line.shape for line in document.findings}
    for mark in document.picture.marks:
        assert shapes[mark.code] is mark.shape
    assert shapes["far-from-bogey"] is None


def test_an_assumed_bench_is_said_plainly():
    assert "not stated" in fact(sheet(healthy()), "bench")
    known = healthy(bench=BenchUsed("calibrated bench", assumed=False))
    assert fact(sheet(known), "bench") == (
        "calibrated bench: accuracy as a bench description states it"
    )
    stated = healthy(bench=BenchUsed("back room", assumed=False, origin="the file"))
    assert fact(sheet(stated), "bench") == "back room: accuracy as the file states it"


def test_file_hash_and_counts():
    document = sheet(gassy())
    assert fact(document, "file").startswith(f"A17.csv, SHA-256 {document.sha256[:16]}")
    assert len(document.sha256) == 64
    assert fact(document, "readings") == (
        "160 read, 158 used, 2 left out (contact), 1 set aside, unreadable"
    )


def test_a_stand_in_is_named_in_the_heading_and_beside_the_reference():
    base = healthy()
    comparison = replace(base.comparison, type_name="6SL7GT", why="stand-in")
    family = reference_family("6SL7GT", from_memory=True)
    document = sheet(replace(base, comparison=comparison, reference=family))
    assert "6SL7GT as a stand-in" in document.type_line
    reference = fact(document, "reference")
    assert "family of 6SL7GT, a stand-in" in reference
    assert "from memory" in reference
    assert "+3.4 % at most (250 V, -2 V: gm)" in reference
    readings = base.sweep.readings
    backed = family.covers(readings.plate_voltage, readings.grid_voltage)
    assert 0 < backed.sum() < 160
    assert f"extrapolates at {100 - 100 * backed.mean():.0f} % of the readings" in reference


def test_extrapolation_at_the_operating_point_is_said():
    away = healthy(operating_point=OperatingPoint(320.0, -2.0, None, "given"))
    assert "extrapolates at the operating point" in fact(sheet(away), "reference")


def test_the_local_fit_agrees_or_disagrees():
    assert "agrees within" in fact(sheet(healthy()), "local fit")
    apart = healthy(local=constants(1.2))
    assert "disagrees beyond" in fact(sheet(apart), "local fit")
    assert "no check" in fact(sheet(without_constants()), "local fit")


def test_a_log_shows_what_it_did_instead_of_constants():
    document = sheet(drifting())
    rows = dict(row.cells for row in document.table.rows)
    assert document.kind.startswith("Drift log")
    assert document.table_title == "The log at Vp 250 V, Vg -45 V"
    assert rows["behaviour"] == "runs away"
    assert rows["slope at the end"] == "+6.1 % per minute"
    assert rows["projection"].startswith("+21 %")
    assert rows["time to the limit"].startswith("140 s (2.3 min) to the maximum plate dissipation")


def test_cautions_and_what_is_not_said():
    document = sheet(healthy())
    cautions = " ".join(document.cautions)
    for word in ("Lethal voltage", "charge", "hot", "interlocks", "local codes", "licensed"):
        assert word in cautions
    for word in ("Noise", "microphony", "life"):
        assert word in document.not_said


def test_number_shapes():
    assert volts(-0.0) == "0"
    assert volts(-12.5) == "-12.5"
    assert trimmed(2.0) == "2"
    assert trimmed(1250.0) == "1250"
    assert trimmed(0.00400) == "0.004"
    assert signed_percent(0.0612) == "+6.1 %"
    assert signed_percent(-0.214) == "-21 %"
    assert signed_percent(1e-9) == "0.0 %"


def test_a_foot_missed_by_a_factor_is_not_said_in_percent():
    family = replace(
        reference_family(),
        residual={"250 V, -2 V: gm": 0.034, "250 V, -3.5 V: Ip": 1.03},
        near_cutoff=frozenset({"250 V, -3.5 V: Ip"}),
    )
    known = healthy(reference=family)
    known = replace(known, comparison=replace(known.comparison, family_residual=family.residual))
    said = fact(sheet(known), "reference")
    assert "errs by +3.4 % at most (250 V, -2 V: gm)" in said
    assert "near cut-off (250 V, -3.5 V: Ip) it has 2 times the printed current" in said
    assert "103" not in said


def test_the_tolerance_of_new_tubes_is_said_with_its_source():
    said = fact(sheet(healthy()), "reference")
    assert "new tubes pass 70 to 130 % of its plate current (common practice, no source)" in said


def test_percent_is_of_the_family_that_stands_in():
    own = healthy()
    other = replace(own, comparison=replace(own.comparison, type_name="211", why="stand-in"))
    assert sheet(own).table.columns[-1] == "% of bogey"
    assert sheet(other).table.columns[-1] == "% of 211"


def test_a_label_the_library_does_not_hold_is_said():
    strange = healthy(tube_type=None, type_name="ZZ99")
    strange = replace(strange, sweep=replace(strange.sweep, type_label="ZZ99"))
    said = sheet(strange).type_line
    assert said.startswith("labelled ZZ99, which the library does not hold: no ratings")
    assert "judged as" not in said


def test_a_verdict_set_by_a_person_says_who_when_why_and_in_place_of_what():
    overrule = Overrule(EARLY, Verdict.HOLD, "hums\nin bay 2", "R. Okafor")
    document = sheet_document(
        gassy(), made_with="curvelab 9.9", date=date(2026, 3, 1), overrule=overrule
    )
    assert document.verdict is Verdict.HOLD
    said = "hold set by R. Okafor on 2031-03-01 in place of reject: hums in bay 2"
    assert document.facts[0].text == document.overruled == said
    assert document.findings == sheet(gassy()).findings
    assert sheet(gassy()).overruled == ""
    assert [item.label for item in document.facts[1:]] == [
        item.label for item in sheet(gassy()).facts
    ]
