"""Behaviour and round trip: sections, and tests under a changed set-up, that come one by one.

The tubes are simulated (`helpers.boxes_of_tubes`); every figure is invented.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from curvelab.catalog.records import StoredTube, TubeIdentity
from curvelab.health.records import Verdict
from curvelab.matching.records import MatchRequest
from curvelab.sheets.lot_json import lot_export_text
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import (
    Added,
    Addition,
    add_to_lot,
    create_lot,
    list_lot,
    whole_lot,
)
from curvelab.workbench.lot_grades import grade_lot
from curvelab.workbench.lot_judging import judge_stored
from curvelab.workbench.lot_matching import SetsWanted, match_lot_file
from curvelab.workbench.lot_upkeep import compare_returned
from helpers.boxes_of_tubes import write_halves, write_heaters


@pytest.fixture
def path(tmp_path) -> Path:
    create_lot(tmp_path / "spring.lot")
    return tmp_path / "spring.lot"


def add(path: Path, *files: Path, again: bool = False, **request: object) -> Added:
    return add_to_lot(path, Addition(Request(files, **request), TubeIdentity("", "l"), again=again))


def the_tube(path: Path) -> StoredTube:
    (tube,) = list_lot(path).tubes
    return tube


def graver(tube: StoredTube) -> list[set[str]]:
    """Return, result by result, the codes of what is more than a note."""
    return [
        {mark.code for mark in result.figures.findings if mark.severity != "note"}
        for result in tube.results
    ]


@pytest.mark.parametrize("first", [0, 1])
def test_sections_of_two_days_are_balanced_as_if_they_had_come_together(path, tmp_path, first):
    files = write_halves(tmp_path)
    assert graver(the_tube_after(path, files[first])) == [set()]
    added = add(path, files[1 - first])
    assert (added.filed, added.judged_again) == (1, 1)
    assert any(f.code == "section-imbalance" for f in added.batch.assessments[0].findings)
    tube = the_tube(path)
    assert [result.section for result in tube.results] == ["1", "2"]
    assert graver(tube) == [{"section-imbalance"}, {"section-imbalance"}]
    assert tube.verdict is Verdict.HOLD
    together = tmp_path / "together.lot"
    create_lot(together)
    add(together, *files)
    for one, other in zip(tube.results, the_tube(together).results, strict=True):
        assert one.figures.findings == other.figures.findings
        assert one.figures.constants == other.figures.constants
    (given,) = grade_lot(path).tubes
    assert any("section-imbalance" in reason for reason in given.given.grade.reasons)
    result = match_lot_file(path, SetsWanted(MatchRequest(), one_tube=True)).result
    assert "section-imbalance" in result.excluded[0].reasons[0]


def the_tube_after(path: Path, *files: Path) -> StoredTube:
    add(path, *files)
    return the_tube(path)


def test_like_sections_change_nothing_in_the_first_ones_history(path, tmp_path):
    one, other = write_halves(tmp_path, stronger=0.0)
    add(path, one)
    added = add(path, other)
    assert added.judged_again == 0
    assert graver(the_tube(path)) == [set(), set()]


def test_the_first_section_keeps_its_own_bench(path, tmp_path):
    bench = tmp_path / "bench.toml"
    bench.write_text('name = "the old bench"\n[plate_current]\ngain_pct = 1\n', "utf-8")
    one, other = write_halves(tmp_path)
    add(path, one, bench=bench)
    before = the_tube(path).results[0]
    assert add(path, other).judged_again == 1
    first, second = the_tube(path).results
    assert (first.bench, second.bench) == ("the old bench", "not named")
    assert first.figures.constants == before.figures.constants
    assert graver(the_tube(path)) == [{"section-imbalance"}, {"section-imbalance"}]


def test_a_later_sweep_of_one_section_is_balanced_against_the_other(path, tmp_path):
    one, other = write_halves(tmp_path)
    (tmp_path / "new").mkdir()
    mended = write_halves(tmp_path / "new", stronger=0.0)[1]
    mended.write_text(mended.read_text("utf-8") + "# tested again\n", "utf-8")
    add(path, one, other)
    assert the_tube(path).verdict is Verdict.HOLD
    added = add(path, mended)
    assert (added.filed, added.judged_again) == (1, 1)
    assert graver(the_tube(path)) == [set(), set()]
    assert the_tube(path).verdict is Verdict.ACCEPT


@pytest.mark.parametrize("together", [True, False])
def test_a_test_with_the_heater_turned_down_is_not_the_tubes_figures(path, tmp_path, together):
    full, low = write_heaters(tmp_path)
    alone = the_tube_after(path, full)
    if together:
        path = tmp_path / "together.lot"
        create_lot(path)
        added = add(path, full, low)
    else:
        added = add(path, low)
        assert (added.filed, added.judged_again) == (1, 1)
    assert any("heater turned down" in notice for notice in added.notices)
    tube = the_tube(path)
    (result,) = tube.results
    assert result.figures.constants == alone.results[0].figures.constants
    assert result.file == full.name
    assert graver(tube) == [{"weak-emission"}]
    assert graver(alone) == [set()]
    assert compare_returned(path, "WORN-1") == ()
    (given,) = grade_lot(path).tubes
    assert any("on the heater" in reason for reason in given.given.grade.reasons)
    seen = judge_stored(path, [tube]).assessments
    assert {item.sweep.source.name for item in seen} == {full.name, low.name}
    usual = next(item for item in seen if item.set_up is None)
    assert "weak-emission" in {finding.code.value for finding in usual.findings}


def test_what_a_test_found_is_not_lost_when_the_usual_sweep_is_judged_again(path, tmp_path):
    full, low = write_heaters(tmp_path)
    add(path, full)
    add(path, low)
    assert add(path, full, again=True).judged_again == 1
    assert graver(the_tube(path)) == [{"weak-emission"}]
    # A new usual sweep starts afresh: the old test says nothing of the tube as it is now.
    new = tmp_path / "new.csv"
    new.write_text(full.read_text("utf-8") + "# a year later\n", "utf-8")
    assert add(path, new).filed == 1
    assert graver(the_tube(path)) == [set()]
    assert len(compare_returned(path, "WORN-1")) == 1


def test_an_export_tells_a_test_from_a_usual_sweep(path, tmp_path):
    add(path, *write_heaters(tmp_path))
    text = lot_export_text(whole_lot(path))
    (tube,) = json.loads(text)["tubes"]
    assert sorted(item["set_up"] or "" for item in tube["measurements"]) == ["", "low heater"]
    (tmp_path / "all.json").write_text(text, "utf-8")
    other = tmp_path / "other.lot"
    create_lot(other)
    add(other, tmp_path / "all.json")
    assert lot_export_text(whole_lot(other)) == text
    assert the_tube(other).results[0].file == the_tube(path).results[0].file
