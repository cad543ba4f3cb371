"""Behaviour and round trip: the papers of a lot file whose sweeps are those of the story."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from curvelab.catalog.records import Overrule, SetMember, SetState, TubeIdentity, TubeSet
from curvelab.errors import LabelSheetError, UnknownTubeError
from curvelab.health.records import Verdict
from curvelab.paths import sample_folder
from curvelab.sheets.label import LabelPrint
from curvelab.sweep.records import Conditions
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.grading import grade_tubes, load_grade_rules
from curvelab.workbench.lot_documents import (
    label_sheet,
    labels_of_lot,
    listings_of_lot,
    report_of_lot,
    sheets_of_sets,
    tables_of_lot,
)
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from curvelab.workbench.lot_paper import Wanted, gather_lot
from curvelab.workbench.lot_records import ByHand
from curvelab.workbench.lot_upkeep import (
    change_set,
    enter_hand_test,
    lock_set,
    overrule_verdict,
)

TODAY = date(2031, 3, 20)
NOW = datetime(2031, 3, 20, tzinfo=UTC)
MATCHED = {
    "spread_pct": 2.5,
    "distinguishable": False,
    "by": ["plate current", "transconductance"],
}
NAMES = ("PIT-01", "PIT-02", "PIT-03", "PIT-04", "PIT-08", "FOYER-07", "STAGE-04")


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Path:
    """Return a lot file, filled once; the tests take copies."""
    path = tmp_path_factory.mktemp("lot") / "spring.lot"
    create_lot(path)
    paths = tuple(sample_folder() / f"{name}.csv" for name in NAMES)
    added = add_to_lot(path, Addition(Request(paths), TubeIdentity("", "spring")))
    assert added.filed == len(NAMES)
    return path


@pytest.fixture
def lot(filled, tmp_path) -> Path:
    path = tmp_path / "spring.lot"
    with closing(sqlite3.connect(filled)) as old, closing(sqlite3.connect(path)) as new:
        old.backup(new)
    return path


def a_set(name: str, *serials: str, payload: str = "{}") -> TubeSet:
    members = tuple(SetMember(serial, "spring") for serial in serials)
    return TubeSet(name, SetState.LOCKED, members, NOW, payload)


def tube(paper, serial):
    return next(item for item in paper.tubes if item.serial == serial)


def test_grades_are_those_of_the_sweeps_themselves(lot):
    paper = gather_lot(lot)
    paths = tuple(sample_folder() / f"{name}.csv" for name in ("PIT-01", "PIT-02", "PIT-03"))
    batch = characterize(Request(paths))
    rules = load_grade_rules()
    for assessment, given in zip(
        batch.assessments, grade_tubes(batch.assessments, rules), strict=True
    ):
        assert tube(paper, assessment.sweep.tube).grade == given
    assert tube(paper, "PIT-04").grade.word == "worked"  # the weaker of its two sections
    assert tube(paper, "STAGE-04").grade is None
    assert tube(paper, "STAGE-04").not_graded == "it was not swept"


def test_a_stated_bench_counts_in_the_grade_as_it_did_when_the_tube_was_filed(tmp_path):
    bench = tmp_path / "bench.toml"
    bench.write_text('name = "wide"\n[plate_current]\ngain_pct = 40\n', encoding="utf-8")
    path = tmp_path / "wide.lot"
    create_lot(path)
    request = Request((sample_folder() / "PIT-02.csv",), bench=bench)
    add_to_lot(path, Addition(request))
    (item,) = gather_lot(path).tubes
    (assessment,) = characterize(request).assessments
    (given,) = grade_tubes([assessment], load_grade_rules(), bench)
    assert item.grade == given
    assert given.word != tube_grade_without_bench()
    assert not item.bases[None].bench_assumed


def tube_grade_without_bench() -> str:
    batch = characterize(Request((sample_folder() / "PIT-02.csv",)))
    return grade_tubes(batch.assessments, load_grade_rules())[0].word


def test_what_a_hand_test_found_bars_a_tube_whose_sweep_is_good(lot):
    assert tube(gather_lot(lot), "PIT-01").grade.word == "fresh"
    enter_hand_test(lot, "PIT-01", ByHand(Conditions(shorts="grid to cathode")), "spring")
    item = tube(gather_lot(lot), "PIT-01")
    assert item.verdict is Verdict.REJECT
    assert item.grade.word == load_grade_rules().words.barred
    assert any(found.by_hand and found.finding.code == "short" for found in item.found)


def test_a_reject_by_a_person_is_barred_with_the_reason(lot):
    overrule_verdict(lot, "PIT-01", Overrule(NOW, Verdict.REJECT, "cracked base", "Ines"))
    given = tube(gather_lot(lot), "PIT-01").grade
    assert given.word == load_grade_rules().words.barred
    assert given.reasons == ("Verdict set by Ines: cracked base",)


def test_figures_that_no_longer_come_out_are_not_graded(lot):
    with closing(sqlite3.connect(lot)) as connection, connection:
        connection.execute("UPDATE characterisation SET plate_current = plate_current * 1.001")
    item = tube(gather_lot(lot), "PIT-01")
    assert item.grade is None
    assert "other figures than those on file" in item.not_graded


def test_the_papers_are_about_what_was_asked_for(lot):
    lock_set(lot, a_set("P-1", "PIT-01", "PIT-02"))
    lock_set(lot, a_set("P-2", "PIT-04", "PIT-08"))
    change_set(lot, "P-2", SetState.DISSOLVED)
    quick = Wanted(graded=False)
    paper = gather_lot(lot, quick)
    assert [item.serial for item in paper.tubes] == list(dict.fromkeys(NAMES))
    assert [item.name for item in paper.sets] == ["P-1"]
    of_tube = gather_lot(lot, replace(quick, serials=("PIT-01",)))
    assert [item.serial for item in of_tube.tubes] == ["PIT-01", "PIT-02"]
    of_set = gather_lot(lot, replace(quick, sets=("P-1",)))
    assert [item.serial for item in of_set.tubes] == ["PIT-01", "PIT-02"]
    assert gather_lot(lot, replace(quick, lot="autumn")).tubes == ()
    assert paper.tubes[0].not_graded == "it was not asked for"


@pytest.mark.parametrize(
    ("wanted", "told"),
    [(Wanted(serials=("Z",)), "no tube 'Z'"), (Wanted(sets=("Z",)), "no set 'Z'")],
)
def test_what_is_not_there_is_said(lot, wanted, told):
    with pytest.raises(UnknownTubeError, match=told):
        gather_lot(lot, wanted)


def test_what_the_matching_said_of_a_set_is_taken_from_its_payload(lot):
    lock_set(
        lot,
        a_set("P-1", "PIT-01", "PIT-02", payload=json.dumps(MATCHED)),
    )
    lock_set(lot, a_set("P-2", "PIT-04", "PIT-08", payload='{"spread_pct": "wide"}'))
    one, other = gather_lot(lot, Wanted(graded=False)).sets
    assert (one.spread_percent, one.distinguishable) == (2.5, False)
    assert one.matched_by == "plate current, transconductance"
    assert (other.spread_percent, other.distinguishable) == (None, None)


def test_a_listing_is_for_what_is_for_sale(lot):
    lock_set(lot, a_set("P-1", "PIT-01", "PIT-02"))
    paper = gather_lot(lot, Wanted(graded=False))
    stems = [item.stem for item in listings_of_lot(paper, TODAY)]
    assert stems == ["set-P-1", "PIT-04", "PIT-08", "STAGE-04"]  # PIT-03, FOYER-07: rejects
    assert len(listings_of_lot(paper, TODAY, every=True)) == 6
    change_set(lot, "P-1", SetState.SOLD)
    paper = gather_lot(lot, Wanted(graded=False))
    assert "set-P-1" not in [item.stem for item in listings_of_lot(paper, TODAY)]


def test_progress_is_told_and_work_stops_when_asked(lot):
    lock_set(lot, a_set("P-1", "PIT-01", "PIT-02"))
    lock_set(lot, a_set("P-2", "PIT-04", "PIT-08"))
    told: list[tuple[int, int, str]] = []
    paper = gather_lot(lot, progress=lambda *step: told.append(step))
    assert told
    assert not paper.stopped
    told.clear()
    assert len(sheets_of_sets(paper, TODAY, lambda *step: told.append(step))) == 2
    assert told == [(1, 2, "P-1"), (2, 2, "P-2")]
    assert sheets_of_sets(paper, TODAY, should_stop=lambda: True) == ()
    assert listings_of_lot(paper, TODAY, should_stop=lambda: True) == ()
    assert gather_lot(lot, should_stop=lambda: True).stopped


def test_every_paper_can_be_made_of_a_lot(lot):
    paper = gather_lot(lot)
    assert report_of_lot(paper, TODAY).title == "spring"
    assert tables_of_lot(paper, Path("x.csv"), TODAY).startswith(b"lot,tube,section,type,")
    assert tables_of_lot(paper, Path("x.XLSX"), TODAY).startswith(b"PK")
    labels = labels_of_lot(paper, LabelPrint(label_sheet("70x37")))
    assert [label.lines[0].text for label in labels.labels] == list(dict.fromkeys(NAMES))
    assert all(label.code is not None for label in labels.labels)


def test_a_sheet_of_labels_of_ones_own(tmp_path):
    own = tmp_path / "own.toml"
    shipped = label_sheet("70x37")
    fields = "\n".join(f"{name} = {getattr(shipped, name)}" for name in shipped.__slots__)
    own.write_text(f"[mine]\n{fields}\n", encoding="utf-8")
    assert label_sheet("mine", own) == shipped
    with pytest.raises(LabelSheetError, match=r"no sheet of labels '70x37' \(there are: mine\)"):
        label_sheet("70x37", own)
    with pytest.raises(LabelSheetError, match="No such file"):
        label_sheet("mine", tmp_path / "none.toml")
