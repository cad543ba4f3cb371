"""Round trip and refusal: corrections, golden readings and grades as plain values."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from curvelab.bench_check.correction import MeterCorrection, accept
from curvelab.bench_check.records import Standing
from curvelab.errors import BenchCheckError
from curvelab.grading.grade import grade
from curvelab.sheets.bench_records import (
    correction_from_record,
    correction_record,
    reading_from_record,
    reading_record,
)
from curvelab.sheets.grade_json import grade_record
from curvelab.workbench.grading import grade_tubes, load_grade_rules
from helpers.assessments import drifting, gassy, healthy, without_constants
from helpers.golden import golden

CORRECTION = MeterCorrection(
    "plate_current", "back room", 0.98, 0.004, 4e-5, 1e-6, 2e-7, "the resistor shows it", ("ab",)
)


def test_an_accepted_correction_comes_back():
    accepted = accept(CORRECTION, "Ada", "2024-05-17")
    again = correction_from_record(json.loads(json.dumps(correction_record(accepted))))
    assert (again.accepted_by, again.accepted_on) == ("Ada", "2024-05-17")
    assert again.correction.factor == 0.98
    assert again.correction.offset == pytest.approx(4e-5, rel=1e-14)
    assert again.correction.evidence == ("ab",)


def test_the_identity_survives_the_record():
    accepted = accept(CORRECTION, "Ada", "2024-05-17")
    again = correction_from_record(json.loads(json.dumps(correction_record(accepted))))
    assert again.correction.identity == CORRECTION.identity


def test_a_suggestion_is_no_acceptance():
    record = correction_record(CORRECTION)
    assert record["accepted_by"] is None
    with pytest.raises(BenchCheckError, match="nobody has accepted"):
        correction_from_record(record)


def test_the_standing_and_the_unusual_come_back():
    reading = replace(
        golden("Ü 7"), section="2", type_name=None, standing=Standing.STARTS_ANEW,
        corrections=("0123456789ab",),
    )  # fmt: skip
    again = reading_from_record(json.loads(json.dumps(reading_record(reading))))
    assert (again.title, again.standing, again.corrections) == (
        reading.title, reading.standing, reading.corrections,
    )  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [
        {"schema": "curvelab.golden-reading/2"},
        {"plate_ma": {"value": "9", "fit_u95": 0.1, "u95": 0.1}},
        {"plate_ma": {"value": -9.0, "fit_u95": 0.1, "u95": 0.1}},
        {"plate_ma": {"value": 9.0}},
        {"plate_v": None},
        {"standing": "fine"},
        {"date": "yesterday"},
        {"corrections": 3},
        {"tube": 5},
    ],
)
def test_a_record_that_makes_no_sense_is_refused(wrong):
    with pytest.raises(BenchCheckError):
        reading_from_record({**reading_record(golden()), **wrong})


def test_what_is_no_record_is_refused():
    for nothing in ({}, [], None):
        with pytest.raises(BenchCheckError, match="wanted a golden reading"):
            reading_from_record(nothing)


def test_a_grade_is_plain_values():
    rules = load_grade_rules()
    lot = (healthy(), gassy(), without_constants(), drifting())
    for assessment, found in zip(lot, grade_tubes(lot, rules), strict=True):
        assert found == grade(assessment, rules)
        record = json.loads(json.dumps(grade_record(found), allow_nan=False))
        assert record["grade"] == found.word
        assert record["reasons"]
        assert record["rules"] == rules.title
    assert {item["standing"] for item in grade_record(grade(healthy(), rules))["limits"]}
