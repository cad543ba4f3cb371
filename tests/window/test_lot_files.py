"""Behaviour: lot files in the real window, real SQLite files of real sweeps."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.window.hand_test_dialog import HandTestDialog
from curvelab.window.house_dialog import HouseDialog
from curvelab.window.overrule_dialog import OverruleDialog
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot, list_lot, whole_lot
from curvelab.workbench.lot_upkeep import overrule_verdict
from helpers.sweeps import write_log, write_sweep


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    folder.mkdir()
    write_sweep(folder / "A17.csv")
    write_sweep(folder / "A18.csv", seed=6)
    write_log(folder / "D01.csv")
    return folder


@pytest.fixture
def lot_path(tmp_path, bench):
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=(bench,))))
    return path


@pytest.fixture
def opened(window, lot_path, answers, idle):
    answers.paths = [lot_path]
    window.actions_.open_lot.trigger()
    idle(window)
    return window


def titles(window) -> list[str]:
    return [row.title for row in window.tubes._model.shown()]


def choose(window, title, idle) -> None:
    window.tubes.view.selectRow(titles(window).index(title))
    idle(window)


def dialog(window, kind):
    return next(one for one in window.findChildren(kind) if one.isVisible())


def set_verdict(window, idle, verdict=Verdict.REJECT, reason="cracked base", person="Ada") -> None:
    window.actions_.overrule.trigger()
    asked = dialog(window, OverruleDialog)
    asked.verdict.setCurrentIndex(asked.verdict.findData(verdict))
    assert not asked.button.isEnabled()
    asked.reason.setPlainText(reason)
    asked.person.setText(person)
    asked.button.click()
    idle(window)


def stored(path) -> dict:
    return {tube.identity.serial: tube for tube in list_lot(path).tubes}


def test_the_tubes_of_a_lot_file_are_shown_and_only_the_first_is_judged(opened, lot_path):
    assert titles(opened) == ["A17", "A18", "D01"]
    assert [entry.assessment.sweep.tube for entry in opened.lot.entries] == ["A17"]
    assert opened.windowTitle().startswith("spring.lot")
    assert opened.workspace.isVisible()


def test_a_tube_of_it_is_judged_from_its_bytes_when_it_is_chosen(opened, bench, idle):
    for file in bench.iterdir():
        file.unlink()
    choose(opened, "A18", idle)
    judged = opened.lot.session.current.assessment
    assert judged.sweep.tube == "A18"
    row = next(row for row in opened.lot.rows if row.title == "A18")
    assert judged.constants.transconductance.value == pytest.approx(
        row.constants.transconductance.value, rel=1e-9
    )
    assert titles(opened) == ["A17", "A18", "D01"]
    assert opened.tubes.view.selectionModel().selectedRows()[0].row() == 1


def test_several_are_laid_over_each_other(opened, idle):
    opened.actions_.choose_all.trigger()
    idle(opened)
    assert len(opened.lot.session.chosen) == 3


def test_what_is_opened_goes_into_the_open_lot(opened, lot_path, bench, idle):
    write_sweep(bench / "A19.csv", seed=8)
    opened.open_paths([bench / "A19.csv"])
    idle(opened)
    assert "A19" in stored(lot_path)
    assert titles(opened) == ["A17", "A18", "D01", "A19"]
    assert opened.lot.session.current.assessment.sweep.tube == "A19"
    opened.open_paths([bench / "A17.csv"])
    idle(opened)
    assert len(whole_lot(lot_path).sources) == 4
    assert opened.lot.session.current.assessment.sweep.tube == "A17"


def test_a_new_lot_file_takes_what_is_on_the_list(window, bench, tmp_path, answers, idle):
    window.open_paths([bench])
    idle(window)
    window.tubes.view.selectRow(titles(window).index("A17"))
    set_verdict(window, idle)
    answers.paths = [tmp_path / "new.lot"]
    window.actions_.new_lot.trigger()
    idle(window)
    found = stored(tmp_path / "new.lot")
    assert sorted(found) == ["A17", "A18", "D01"]
    assert found["A17"].overrule.reason == "cracked base"
    assert window.lot.loose == ()


def test_a_lot_file_of_that_name_is_not_overwritten(window, lot_path, answers, idle):
    before = lot_path.read_bytes()
    answers.paths = [lot_path]
    window.actions_.new_lot.trigger()
    idle(window)
    assert lot_path.read_bytes() == before
    assert "already" in window.lot.session.problems[0].reason


def test_a_file_that_is_no_lot_file_is_told_without_a_box(window, tmp_path, answers, idle):
    answers.paths = [tmp_path / "junk.lot"]
    answers.paths[0].write_bytes(b"not a lot" * 100)
    window.actions_.open_lot.trigger()
    idle(window)
    assert window.lot.kept is None
    assert window.problem_list.isVisible()
    assert not [one for one in window.findChildren(QDialog) if one.isVisible()]


def test_a_verdict_is_overruled_kept_printed_and_taken_back(opened, lot_path, idle):
    choose(opened, "A17", idle)
    measured = opened.lot.session.current.assessment.verdict
    set_verdict(opened, idle, reason="  cracked\nbase ", person="Ada")
    overrule = stored(lot_path)["A17"].overrule
    assert (overrule.verdict, overrule.reason, overrule.person) == (
        Verdict.REJECT, "cracked base", "Ada",
    )  # fmt: skip
    document = opened.lot.session.document(opened.lot.session.current.key)
    assert document.verdict is Verdict.REJECT
    assert "reject set by Ada" in document.facts[0].text
    assert f"in place of {measured.value}: cracked base" in document.facts[0].text
    assert "cracked base" in opened.words._meaning.text()
    index = opened.tubes.view.model().index(0, 1)
    assert index.data() == "reject (person)"
    assert "cracked base" in index.data(Qt.ItemDataRole.ToolTipRole)
    assert opened.actions_.undo.text().endswith("set reject by Ada")
    opened.actions_.undo.trigger()
    idle(opened)
    assert stored(lot_path)["A17"].overrule is None
    assert opened.lot.session.current.verdict is measured
    opened.actions_.redo.trigger()
    idle(opened)
    assert stored(lot_path)["A17"].overrule == overrule


def test_the_name_is_remembered(opened, idle):
    choose(opened, "A17", idle)
    set_verdict(opened, idle, person="Ada")
    opened.actions_.overrule.trigger()
    assert dialog(opened, OverruleDialog).person.text() == "Ada"
    dialog(opened, OverruleDialog).reject()


def test_a_verdict_set_by_a_person_is_in_the_csv_beside_the_measured_one(
    opened, answers, tmp_path, idle
):
    choose(opened, "A17", idle)
    set_verdict(opened, idle, reason="=cracked", person="Ada")
    answers.paths = [tmp_path / "lot.csv"]
    opened.actions_.save_lot.trigger()
    idle(opened)
    text = answers.paths[0].read_text(encoding="utf-8")
    rows = {row["tube"]: row for row in csv.DictReader(io.StringIO(text))}
    assert set(rows) == {"A17", "A18", "D01"}
    assert rows["A17"]["verdict"] == "accept"
    assert rows["A17"]["verdict set by a person"] == "reject"
    assert (rows["A17"]["set by"], rows["A17"]["reason"]) == ("Ada", "'=cracked")
    assert rows["A18"]["verdict set by a person"] == ""


def test_fields_of_the_house_are_entered_checked_and_undone(opened, lot_path, idle):
    choose(opened, "A17", idle)
    opened.actions_.house.trigger()
    asked = dialog(opened, HouseDialog)
    asked.fields["cost"].setText("4,x")
    assert not asked.button.isEnabled()
    assert "Cost" in asked.wrong.text()
    asked.fields["cost"].setText("4,50")
    asked.fields["box"].setText(" B 12 ")
    asked.button.click()
    idle(opened)
    identity = stored(lot_path)["A17"].identity
    assert (identity.cost, identity.box) == (Decimal("4.50"), "B 12")
    opened.tubes.filter_field.setText("b 12")
    assert titles(opened) == ["A17"]
    opened.actions_.undo.trigger()
    idle(opened)
    assert stored(lot_path)["A17"].identity.box is None
    assert titles(opened) == []


def test_a_hand_test_is_judged_shown_and_taken_back(opened, lot_path, idle):
    choose(opened, "A17", idle)
    opened.actions_.hand_test.trigger()
    asked = dialog(opened, HandTestDialog)
    assert not asked.button.isEnabled()
    asked.fields["heater volts"].setText("plenty")
    assert "plenty" in asked.wrong.text()
    asked.fields["heater volts"].clear()
    asked.fields["shorts"].setText("grid to cathode")
    asked.button.click()
    idle(opened)
    assert stored(lot_path)["A17"].verdict is Verdict.REJECT
    row = next(row for row in opened.lot.rows if row.title == "A17")
    assert row.verdict is Verdict.REJECT
    assert "short" in [mark.code for mark in row.findings]
    opened.actions_.undo.trigger()
    idle(opened)
    assert stored(lot_path)["A17"].hand_tests == ()


def test_the_history_of_retests_is_seen(opened, lot_path, tmp_path, idle):
    again = tmp_path / "again"
    again.mkdir()
    write_sweep(again / "A17.csv", seed=12)
    opened.open_paths([again / "A17.csv"])
    idle(opened)
    assert titles(opened).count("A17") == 1
    opened.words.tabs.setCurrentWidget(opened.words.history)
    idle(opened)
    model = opened.words.history.view.model()
    assert model.rowCount() == 2
    assert model.index(0, 1).data() == "curves"
    assert "since" in opened.words.history.changes.text()


def test_taking_off_the_list_leaves_the_file_alone_and_is_undone(opened, lot_path, idle):
    choose(opened, "A18", idle)
    opened.actions_.remove.trigger()
    assert titles(opened) == ["A17", "D01"]
    assert "A18" in stored(lot_path)
    opened.actions_.undo.trigger()
    assert titles(opened) == ["A17", "A18", "D01"]
    opened.actions_.redo.trigger()
    assert titles(opened) == ["A17", "D01"]


def test_closing_the_lot_file_clears_its_tubes(opened, idle):
    choose(opened, "A17", idle)
    opened.actions_.close_lot.trigger()
    assert opened.lot.rows == ()
    assert opened.start_page.isVisible()
    assert not opened.actions_.close_lot.isEnabled()


def test_a_lot_file_that_is_changed_elsewhere_undoes_nothing_of_others(opened, lot_path, idle):
    choose(opened, "A17", idle)
    set_verdict(opened, idle)
    later = Overrule(datetime.now(UTC), Verdict.HOLD, "ask the customer", "Grace")
    overrule_verdict(lot_path, "A17", later)
    opened.actions_.undo.trigger()
    idle(opened)
    assert stored(lot_path)["A17"].overrule.person == "Grace"
    assert "taken back" in opened.lot.session.problems[-1].reason


def test_lines_that_were_never_judged_are_taken_off_and_brought_back(opened):
    opened.lot.choose_rows([row.key for row in opened.lot.rows][1:])
    opened.actions_.remove.trigger()
    assert titles(opened) == ["A17"]
    opened.actions_.undo.trigger()
    assert titles(opened) == ["A17", "A18", "D01"]


def judged_types(path, serial) -> list[str]:
    """Return the types that the judgings in the history of a tube went by, oldest first."""
    history = next(each for each in whole_lot(path).tubes if each.identity.serial == serial)
    return [
        judging.figures.type_name
        for measurement in history.measurements
        for judging in measurement.characterisations
    ]


def judge_as(window, idle, name) -> None:
    box = window.words.comparison.judged_as
    box.setCurrentIndex(box.findData(name))
    box.activated.emit(box.currentIndex())
    idle(window)


def test_a_type_set_by_a_person_is_filed_undone_and_done_again(opened, lot_path, idle):
    choose(opened, "A17", idle)
    own = judged_types(lot_path, "A17")
    judge_as(opened, idle, "6J5")
    assert judged_types(lot_path, "A17") == [*own, "6J5"]
    assert judged_types(lot_path, "A18") == own
    assert opened.lot.session.current.assessment.type_name == "6J5"
    assert next(row for row in opened.lot.rows if row.title == "A17").type_name == "6J5"
    assert opened.actions_.undo.text().endswith("judge 1 tube as 6J5")
    opened.actions_.undo.trigger()
    idle(opened)
    assert judged_types(lot_path, "A17") == own
    assert opened.lot.session.current.assessment.type_name == own[0]
    assert opened.words.comparison.judged_as.currentData() is None
    opened.actions_.redo.trigger()
    idle(opened)
    assert judged_types(lot_path, "A17") == [*own, "6J5"]
    assert opened.lot.session.current.assessment.type_name == "6J5"


def test_a_type_set_by_a_person_is_there_when_the_file_is_opened_again(opened, lot_path, idle):
    choose(opened, "A17", idle)
    judge_as(opened, idle, "6J5")
    opened.actions_.close_lot.trigger()
    opened.open_paths([lot_path])
    idle(opened)
    choose(opened, "A17", idle)
    assert opened.lot.session.current.assessment.type_name == "6J5"
    assert opened.words.comparison.judged_as.currentData() == "6J5"
    choose(opened, "A18", idle)
    assert opened.words.comparison.judged_as.currentData() is None
    choose(opened, "A17", idle)
    judge_as(opened, idle, None)
    assert opened.lot.session.current.assessment.type_name == "6SN7GTB"
    assert judged_types(lot_path, "A17")[-2:] == ["6J5", "6SN7GTB"]


def test_several_tubes_are_judged_as_one_type_in_one_change(opened, lot_path, idle):
    opened.actions_.choose_all.trigger()
    idle(opened)
    judge_as(opened, idle, "6J5")
    for serial in ("A17", "A18", "D01"):
        assert judged_types(lot_path, serial)[-1] == "6J5"
    opened.actions_.undo.trigger()
    idle(opened)
    for serial in ("A17", "A18", "D01"):
        assert judged_types(lot_path, serial)[-1] == "6SN7GTB"


def test_a_tube_opened_from_a_file_into_the_lot_is_judged_otherwise_too(
    opened, lot_path, bench, idle
):
    write_sweep(bench / "A19.csv", seed=8)
    opened.open_paths([bench / "A19.csv"])
    idle(opened)
    judge_as(opened, idle, "6J5")
    assert opened.lot.session.current.assessment.type_name == "6J5"
    assert judged_types(lot_path, "A19")[-1] == "6J5"
    assert [row.title for row in opened.lot.rows].count("A19") == 1
