"""Round trip and refusal: a lot through its JSON and back, for whatever a lot may hold.

Drawn by hypothesis: any words, any numbers, any verdicts; the first reading through JSON rounds to
ten figures, and from then on nothing may change.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import ExitStack
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.listing import list_tubes, lot_content
from curvelab.catalog.lot_file import create_lot, open_lot
from curvelab.catalog.merge import merge
from curvelab.catalog.records import (
    HandTest,
    KeptRecord,
    LotContent,
    Measurement,
    Overrule,
    SetMember,
    SetState,
    TubeHistory,
    TubeIdentity,
    TubeSet,
)
from curvelab.errors import DocumentError
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.records import Finding, FindingCode, Severity, Verdict
from curvelab.sheets.lot_json import lot_export_text, lot_list_document
from curvelab.sheets.lot_reader import read_lot
from curvelab.sheets.results_reader import figures_of_result, findings_of_document
from curvelab.sweep.records import Conditions, SourceFile, SweepKind
from helpers import assessments, lots

WORDS = st.text(
    st.characters(blacklist_categories=("Cc", "Cs")), min_size=1, max_size=12
)  # what `plain` leaves alone
NUMBERS = st.floats(1e-9, 1e6) | st.floats(-1e6, -1e-9) | st.just(0.0)
MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)).map(
    lambda moment: moment.replace(tzinfo=UTC)
)
MAYBE = st.none() | WORDS


def maybe(strategy):
    return st.none() | strategy


@st.composite
def constants(draw):
    def one():
        if draw(st.booleans()):
            return Constant(draw(st.floats(1e-9, 1e6)), draw(maybe(st.floats(1e-12, 1e6))))
        outcome = draw(st.sampled_from([item for item in Outcome if item is not Outcome.GOOD]))
        return Constant.missing(outcome, draw(WORDS))

    return Constants(one(), one(), one(), one())


@st.composite
def curves(draw):
    plate = np.cumsum(draw(st.lists(st.floats(0.5, 50), min_size=2, max_size=5)))
    grid = np.cumsum(draw(st.lists(st.floats(0.5, 5), min_size=2, max_size=4))) - 20
    current = draw(
        st.lists(
            st.floats(0, 0.5), min_size=plate.size * grid.size, max_size=plate.size * grid.size
        )
    )
    shape = (grid.size, plate.size)
    rounded = [float(f"{value:.9g}") for value in plate], [float(f"{value:.9g}") for value in grid]
    return CurveGrid(*rounded, np.reshape(current, shape), np.reshape(current, shape) > 0.1)


FINDINGS = st.builds(
    Finding,
    st.sampled_from(FindingCode),
    st.sampled_from(Severity),
    WORDS,
    value=maybe(NUMBERS),
    limit=maybe(NUMBERS),
    unit=maybe(st.sampled_from(["uA", "%", "W"])),
    readings=st.lists(st.integers(0, 400), max_size=3).map(tuple),
)


@st.composite
def measurements(draw, sha256: str, named: str) -> Measurement:
    found = tuple(draw(st.lists(FINDINGS, max_size=3)))
    made = lots.swept(
        named, "x", constants=draw(constants()), findings=found, verdict=Verdict.of(found)
    )
    characterisation = replace(
        lots.measured(made, draw(MOMENTS)).characterisations[0], curves=draw(maybe(curves()))
    )
    return Measurement(
        named, draw(MAYBE), draw(st.sampled_from(SweepKind)), sha256, (characterisation,)
    )


@st.composite
def histories(draw, serial: str, sources: list[SourceFile]) -> TubeHistory:
    content = draw(st.binary(min_size=1, max_size=40)) + serial.encode()
    source = SourceFile("a.csv", "a.csv", hashlib.sha256(content).hexdigest(), content)
    sources.append(source)
    conditions = st.builds(
        Conditions,
        heater_voltage=maybe(NUMBERS),
        heater_current=maybe(NUMBERS),
        heater_cathode_leakage=maybe(NUMBERS),
        shorts=MAYBE,
        tap_test=MAYBE,
        warm_up=maybe(NUMBERS),
    )
    return TubeHistory(
        TubeIdentity(
            serial,
            draw(st.just("") | WORDS),
            **{name: draw(MAYBE) for name in ("type_label", "maker_mark", "box", "supplier")},
            cost=draw(maybe(st.decimals(0, 1000, places=2))),
            return_by=draw(maybe(st.dates(date(2000, 1, 1), date(2100, 1, 1)))),
        ),
        tuple(draw(st.lists(measurements(source.sha256, serial), min_size=1, max_size=2))),
        tuple(
            draw(
                st.lists(
                    st.builds(
                        HandTest, MOMENTS, MAYBE, conditions, MAYBE, st.just(()),
                        st.sampled_from(Verdict),
                    ),
                    max_size=2, unique_by=lambda test: test.made_at,
                )
            )
        ),
        tuple(
            draw(
                st.lists(
                    st.builds(
                        Overrule, MOMENTS, st.sampled_from(Verdict), WORDS, WORDS,
                        st.integers(0, 3), st.integers(0, 3),
                    ),
                    max_size=2, unique_by=lambda overrule: overrule.made_at,
                )
            )
        ),
    )  # fmt: skip


@st.composite
def contents(draw) -> LotContent:
    serials = draw(st.lists(WORDS, min_size=1, max_size=3, unique=True))
    sources: list[SourceFile] = []
    tubes = tuple(draw(histories(serial, sources)) for serial in serials)
    first = tubes[0].identity
    tube_set = TubeSet(
        draw(WORDS),
        draw(st.sampled_from(SetState)),
        (SetMember(first.serial, first.lot, draw(st.booleans())),),
        draw(MOMENTS),
        '{"spread_pct": 1.5}',
    )
    kept = KeptRecord("grading-limits", draw(WORDS), 1, draw(MOMENTS), '{"low": [80, null]}')
    return LotContent(tubes, tuple(sources), (tube_set,), (kept,))


def through_a_file(content: LotContent) -> tuple[LotContent, dict]:
    """Store a content in a real lot file, and return what comes out of it."""
    with ExitStack() as stack:
        path = Path(stack.enter_context(TemporaryDirectory())) / "a.lot"
        create_lot(path)
        opened = stack.enter_context(open_lot(path, write=True))
        merge(opened, content)
        return lot_content(opened), lot_list_document(list_tubes(opened))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(contents())
def test_import_store_export_import_gives_the_same_numbers(content):
    stored, listed = through_a_file(content)
    text = lot_export_text(stored)
    again, listed_again = through_a_file(read_lot(text))
    assert lot_export_text(again) == text
    assert listed_again == listed
    for before, after in zip(content.tubes, again.tubes, strict=True):
        assert before.identity == after.identity
        assert before.overrules == after.overrules
        for old, new in zip(before.measurements, after.measurements, strict=True):
            same_figures(old, new)
    assert content.sets == again.sets
    assert content.kept == again.kept
    assert {s.sha256: s.content for s in content.sources} == {
        s.sha256: s.content for s in again.sources
    }


def same_figures(old: Measurement, new: Measurement) -> None:
    (before,), (after,) = old.characterisations, new.characterisations
    for item in fields(Constants):
        was, is_now = (getattr(c.figures.constants, item.name) for c in (before, after))
        assert was == is_now
    assert before.figures.findings == after.figures.findings
    assert findings_of_document(before.document) == findings_of_document(after.document)
    assert (before.curves is None) == (after.curves is None)
    if before.curves is not None:
        assert after.curves.plate_current == pytest.approx(before.curves.plate_current, rel=1e-9)
        assert np.array_equal(after.curves.plate_voltage, before.curves.plate_voltage)
        assert np.array_equal(after.curves.covered, before.curves.covered)


@pytest.mark.parametrize(
    "make",
    [
        assessments.healthy,
        assessments.gassy,
        assessments.without_constants,
        assessments.drifting,
    ],
)
def test_figures_are_read_from_a_result_as_they_were_measured(make):
    made = make()
    stored = lots.measured(made).characterisations[0]
    figures = figures_of_result(stored.document)
    assert figures.verdict is made.verdict
    assert [mark.code for mark in figures.findings] == [item.code for item in made.findings]
    assert findings_of_document(stored.document) == made.findings
    for item in fields(Constants):
        was, read = getattr(made.constants, item.name), getattr(figures.constants, item.name)
        assert (was.outcome, was.reason) == (read.outcome, read.reason)
        assert read.value == (None if was.value is None else pytest.approx(was.value, rel=1e-9))
    assert figures.behaviour == (made.drift.behaviour if made.drift else None)


def whole() -> dict:
    made = lots.swept("A1", "text")
    history = TubeHistory(TubeIdentity("A1", cost=Decimal("4.50")), (lots.measured(made),), (), ())
    return json.loads(lot_export_text(LotContent((history,), (made.sweep.source,), (), ())))


def changed(document: dict, pointer: str, value: object) -> str:
    *path, last = pointer.split("/")
    place = document
    for key in path:
        place = place[int(key) if isinstance(place, list) else key]
    place[int(last) if isinstance(place, list) else last] = value
    return json.dumps(document)


RESULT = "tubes/0/measurements/0/characterisations/0"


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("schema", "curvelab.lot/9"),
        ("extent", "list"),
        ("tubes", {}),
        ("tubes/0", 7),
        ("tubes/0/serial", None),
        ("tubes/0/cost", "much"),
        ("tubes/0/return_by", "tomorrow"),
        ("sources/0/content", "bm90IGl0"),
        ("sources/0/content", "***"),
        ("tubes/0/measurements/0/kind", "picture"),
        (f"{RESULT}/made_at", "noon"),
        (f"{RESULT}/result/verdict", "perhaps"),
        (f"{RESULT}/result/constants/mu/value", "98"),
        (f"{RESULT}/result/constants/mu/outcome", "fine"),
        (f"{RESULT}/result/findings", [{"code": "gas reject", "severity": "note"}]),
        (f"{RESULT}/curves/plate_ma", [["x"]]),
        (f"{RESULT}/curves/plate_v", [1, 2]),
    ],
)
def test_a_document_that_breaks_the_schema_is_refused(pointer, value):
    read_lot(json.dumps(whole()))
    with pytest.raises(DocumentError):
        read_lot(changed(whole(), pointer, value))


@pytest.mark.parametrize("text", ["", "[]", "{", '{"schema": NaN}', "[" * 100_000])
def test_what_is_no_document_is_refused(text):
    with pytest.raises(DocumentError):
        read_lot(text)
