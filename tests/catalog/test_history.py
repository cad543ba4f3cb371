"""Behaviour: what is stored, what is listed, and that nothing measured is ever overwritten."""

from __future__ import annotations

import time
import zlib
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from curvelab.catalog.hand_tests import (
    add_hand_test,
    overrule_verdict,
    take_back_hand_test,
    take_back_overrule,
)
from curvelab.catalog.listing import list_tubes, standing_tube, tube_history
from curvelab.catalog.records import HandTest, Overrule, SetMember, SetState, TubeIdentity, TubeSet
from curvelab.catalog.results import (
    add_characterisation,
    curve_grids,
    documents,
    file_results,
    insert_measurement,
    insert_source,
    measurement_keys,
    stored_sources,
)
from curvelab.catalog.sets import (
    change_set,
    list_sets,
    lock_sets,
    take_back_change,
    take_back_sets,
)
from curvelab.catalog.tubes import change_tube, find_tube, take_in_tube
from curvelab.errors import CatalogDamagedError, CatalogError
from curvelab.health.records import FindingCode, Verdict
from curvelab.sweep.records import Conditions, SweepKind
from helpers import assessments, lots


def only(lot):
    (tube,) = list_tubes(lot)
    return tube


def test_a_tube_is_listed_with_the_figures_of_its_sweep(lot):
    made = lots.swept("A1", "text")
    lots.file_tube(lot, "A1", "text")
    tube = only(lot)
    (result,) = tube.results
    assert (tube.identity.serial, tube.identity.type_label) == ("A1", "ECC83")
    assert tube.verdict is Verdict.ACCEPT
    assert (result.section, result.kind) == (None, SweepKind.CURVES)
    figures = result.figures
    assert figures.operating_point == made.operating_point
    for name in ("plate_current", "transconductance", "plate_resistance", "amplification_factor"):
        stored, measured = getattr(figures.constants, name), getattr(made.constants, name)
        assert stored.value == pytest.approx(measured.value, rel=1e-9)
        assert stored.u95 == pytest.approx(measured.u95, rel=1e-9)
        assert figures.of_bogey[name] == pytest.approx(made.comparison.of_bogey[name], rel=1e-9)


def test_a_value_that_cannot_be_had_keeps_its_reason(lot):
    made = assessments.without_constants()
    lots.file_tube(lot, "C3", "text", constants=made.constants)
    constants = only(lot).results[0].figures.constants
    assert constants.transconductance.value is None
    assert constants.transconductance.outcome is made.constants.transconductance.outcome
    assert constants.transconductance.reason == made.constants.transconductance.reason


def test_the_same_bytes_are_filed_once(lot):
    assert lots.file_tube(lot, "A1", "text").new
    again = lots.file_tube(lot, "A1", "text")
    assert not again.new
    assert len(tube_history(lot, only(lot).key).measurements) == 1


def test_the_original_bytes_come_back(lot):
    lots.file_tube(lot, "A1", "plate_v,grid_v\n1,2\n")
    (stored,) = stored_sources(lot)
    assert stored.content == b"plate_v,grid_v\n1,2\n"


def test_bytes_that_changed_behind_our_back_are_not_given_out(lot):
    lots.file_tube(lot, "A1", "text")
    with lot.changing() as connection:
        connection.execute("UPDATE source SET content = ?", (zlib.compress(b"other"),))
    with pytest.raises(CatalogDamagedError, match=r"a\.csv"):
        list(stored_sources(lot))


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE characterisation SET verdict = 'perhaps'",
        "UPDATE characterisation SET made_at = 'noon'",
        "UPDATE tube SET cost = 'much'",
    ],
)
def test_a_row_that_makes_no_sense_is_one_plain_error(lot, change):
    lots.file_tube(lot, "A1")
    with lot.changing() as connection:
        connection.execute(change)
    with pytest.raises(CatalogDamagedError, match="does not understand"):
        list_tubes(lot)


def test_a_new_sweep_makes_history(lot):
    lots.file_tube(lot, "A1", "spring")
    lots.file_tube(lot, "A1", "autumn", made_at=lots.LATER, constants=assessments.constants(0.9))
    tube = only(lot)
    assert tube.results[0].made_at == lots.LATER
    assert tube.results[0].figures.constants.plate_current.value == pytest.approx(1.116e-3)
    history = tube_history(lot, tube.key)
    first, second = (item.characterisations[0].figures for item in history.measurements)
    assert first.constants.plate_current.value == pytest.approx(1.24e-3)
    assert second.constants.plate_current.value == pytest.approx(1.116e-3)


def test_judging_an_old_sweep_again_does_not_make_it_the_newest(lot):
    lots.file_tube(lot, "A1", "spring")
    lots.file_tube(lot, "A1", "autumn", constants=assessments.constants(0.9))
    old = lots.swept("A1", "spring", constants=assessments.constants(1.1))
    ((key, *_),) = measurement_keys(lot, old.sweep.source.sha256)
    add_characterisation(lot, key, lots.measured(old, lots.LATER).characterisations[0])
    tube = only(lot)
    assert tube.results[0].figures.constants.plate_current.value == pytest.approx(1.116e-3)
    judged = [len(item.characterisations) for item in tube_history(lot, tube.key).measurements]
    assert judged == [2, 1]


def test_sections_stand_together_and_the_worst_decides(lot):
    good, bad = lots.swept("D1", "both", "1"), lots.swept("D1", "both", "2")
    bad = replace(bad, findings=assessments.SIX_FINDINGS, verdict=Verdict.REJECT)
    identity = TubeIdentity("D1")
    file_results(
        lot, good.sweep.source, [(identity, lots.measured(good)), (identity, lots.measured(bad))]
    )
    tube = only(lot)
    assert [result.section for result in tube.results] == ["1", "2"]
    assert tube.verdict is Verdict.REJECT
    assert {mark.code for mark in tube.findings} == {
        finding.code.value for finding in assessments.SIX_FINDINGS
    }


def test_a_source_is_filed_whole_or_not_at_all(lot):
    lots.file_tube(lot, "A1", "one", lot="spring")
    lots.file_tube(lot, "A1", "two", lot="autumn")
    new, old = lots.swept("B1", "both"), lots.swept("A1", "both")
    items = [(TubeIdentity(item.sweep.tube), lots.measured(item)) for item in (new, old)]
    refused = file_results(lot, new.sweep.source, items)
    assert "spring" in refused.refused
    assert [tube.identity.serial for tube in list_tubes(lot)] == ["A1", "A1"]
    assert not documents(lot, [3])


def test_a_serial_alone_finds_its_tube_and_a_lot_tells_two_apart(lot):
    lots.file_tube(lot, "A1", "one", lot="spring")
    lots.file_tube(lot, "A1", "two")  # of whichever lot knows it
    assert len(tube_history(lot, only(lot).key).measurements) == 2
    lots.file_tube(lot, "A1", "three", lot="autumn")
    assert [tube.identity.lot for tube in list_tubes(lot)] == ["spring", "autumn"]
    with pytest.raises(CatalogError, match="say which"):
        find_tube(lot, "A1")
    assert find_tube(lot, "A1", "autumn")[1].lot == "autumn"
    with pytest.raises(CatalogError, match="no tube"):
        find_tube(lot, "Z9")


def test_another_type_on_the_label_is_pointed_out(lot):
    lots.file_tube(lot, "A1", "one")
    made = lots.swept("A1", "two")
    item = (TubeIdentity("A1", type_label="12AT7"), lots.measured(made))
    (notice,) = file_results(lot, made.sweep.source, [item]).notices
    assert "ECC83" in notice
    assert "12AT7" in notice


def test_what_the_house_knows_can_be_changed(lot):
    lots.file_tube(lot, "A1")
    lots.file_tube(lot, "A2")
    key, identity = find_tube(lot, "A1")
    full = replace(
        identity,
        maker_mark="a bell, worn",
        box="3",
        shelf="b",
        supplier="estate of a cinema",
        cost=Decimal("4.50"),
        price=Decimal("12.00"),
        return_by=date(2031, 4, 1),
        note="crown off",
    )
    change_tube(lot, key, full)
    assert find_tube(lot, "A1") == (key, full)
    with pytest.raises(CatalogError, match="another tube"):
        change_tube(lot, key, replace(full, serial="A2"))
    with pytest.raises(CatalogError, match="no tube"):
        change_tube(lot, 99, replace(full, serial="A9"))


def test_curves_come_back_as_they_were_sampled(lot):
    lots.file_tube(lot, "A1", "text")
    sampled = lots.measured(lots.swept("A1", "text")).characterisations[0].curves
    key = only(lot).results[0].key
    stored = curve_grids(lot, [key])[key]
    assert np.array_equal(stored.plate_current, sampled.plate_current)
    assert np.array_equal(stored.plate_voltage, sampled.plate_voltage)
    assert np.array_equal(stored.grid_voltage, sampled.grid_voltage)
    assert np.array_equal(stored.covered, sampled.covered)
    assert stored.covered.any()


def hand_test(verdict: Verdict) -> HandTest:
    return HandTest(lots.LATER, None, Conditions(shorts="plate to grid"), None, (), verdict)


def test_a_hand_test_counts_and_a_later_one_replaces_it(lot):
    lots.file_tube(lot, "A1")
    key = only(lot).key
    add_hand_test(lot, key, hand_test(Verdict.REJECT))
    assert only(lot).verdict is Verdict.REJECT
    assert only(lot).hand_tests[0].conditions.shorts == "plate to grid"
    add_hand_test(lot, key, hand_test(Verdict.ACCEPT))
    assert only(lot).verdict is Verdict.ACCEPT
    assert len(tube_history(lot, key).hand_tests) == 2


def test_an_overruled_verdict_holds_until_the_tube_is_tested_again(lot):
    lots.file_tube(lot, "A1", "one", verdict=Verdict.HOLD)
    key = only(lot).key
    overrule = Overrule(lots.EARLY, Verdict.ACCEPT, "socket was dirty", "Ada")
    overrule_verdict(lot, key, overrule)
    tube = only(lot)
    assert (tube.verdict, tube.measured_verdict) == (Verdict.ACCEPT, Verdict.HOLD)
    assert tube.overrule.reason == "socket was dirty"
    add_hand_test(lot, key, hand_test(Verdict.REJECT))
    assert only(lot).verdict is Verdict.REJECT
    overrule_verdict(lot, key, replace(overrule, verdict=Verdict.HOLD))
    assert only(lot).verdict is Verdict.HOLD
    lots.file_tube(lot, "A1", "two", verdict=Verdict.HOLD)
    assert only(lot).overrule is None
    assert len(tube_history(lot, key).overrules) == 2


def test_what_was_entered_last_is_taken_back_and_what_was_before_holds_again(lot):
    lots.file_tube(lot, "A1", "one", verdict=Verdict.HOLD)
    key = only(lot).key
    overrule_verdict(lot, key, Overrule(lots.EARLY, Verdict.ACCEPT, "socket was dirty", "Ada"))
    add_hand_test(lot, key, replace(hand_test(Verdict.REJECT), made_at=lots.LATER))
    assert only(lot).overrule is None
    take_back_hand_test(lot, key, lots.LATER)
    assert only(lot).overrule.person == "Ada"
    overrule_verdict(lot, key, Overrule(lots.LATER, Verdict.REJECT, "cracked", "Grace"))
    with pytest.raises(CatalogError, match="another one has been entered"):
        take_back_overrule(lot, key, lots.EARLY)
    take_back_overrule(lot, key, lots.LATER)
    assert only(lot).overrule.person == "Ada"
    take_back_overrule(lot, key, lots.EARLY)
    assert only(lot).overrule is None
    with pytest.raises(CatalogError, match="taken back"):
        take_back_overrule(lot, key, lots.EARLY)


def test_one_tube_alone_stands_as_it_does_among_all(lot):
    for serial in ("A1", "A2", "A3"):
        lots.file_tube(lot, serial)
        key = find_tube(lot, serial)[0]
        add_hand_test(lot, key, hand_test(Verdict.HOLD))
    overrule_verdict(lot, key, Overrule(lots.EARLY, Verdict.ACCEPT, "socket was dirty", "Ada"))
    for tube in list_tubes(lot):
        alone = standing_tube(lot, tube.key)
        assert [result.key for result in alone.results] == [result.key for result in tube.results]
        assert alone.identity == tube.identity
        assert [test.made_at for test in alone.hand_tests] == [
            test.made_at for test in tube.hand_tests
        ]
        assert (alone.overrule, alone.verdict) == (tube.overrule, tube.verdict)
        assert tube.results[0].named == tube.identity.serial
    with pytest.raises(CatalogError):
        standing_tube(lot, 99)


@pytest.mark.parametrize("empty", ["reason", "person"])
def test_nobody_overrules_without_a_name_and_a_reason(lot, empty):
    lots.file_tube(lot, "A1")
    overrule = Overrule(lots.EARLY, Verdict.ACCEPT, "socket was dirty", "Ada")
    with pytest.raises(ValueError, match="by a person, for a reason"):
        overrule_verdict(lot, only(lot).key, replace(overrule, **{empty: " "}))


def pair(name: str, *serials: str) -> TubeSet:
    members = tuple(SetMember(serial, spare=serial == "A3") for serial in serials)
    return TubeSet(name, SetState.LOCKED, members, lots.EARLY, '{"spread_pct": 1.2}')


def test_a_tube_is_in_one_set_at_a_time(lot):
    for serial in ("A1", "A2", "A3"):
        lots.file_tube(lot, serial)
    lock_sets(lot, [pair("P1", "A1", "A2")])
    first = list_tubes(lot)[0]
    assert (first.set_name, first.set_state) == ("P1", SetState.LOCKED)
    with pytest.raises(CatalogError, match="'P1'"):
        lock_sets(lot, [pair("P2", "A2", "A3")])
    with pytest.raises(CatalogError, match="already"):
        lock_sets(lot, [pair("P1", "A3")])
    with pytest.raises(CatalogError, match="no tube"):
        lock_sets(lot, [pair("P3", "Z9")])
    with pytest.raises(CatalogError, match="once"):
        lock_sets(lot, [pair("P3", "A3", "A3")])
    change_set(lot, "P1", SetState.SOLD)
    assert list_tubes(lot)[1].set_state is SetState.SOLD
    with pytest.raises(CatalogError, match="cannot become locked"):
        change_set(lot, "P1", SetState.LOCKED)
    change_set(lot, "P1", SetState.DISSOLVED)
    assert list_tubes(lot)[0].set_name is None
    lock_sets(lot, [pair("P2", "A2", "A3")])
    states = [(item.name, item.state, len(item.members)) for item in list_sets(lot)]
    assert states == [("P1", SetState.DISSOLVED, 2), ("P2", SetState.LOCKED, 2)]
    assert [member.spare for member in list_sets(lot)[1].members] == [False, True]
    with pytest.raises(CatalogError, match="no set"):
        change_set(lot, "P9", SetState.SOLD)


def test_sets_are_taken_back_as_long_as_nothing_has_become_of_them(lot):
    for serial in ("A1", "A2", "A3", "A4"):
        lots.file_tube(lot, serial)
    locked, sold, gone = SetState.LOCKED, SetState.SOLD, SetState.DISSOLVED
    lock_sets(lot, [pair("P1", "A1", "A2"), pair("P2", "A3", "A4")])
    change_set(lot, "P2", sold)
    with pytest.raises(CatalogError, match="'P2' is sold by now"):
        take_back_sets(lot, ["P1", "P2"])
    assert [item.name for item in list_sets(lot)] == ["P1", "P2"]
    with pytest.raises(CatalogError, match="'P2' is sold by now"):
        take_back_change(lot, "P2", gone, locked)
    take_back_change(lot, "P2", sold, locked)
    take_back_sets(lot, ["P1", "P2"])
    assert list_sets(lot) == ()
    assert {tube.set_name for tube in list_tubes(lot)} == {None}
    with pytest.raises(CatalogError, match="'P1' is not there"):
        take_back_sets(lot, ["P1"])


def test_a_release_is_taken_back_unless_a_tube_has_found_another_set(lot):
    for serial in ("A1", "A2", "A3"):
        lots.file_tube(lot, serial)
    lock_sets(lot, [pair("P1", "A1", "A2")])
    change_set(lot, "P1", SetState.DISSOLVED)
    take_back_change(lot, "P1", SetState.DISSOLVED, SetState.LOCKED)
    assert [tube.set_name for tube in list_tubes(lot)] == ["P1", "P1", None]
    change_set(lot, "P1", SetState.DISSOLVED)
    lock_sets(lot, [pair("P2", "A2", "A3")])
    with pytest.raises(CatalogError, match="in the set 'P2' by now"):
        take_back_change(lot, "P1", SetState.DISSOLVED, SetState.LOCKED)
    assert [tube.set_name for tube in list_tubes(lot)] == [None, "P2", "P2"]


def test_findings_are_kept_as_marks_and_in_full(lot):
    lots.file_tube(lot, "B2", findings=assessments.SIX_FINDINGS, verdict=Verdict.REJECT)
    (result,) = only(lot).results
    assert result.figures.findings[0].code == assessments.SIX_FINDINGS[0].code.value
    assert FindingCode(result.figures.findings[0].code)
    text = documents(lot, [result.key])[result.key]
    assert assessments.SIX_FINDINGS[0].evidence in text


def test_many_tubes_are_listed_fast(lot):
    made = lots.swept("A1", "text")
    measurement = lots.measured(made)
    with lot.changing() as connection:
        for number in range(1000):
            file = insert_source(connection, lots.source(f"T{number}"))
            tube, _ = take_in_tube(connection, TubeIdentity(f"T{number}"), "")
            insert_measurement(connection, tube, file, measurement)
    begin = time.perf_counter()
    found = list_tubes(lot)
    taken = time.perf_counter() - begin
    assert len(found) == 1000
    assert all(tube.results for tube in found)
    assert taken < 1.0  # of 10,000 in 2 s, with five times the room for a busy machine
