"""Behaviour: filling a lot file from real sweeps, and what a person does to its tubes."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from curvelab.catalog.curves import sample_curves
from curvelab.catalog.listing import tube_history
from curvelab.catalog.lot_file import open_lot
from curvelab.catalog.records import Overrule, SetMember, SetState, TubeIdentity, TubeSet
from curvelab.catalog.results import curve_grids
from curvelab.errors import UnknownTubeError, UnknownTypeError
from curvelab.health.records import Verdict
from curvelab.sheets.lot_json import lot_export_text
from curvelab.sweep.records import Conditions
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.lot_file import (
    Addition,
    add_to_lot,
    create_lot,
    judge_lot,
    list_lot,
    whole_lot,
)
from curvelab.workbench.lot_records import ByHand
from curvelab.workbench.lot_upkeep import (
    change_identity,
    change_set,
    compare_returned,
    enter_hand_test,
    keep_record,
    kept_records,
    list_claims,
    lock_set,
    overrule_verdict,
)
from helpers.sweeps import write_log, write_sweep


@pytest.fixture
def path(tmp_path):
    made = tmp_path / "spring.lot"
    create_lot(made)
    return made


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    folder.mkdir()
    write_sweep(folder / "A17.csv")
    write_sweep(folder / "A18.csv", seed=6)
    write_log(folder / "D01.csv")
    return folder


def add(path, *paths, labels=TubeIdentity(""), **options):  # noqa: B008 - frozen
    request = Request(paths=paths, **options.pop("request", {}))
    return add_to_lot(path, Addition(request, labels, **options))


def tubes(path) -> dict:
    return {tube.identity.serial: tube for tube in list_lot(path).tubes}


def test_a_folder_is_filed_with_what_holds_for_all_of_it(path, bench):
    labels = TubeIdentity("", lot="spring", supplier="estate of a cinema", cost=Decimal("4.50"))
    added = add(path, bench, labels=labels)
    assert (added.filed, added.known, added.batch.errors) == (3, (), ())
    found = tubes(path)
    assert sorted(found) == ["A17", "A18", "D01"]
    identity = found["A17"].identity
    assert (identity.lot, identity.type_label) == ("spring", "6SN7GTB")
    assert (identity.supplier, identity.cost) == ("estate of a cinema", Decimal("4.50"))
    assert found["D01"].results[0].figures.behaviour == "steady"


def test_what_is_stored_is_what_the_main_job_says(path, bench):
    add(path, bench)
    batch = characterize(Request(paths=(bench,)))
    made = {item.sweep.tube: item for item in batch.assessments}["A17"]
    (result,) = tubes(path)["A17"].results
    assert result.figures.constants.transconductance.value == pytest.approx(
        made.constants.transconductance.value, rel=1e-9
    )
    assert result.sha256 == made.sweep.source.sha256
    with open_lot(path, write=False) as opened:
        stored = curve_grids(opened, [result.key])[result.key]
    assert stored.plate_current == pytest.approx(sample_curves(made.fit).plate_current, rel=1e-12)


def test_the_same_folder_again_adds_nothing_and_costs_no_fit(path, bench):
    add(path, bench)
    write_sweep(bench / "A19.csv", seed=8)
    added = add(path, bench)
    assert added.filed == 1
    assert sorted(added.known) == ["A17.csv", "A18.csv", "D01.csv"]
    assert [item.sweep.tube for item in added.batch.assessments] == ["A19"]


def test_the_same_bytes_under_two_names_are_one_sweep(path, bench, tmp_path):
    copy = tmp_path / "copy.csv"
    copy.write_bytes((bench / "A17.csv").read_bytes())
    assert add(path, bench / "A17.csv", copy).filed == 1


def test_judging_again_is_a_new_entry_of_the_history(path, bench):
    add(path, bench)
    added = add(path, bench, again=True, request={"at": (200.0, -6.0)})
    assert (added.filed, added.judged_again) == (0, 3)
    tube = tubes(path)["A17"]
    assert tube.results[0].figures.operating_point.origin == "given"
    with open_lot(path, write=False) as opened:
        (measurement,) = tube_history(opened, tube.key).measurements
    first, second = measurement.characterisations
    assert first.figures.operating_point.origin == "handbook"
    assert '"at": [200.0, -6.0]' in second.settings
    assert '"heater_cathode_leakage"' in first.settings  # the limits it was judged by


def test_two_sections_of_one_file_are_one_tube(path, tmp_path):
    first = write_sweep(tmp_path / "a.csv").read_text().splitlines()
    second = write_sweep(tmp_path / "b.csv", seed=9).read_text().splitlines()
    both = tmp_path / "both.csv"
    lines = ["# tube: S1", "# type: 6SN7GTB", "# section: 1", *first[2:]]
    lines += ["# section: 2", *second[2:]]
    both.write_text("\n".join(lines) + "\n", encoding="utf-8")
    add(path, both)
    (tube,) = list_lot(path).tubes
    assert [result.section for result in tube.results] == ["1", "2"]
    assert add(path, both, again=True).judged_again == 2


def test_a_file_that_cannot_be_read_keeps_none_of_the_others_out(path, bench):
    (bench / "bad.csv").write_text("nothing here\n")
    added = add(path, bench, bench / "none.csv")
    assert added.filed == 3
    assert len(added.batch.errors) == 2
    with pytest.raises(UnknownTypeError):
        add(path, bench, request={"type_name": "6ZZ9"})


def test_a_job_that_is_stopped_files_nothing_half(path, bench):
    added = add_to_lot(path, Addition(Request(paths=(bench,))), should_stop=lambda: True)
    assert added.batch.stopped
    assert added.filed == 0
    assert list_lot(path).tubes == ()


def test_an_export_makes_the_same_lot_again(path, bench, tmp_path):
    add(path, bench)
    enter_hand_test(path, "A17", ByHand(Conditions(shorts="none", warm_up=600.0)))
    lock_set(
        path,
        TubeSet(
            "P1",
            SetState.LOCKED,
            (SetMember("A17"), SetMember("A18")),
            datetime(2031, 3, 1, tzinfo=UTC),
        ),
    )
    text = lot_export_text(whole_lot(path))
    export, other = tmp_path / "spring.json", tmp_path / "other.lot"
    export.write_text(text, encoding="utf-8")
    create_lot(other)
    added = add(other, export)
    assert [(item.tubes, item.sources, item.known) for item in added.merged] == [(3, 3, 0)]
    assert lot_export_text(whole_lot(other)) == text
    again = add(other, export)
    assert [(item.tubes, item.sources, item.known) for item in again.merged] == [(0, 0, 3)]
    assert again.notices == ()
    assert len(list_lot(other).tubes) == 3


def test_an_export_that_is_none_is_an_error_of_that_file(path, tmp_path):
    wrong = tmp_path / "wrong.json"
    wrong.write_text('{"schema": "curvelab.characteristics/1"}')
    added = add(path, wrong, tmp_path / "none.json")
    assert [error.file for error in added.batch.errors] == [
        str(wrong), str(tmp_path / "none.json"),
    ]  # fmt: skip


def test_stored_sweeps_are_judged_anew_without_their_files(path, bench):
    add(path, bench)
    before = characterize(Request(paths=(bench,)))
    for file in bench.iterdir():
        file.unlink()
    after = judge_lot(path, Request(paths=(), at=(200.0, -6.0)))
    assert [a.sweep.tube for a in after.assessments] == [b.sweep.tube for b in before.assessments]
    assert after.assessments[0].operating_point.origin == "given"
    assert after.assessments[0].fit.family is not None


def test_a_name_that_no_text_can_hold_is_still_filed(path, tmp_path):
    name = os.fsdecode(b"A\xff17.csv")
    written = write_sweep(tmp_path / "A17.csv").read_text().splitlines()
    try:
        (tmp_path / name).write_text("\n".join(written[1:]) + "\n")  # without its tube line
    except OSError:
        pytest.skip("this file system takes no such name")
    added = add(path, tmp_path / name, labels=TubeIdentity("", box=os.fsdecode(b"b\xfe")))
    assert (added.filed, added.batch.errors) == (1, ())
    (tube,) = list_lot(path).tubes
    assert tube.identity.serial == "A\ufffd17"
    assert add(path, tmp_path / name, again=True).judged_again == 1
    lot_export_text(whole_lot(path)).encode("utf-8")


def test_records_of_other_rooms_are_kept_in_versions(path):
    first = keep_record(path, "bench-check", "back room", '{"factor": 1.01}')
    keep_record(path, "bench-check", "back room", '{"factor": 1.02}')
    assert first.version == 1
    assert [item.payload for item in kept_records(path, "bench-check", "back room")] == [
        '{"factor": 1.01}', '{"factor": 1.02}',
    ]  # fmt: skip
    assert kept_records(path, "correction") == ()


def test_hand_tests_are_judged_and_the_worst_verdict_counts(path, bench):
    add(path, bench)
    assert tubes(path)["A17"].verdict is Verdict.ACCEPT
    test = enter_hand_test(
        path, "A17", ByHand(Conditions(heater_cathode_leakage=150e-6, heater_current=0.6))
    )
    assert test.verdict is Verdict.REJECT
    tube = tubes(path)["A17"]
    assert tube.verdict is Verdict.REJECT
    assert [mark.code for mark in tube.hand_tests[0].findings] == ["heater-cathode"]
    with pytest.raises(UnknownTubeError):
        enter_hand_test(path, "Z9", ByHand(Conditions()))


def test_a_table_of_hand_tests(path, bench, tmp_path):
    table = tmp_path / "tests.csv"
    table.write_text(
        "tube;heater ma;heater-cathode leakage (uA);shorts;tap test;warm-up minutes;note\n"
        "A17;600;2,5;none;quiet;10;\n"
        "A18;;25;none;;10;crown off\n"
        "Z9;600;;none;;10;\n"
        "D01;lots;;none;;10;\n"
        ";600;;;;;\n"
        "A17;;;;;;\n"
    )
    added = add(path, bench, hand_tests=table)
    assert added.tested_by_hand == 2
    told = {item.line: item.reason for item in added.not_entered}
    assert sorted(told) == [4, 5, 6, 7]
    assert "Z9" in told[4]
    assert "lots" in told[5]
    first, second = tubes(path)["A17"].hand_tests[0], tubes(path)["A18"].hand_tests[0]
    assert first.conditions == Conditions(
        heater_current=0.6,
        heater_cathode_leakage=pytest.approx(2.5e-6),
        shorts="none",
        tap_test="quiet",
        warm_up=600.0,
    )
    assert first.verdict is Verdict.ACCEPT
    assert (second.verdict, second.note) == (Verdict.HOLD, "crown off")
    assert add(path, hand_tests=table).tested_by_hand == 0  # the same table says nothing new
    wrong = add(path, hand_tests=bench / "A17.csv")
    assert "no table of hand tests" in wrong.batch.errors[0].reason


def test_rejects_are_claimed_in_the_order_their_time_runs_out(path, bench):
    labels = TubeIdentity("", supplier="estate", cost=Decimal("4.50"), return_by=date(2031, 4, 1))
    add(path, bench / "A17.csv", labels=labels)
    add(path, bench / "A18.csv", labels=replace(labels, return_by=date(2031, 3, 20)))
    add(path, bench / "D01.csv", labels=replace(labels, supplier="fair"))
    for serial in ("A17", "A18"):
        enter_hand_test(path, serial, ByHand(Conditions(shorts="plate to grid")))
    overrule = Overrule(datetime(2031, 3, 2, tzinfo=UTC), Verdict.REJECT, "loose base", "Ada")
    overrule_verdict(path, "D01", overrule)
    claims = list_claims(path, date(2031, 3, 22))
    assert [(claim.tube.serial, claim.days_left) for claim in claims] == [
        ("A18", -2), ("A17", 10), ("D01", 10),
    ]  # fmt: skip
    assert claims[0].cost == Decimal("4.50")
    assert claims[0].reasons == (
        'The hand test states a short between electrodes: "plate to grid".',
    )
    assert claims[2].reasons == ("loose base (Ada)",)
    assert [claim.tube.serial for claim in list_claims(path, date(2031, 3, 22), "fair")] == ["D01"]


def test_a_tube_that_comes_back_is_told_from_its_own_sweep(path, bench, tmp_path):
    add(path, bench / "A17.csv")
    back = tmp_path / "A17.csv"
    write_sweep(back, seed=31)
    add(path, back)
    (found,) = compare_returned(path, "A17")
    assert found.same_point
    assert not found.another_tube
    assert {item.name for item in found.changes} >= {"plate_current", "amplification_factor"}
    assert all(abs(item.share) < 0.02 for item in found.changes)
    assert found.curve_distance < 0.02


def test_identity_and_sets_are_kept(path, bench):
    add(path, bench)
    tube = tubes(path)["A17"]
    change_identity(path, tube.key, replace(tube.identity, shelf="b", price=Decimal("19")))
    assert tubes(path)["A17"].identity.shelf == "b"
    when = datetime(2031, 3, 1, tzinfo=UTC)
    lock_set(path, TubeSet("P1", SetState.LOCKED, (SetMember("A17"), SetMember("A18")), when))
    change_set(path, "P1", SetState.SOLD)
    assert tubes(path)["A18"].set_state is SetState.SOLD
