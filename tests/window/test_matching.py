"""Behaviour: matched sets and mates in the real window, real SQLite files of real sweeps."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QInputDialog

from curvelab.catalog.records import SetState, TubeIdentity
from curvelab.window.help.help_window import HelpWindow
from curvelab.window.matching.figures_dialog import FiguresDialog
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from curvelab.workbench.lot_upkeep import change_set, kept_sets
from helpers.sweeps import write_log, write_sweep

STRENGTHS = {"A1": 1.00, "A2": 1.005, "B1": 1.12, "B2": 1.128, "C1": 1.25}


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    folder.mkdir()
    for seed, (name, strength) in enumerate(STRENGTHS.items()):
        write_sweep(folder / f"{name}.csv", seed=seed, strength=strength)
    write_log(folder / "D1.csv")
    return folder


@pytest.fixture
def lot_path(tmp_path, bench):
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=(bench,))))
    return path


@pytest.fixture
def opened(window, lot_path, idle):
    window.open_paths([lot_path])
    idle(window)
    window.actions_.matching.trigger()
    idle(window)
    return window


def find(window, idle, **wanted):
    form = window.tools.matching.panel.form
    form.held.setChecked(True)
    for name, value in wanted.items():
        getattr(form, name).setValue(value)
    form.seek.click()
    idle(window)
    return window.tools.matching.panel


def members(panel) -> list[set[str]]:
    return [set(line.members) for line in panel.sets.shown()]


def choose(panel, *names) -> None:
    lines = panel.sets.shown()
    panel.sets_view.clearSelection()
    model = panel.sets_view.selectionModel()
    flags = model.SelectionFlag
    for row, line in enumerate(lines):
        if set(names) <= set(line.members):
            model.select(panel.sets.index(row, 0), flags.Select | flags.Rows)


def lock(window, idle, name="pair") -> None:
    window.tools.matching.panel.lock.click()
    asked = next(one for one in window.findChildren(QInputDialog) if one.isVisible())
    asked.setTextValue(name)
    asked.accept()
    idle(window)


def test_sets_are_found_with_what_other_tolerances_would_give(opened, idle):
    panel = find(opened, idle)
    assert sorted(map(sorted, members(panel))) == [["A1", "A2"], ["B1", "B2"]]
    assert panel.tabs.tabText(0) == "Sets (2)"
    assert {line.type_name for line in panel.sets.shown()} == {"6SN7GTB"}
    assert [one.key for one in panel.left.shown()] == ["C1"]
    assert panel.left.shown()[0].nearest.key in {"B1", "B2"}
    assert [one.key for one in panel.out.shown()] == ["D1"]
    assert "No choice has more sets" in panel.words.text()
    assert "at 2 %: 2, at 5 %: 2, at 10 %: 2" in panel.words.text()
    assert panel.form.seek.isEnabled()


def test_a_set_chosen_lays_its_tubes_over_each_other(opened, idle):
    panel = find(opened, idle)
    choose(panel, "B1", "B2")
    idle(opened)
    tubes = {entry.assessment.sweep.tube for entry in opened.lot.session.chosen}
    assert tubes == {"B1", "B2"}
    rows = opened.tubes.view.selectionModel().selectedRows()
    assert {index.data() for index in rows} == {"B1", "B2"}


def test_spares_and_a_wider_tolerance_change_what_is_found(opened, idle):
    panel = find(opened, idle, spare=1, tolerance=30.0)
    assert len(panel.sets.shown()) == 1
    line = panel.sets.shown()[0]
    assert (len(line.tubes), len(line.spare)) == (2, 1)


def test_a_set_is_locked_taken_back_and_locked_again(opened, lot_path, idle):
    panel = find(opened, idle)
    choose(panel, "A1")
    lock(opened, idle, "  stalls ")
    (kept,) = kept_sets(lot_path)
    assert (kept.name, kept.state) == ("stalls 01", SetState.LOCKED)
    assert {member.serial for member in kept.members} == {"A1", "A2"}
    assert [line.state for line in panel.sets.shown()] == [None, SetState.LOCKED]
    row = next(row for row in opened.lot.rows if row.title == "A1")
    assert row.house.in_set == "stalls 01 (locked)"
    assert opened.actions_.undo.text().endswith("lock 1 set")
    opened.actions_.undo.trigger()
    idle(opened)
    assert kept_sets(lot_path) == ()
    assert [line.state for line in panel.sets.shown()] == [None, None]
    opened.actions_.redo.trigger()
    idle(opened)
    assert kept_sets(lot_path) == (kept,)


def test_a_set_is_sold_and_that_is_taken_back(opened, lot_path, idle):
    panel = find(opened, idle)
    choose(panel, "A1")
    lock(opened, idle)
    choose(panel, "A1")
    assert not panel.lock.isEnabled()
    panel.sell.click()
    idle(opened)
    assert kept_sets(lot_path)[0].state is SetState.SOLD
    choose(panel, "A1")
    assert not panel.sell.isEnabled()
    opened.actions_.undo.trigger()
    idle(opened)
    assert kept_sets(lot_path)[0].state is SetState.LOCKED


def test_a_released_set_is_free_to_be_found_again_and_its_release_taken_back(
    opened, lot_path, idle
):
    panel = find(opened, idle)
    choose(panel, "A1")
    lock(opened, idle)
    choose(panel, "A1")
    panel.release.click()
    idle(opened)
    assert kept_sets(lot_path)[0].state is SetState.DISSOLVED
    assert {"A1", "A2"} in members(panel)
    opened.actions_.undo.trigger()
    idle(opened)
    assert kept_sets(lot_path)[0].state is SetState.LOCKED


def test_what_another_program_has_done_since_is_not_taken_back(opened, lot_path, idle):
    panel = find(opened, idle)
    choose(panel, "A1")
    lock(opened, idle)
    change_set(lot_path, "pair 01", SetState.SOLD)
    opened.actions_.undo.trigger()
    idle(opened)
    assert kept_sets(lot_path)[0].state is SetState.SOLD
    assert "nothing was taken back" in opened.lot.session.problems[-1].reason


def test_several_sets_are_locked_at_once(opened, lot_path, idle):
    panel = find(opened, idle)
    panel.sets_view.selectAll()
    lock(opened, idle)
    assert [one.name for one in kept_sets(lot_path)] == ["pair 01", "pair 02"]
    assert find(opened, idle).words.text().startswith("2 sets")


def test_the_stock_is_ranked_against_the_tube_looked_at(opened, idle):
    opened.lot.choose_called(["B1"])
    idle(opened)
    opened.tools.matching.panel.form.held.setChecked(True)
    opened.actions_.mate.trigger()
    idle(opened)
    panel = opened.tools.matching.panel
    mates = panel.mates.shown()
    assert mates[0].key == "B2"
    assert mates[0].within
    assert "Mates for B1" in panel.words.text()
    assert panel.tabs.currentWidget() is panel.mates_view
    chosen = [entry.assessment.sweep.tube for entry in opened.lot.session.chosen]
    assert chosen == ["B1", "B2"]


def test_a_tube_is_locked_with_the_mate_that_was_picked(opened, lot_path, idle):
    opened.lot.choose_called(["B1"])
    idle(opened)
    opened.tools.matching.panel.form.held.setChecked(True)
    opened.actions_.mate.trigger()
    idle(opened)
    panel = opened.tools.matching.panel
    assert panel.lock.isEnabled()
    lock(opened, idle, "aisle")
    (kept,) = kept_sets(lot_path)
    assert [member.serial for member in kept.members] == ["B1", "B2"]
    assert '"spread_pct"' in kept.payload
    line = panel.sets.shown()[-1]
    assert (line.name, line.state) == ("aisle 01", SetState.LOCKED)
    assert line.type_name == "6SN7GTB"
    assert 0 < line.spread < 0.05


def test_tubes_are_kept_as_a_set_by_hand_and_let_go_by_undo(opened, lot_path, idle):
    assert not opened.actions_.keep_set.isEnabled()
    opened.lot.choose_called(["A1", "C1"])
    idle(opened)
    opened.actions_.keep_set.trigger()
    asked = next(one for one in opened.findChildren(QInputDialog) if one.isVisible())
    asked.setTextValue("for the organ")
    asked.accept()
    idle(opened)
    (kept,) = kept_sets(lot_path)
    assert kept.name == "for the organ"
    assert {member.serial for member in kept.members} == {"A1", "C1"}
    opened.actions_.undo.trigger()
    idle(opened)
    assert kept_sets(lot_path) == ()
    assert opened.tools.matching.panel.sets.shown() == []


def test_the_stock_is_ranked_against_figures_typed_in(opened, idle):
    opened.tools.matching.panel.form.held.setChecked(True)
    opened.actions_.mate_of_figures.trigger()
    dialog = next(one for one in opened.findChildren(FiguresDialog) if one.isVisible())
    assert not dialog.button.isEnabled()
    dialog.type.setCurrentText("6SN7GTB")
    dialog.plate_volts.setValue(250.0)
    dialog.grid_volts.setValue(-8.0)
    strongest = next(row for row in opened.lot.rows if row.title == "C1")
    dialog.current.setValue(strongest.constants.plate_current.value * 1e3)
    dialog.button.click()
    idle(opened)
    mates = opened.tools.matching.panel.mates.shown()
    assert mates[0].key == "C1"
    assert mates[0].difference.fraction < 0.001
    assert mates[0].difference.distinguishable is None
    assert not opened.tools.matching.panel.lock.isEnabled()


def test_tubes_in_no_lot_file_are_matched_but_not_kept(window, bench, idle):
    window.open_paths([bench])
    idle(window)
    window.actions_.matching.trigger()
    assert "in no lot file" in window.tools.matching.panel.words.text()
    panel = find(window, idle)
    assert {"A1", "A2"} in members(panel)
    panel.sets_view.selectAll()
    assert not panel.lock.isEnabled()
    window.lot.choose_called(["B1"])
    window.actions_.mate.trigger()
    idle(window)
    assert panel.mates.shown()[0].key == "B2"


def test_one_type_alone_takes_part_where_that_is_asked_for(opened, bench, idle):
    write_sweep(bench / "J1.csv", type_name="6J5", seed=21)
    opened.open_paths([bench / "J1.csv"])
    idle(opened)
    form = opened.tools.matching.panel.form
    assert [form.type.itemText(at) for at in range(form.type.count())] == [
        "all types", "6J5", "6SN7GTB",
    ]  # fmt: skip
    form.type.setCurrentText("6J5")
    panel = find(opened, idle)
    assert members(panel) == []
    assert [one.key for one in panel.left.shown()] == ["J1"]


def test_tubes_of_one_grade_are_matched_once_the_lot_is_graded(opened, idle):
    form = opened.tools.matching.panel.form
    assert not form.grade.isEnabled()
    opened.actions_.grade.trigger()
    idle(opened)
    offered = [form.grade.itemText(at) for at in range(form.grade.count())]
    graded = {row.title: row.house.grade.word for row in opened.lot.rows if row.house.grade}
    assert len(graded) == 5
    assert offered[0] == "all grades"
    assert set(offered[1:]) == set(graded.values())
    form.grade.setCurrentText(offered[1])
    panel = find(opened, idle)
    out = {one.key: one.reasons for one in panel.out.shown()}
    for title, word in graded.items():
        assert (title in out) is (word != offered[1])
    opened.tools.matching.panel.tabs.setCurrentWidget(panel.out_view)
    panel.out_view.setFocus()
    panel.out_view.selectRow(0)
    opened.actions_.copy_rows.trigger()
    assert QGuiApplication.clipboard().text().startswith("took no part\tbecause\n")


def test_tubes_of_two_lots_with_one_serial_are_told_apart(opened, lot_path, tmp_path, idle):
    path = write_sweep(tmp_path / "A1.csv", seed=77, strength=1.002)
    add_to_lot(lot_path, Addition(Request(paths=(path,)), TubeIdentity("", lot="autumn")))
    opened.open_paths([lot_path])
    idle(opened)
    panel = find(opened, idle)
    assert {"A1 (autumn)", "A1 (no lot)", "A2"} & {name for one in members(panel) for name in one}
    opened.lot.choose_called(["A1 (autumn)"])
    assert [tube.identity.lot for tube in opened.lot.chosen_tubes] == ["autumn"]
    opened.lot.choose_called(["A1"])
    assert {tube.identity.lot for tube in opened.lot.chosen_tubes} == {"", "autumn"}
    assert panel.form.lot.isEnabled()


def test_sets_across_two_lots_hold_tubes_of_both(opened, lot_path, tmp_path, idle):
    form = opened.tools.matching.panel.form
    assert not form.other_lot.isEnabled()
    more = [
        write_sweep(tmp_path / f"{name}.csv", seed=50 + number, strength=strength)
        for number, (name, strength) in enumerate({"X1": 1.002, "X2": 1.003}.items())
    ]
    add_to_lot(lot_path, Addition(Request(paths=more), TubeIdentity("", lot="autumn")))
    opened.open_paths([lot_path])
    idle(opened)
    form.lot.setCurrentIndex(form.lot.findData("autumn"))
    assert form.other_lot.itemText(1) == "no lot"
    form.other_lot.setCurrentIndex(1)
    panel = find(opened, idle)
    assert len(members(panel)) == 2
    for one in members(panel):
        assert {name[0] for name in one} == {"A", "X"}
    form.lot.setCurrentIndex(0)
    assert form.other_lot.currentData() is None
    assert form.request.across is None
    assert len(members(find(opened, idle))) == 3


@pytest.fixture
def duals(tmp_path):
    folder = tmp_path / "duals"
    folder.mkdir()
    for seed, (name, strengths) in enumerate({"M1": (1.0, 1.01), "M2": (1.0, 1.2)}.items()):
        for section, strength in enumerate(strengths, start=1):
            path = write_sweep(
                folder / f"{name}.csv", seed=30 + 2 * seed + section, strength=strength
            )
            text = path.read_text(encoding="utf-8").replace("\n", f"\n# section: {section}\n", 1)
            path.rename(folder / f"{name} {section}.csv").write_text(text, encoding="utf-8")
    return folder


def test_the_sections_of_each_dual_tube_are_matched(opened, duals, idle):
    opened.open_paths([duals])
    idle(opened)
    form = opened.tools.matching.panel.form
    form.sections.setCurrentIndex(2)
    assert not form.tubes.isEnabled()
    panel = find(opened, idle)
    assert members(panel) == [{"M1"}]
    (left,) = panel.left.shown()
    assert left.key == "M2"
    assert panel.left.index(0, 1).data() == "its other section"
    assert panel.left.index(0, 3).data() == "–"
    assert "Tubes whose sections match: 1, whose do not: 1. Took no part:" in panel.words.text()
    assert "Such tubes there would be at 2 %: 1, at 5 %: 1, at 10 %: 1" in panel.words.text()
    assert {"A1", "C1"} <= {one.key for one in panel.out.shown()}
    panel.sets_view.selectAll()
    assert not panel.lock.isEnabled()
    assert not panel.sheets.isEnabled()


def test_sections_are_matched_in_the_window_also_without_a_lot_file(window, duals, idle):
    window.open_paths([duals])
    idle(window)
    window.actions_.matching.trigger()
    form = window.tools.matching.panel.form
    form.sections.setCurrentIndex(2)
    assert members(find(window, idle)) == [{"M1"}]
    form.sections.setCurrentIndex(0)
    assert members(find(window, idle, tolerance=30.0)) == [{"M1", "M2"}]
    form.sections.setCurrentIndex(1)
    assert members(find(window, idle, tolerance=5.0)) == []


def test_another_lot_file_begins_anew(opened, tmp_path, idle):
    find(opened, idle)
    create_lot(tmp_path / "other.lot")
    opened.open_paths([tmp_path / "other.lot"])
    idle(opened)
    assert opened.tools.matching.panel.sets.shown() == []
    assert not opened.actions_.matching.isEnabled()
    assert not opened.actions_.matching.isChecked()


def test_enter_in_the_form_finds_sets_and_closing_the_panel_unchecks_its_action(
    opened, qtbot, idle
):
    panel = opened.tools.matching.panel
    assert QApplication.focusWidget() is panel.form.tubes
    qtbot.keyClick(panel.form.tubes, Qt.Key.Key_Return)
    idle(opened)
    assert panel.sets.shown()
    panel.parentWidget().close()
    assert not opened.actions_.matching.isChecked()


def test_f1_in_the_panel_explains_it(opened):
    assert QApplication.focusWidget() is opened.tools.matching.panel.form.tubes
    opened.actions_.help.trigger()
    (found,) = opened.findChildren(HelpWindow)
    assert found.current_key == "matching"


def test_a_lot_file_that_is_gone_is_said_in_the_panel(opened, lot_path, idle):
    for path in lot_path.parent.glob("spring.lot*"):
        path.unlink()
    panel = find(opened, idle)
    assert "spring.lot" in panel.words.text()
    assert panel.sets.shown() == []
    assert panel.form.seek.isEnabled()


def test_a_matching_that_is_stopped_can_be_begun_again(opened, idle):
    form = opened.tools.matching.panel.form
    form.held.setChecked(True)
    form.seek.click()
    assert not form.seek.isEnabled()
    opened.actions_.cancel.trigger()
    idle(opened)
    assert form.seek.isEnabled()
    assert len(find(opened, idle).sets.shown()) == 2


def test_what_is_found_of_a_lot_that_was_closed_meanwhile_is_not_shown(opened, idle):
    panel = opened.tools.matching.panel
    panel.form.held.setChecked(True)
    panel.form.seek.click()
    opened.actions_.close_lot.trigger()
    idle(opened)
    assert panel.sets.shown() == []
    assert not opened.actions_.matching.isEnabled()
    assert not opened.lot.session.problems
