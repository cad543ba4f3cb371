"""Behaviour: undo and redo, the list of all actions, and the layout of the table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.window.action_list import ActionList
from curvelab.window.column_layout import ColumnDialog
from curvelab.window.tasks import Failure
from curvelab.workbench.session import Wish
from helpers.lots import EARLY
from helpers.sweeps import write_sweep

VERDICT = 1


@pytest.fixture
def filled(window, fill_lot):
    fill_lot(window.lot)
    return window


def shown(window, at: int = 0) -> list[str]:
    model = window.tubes.view.model()
    return [model.index(row, at).data() for row in range(model.rowCount())]


def overrule(window, verdict=Verdict.REJECT, reason="cracked base", person="Ada") -> None:
    window.lot.overrule(Overrule(EARLY, verdict, reason, person))


def test_each_change_is_named_undone_and_done_again_in_turn(filled):
    actions, keys = filled.actions_, [entry.key for entry in filled.lot.entries]
    assert not actions.undo.isEnabled()
    overrule(filled)
    filled.lot.choose(keys[2:])
    actions.remove.trigger()
    assert len(shown(filled)) == 2
    assert actions.undo.text() == "&Undo: take 2 tubes off the list"
    actions.undo.trigger()
    assert len(shown(filled)) == 4
    assert actions.undo.text() == "&Undo: set reject by Ada"
    actions.undo.trigger()
    assert shown(filled, VERDICT)[0] == "accept"
    assert not actions.undo.isEnabled()
    actions.redo.trigger()
    actions.redo.trigger()
    assert shown(filled, VERDICT) == ["reject (person)", "reject"]
    assert not actions.redo.isEnabled()


def test_judging_as_another_type_is_undone_without_judging_again(window, tmp_path, idle):
    window.open_paths([write_sweep(tmp_path / "A17.csv")])
    idle(window)
    before = window.lot.entries[0]
    window.lot.ask_again(Wish(compared_with="6J5"))
    idle(window)
    assert window.lot.entries[0].assessment.comparison.type_name == "6J5"
    window.actions_.undo.trigger()
    assert not window.tasks.busy
    assert window.lot.entries[0] is before
    window.actions_.redo.trigger()
    assert window.lot.entries[0].wish == Wish(compared_with="6J5")


def test_a_file_opened_again_after_it_was_taken_off_stands_once(window, tmp_path, idle):
    path = write_sweep(tmp_path / "A17.csv")
    window.open_paths([path])
    idle(window)
    window.actions_.remove.trigger()
    window.open_paths([path])
    idle(window)
    window.actions_.undo.trigger()
    assert shown(window) == ["A17"]


def test_every_action_is_found_by_a_part_of_its_words_and_done(filled, qtbot):
    filled.actions_.all_actions.trigger()
    dialog = next(one for one in filled.findChildren(ActionList) if one.isVisible())
    model = dialog.view.model()
    assert model.rowCount() == len([one for one in filled.actions() if one.text()])
    qtbot.keyClicks(dialog.field, "off list")
    assert [model.index(row, 0).data() for row in range(model.rowCount())] == [
        "Take the chosen tubes off the list"
    ]
    qtbot.keyClick(dialog.field, Qt.Key.Key_Return)
    assert len(shown(filled)) == 3


def test_the_list_of_actions_is_walked_along_with_the_arrow_keys(filled, qtbot):
    filled.actions_.all_actions.trigger()
    dialog = next(one for one in filled.findChildren(ActionList) if one.isVisible())
    qtbot.keyClicks(dialog.field, "colours")
    assert dialog.view.currentIndex().row() == 0
    qtbot.keyClick(dialog.field, Qt.Key.Key_Down)
    assert dialog.view.currentIndex().row() == 1
    assert dialog.button.isEnabled()
    dialog.reject()


def test_what_cannot_be_done_now_is_said_and_not_done(window, qtbot):
    window.actions_.all_actions.trigger()
    dialog = next(one for one in window.findChildren(ActionList) if one.isVisible())
    qtbot.keyClicks(dialog.field, "set a verdict")
    assert dialog.view.model().index(0, 2).data() == "not possible now"
    assert not dialog.button.isEnabled()
    dialog.reject()


def test_columns_are_hidden_moved_and_kept_until_the_next_run(filled, make_window, fill_lot):
    filled.actions_.columns.trigger()
    dialog = next(one for one in filled.findChildren(ColumnDialog) if one.isVisible())
    names = [dialog.list.item(row).text() for row in range(dialog.list.count())]
    names[names.index("file, hidden")] = "file"
    dialog.list.item(names.index("file")).setCheckState(Qt.CheckState.Checked)
    dialog.list.item(names.index("type")).setCheckState(Qt.CheckState.Unchecked)
    dialog.list.setCurrentRow(names.index("file"))
    while dialog.list.currentRow() > 1:
        dialog._move(-1)
    dialog._take_over()
    filled.tubes.view.sortByColumn(VERDICT, Qt.SortOrder.DescendingOrder)
    order, hidden = filled.tubes.columns.order, filled.tubes.columns.hidden
    assert order[:3] == ["tube", "file", "verdict"]
    assert "type" in hidden
    assert "file" not in hidden
    filled.close()
    again = make_window()
    fill_lot(again.lot)
    assert (again.tubes.columns.order, again.tubes.columns.hidden) == (order, hidden)
    assert shown(again, VERDICT) == ["accept", "hold", "reject", "reject"]


def test_a_layout_that_is_none_is_passed_over(filled):
    before = filled.tubes.columns.order
    for text in ("", "{", "[]", '{"order": 3}', '{"order": ["no"], "hidden": [], "widths": {}}'):
        filled.tubes.columns.restore(text)
    assert filled.tubes.columns.order == before


def test_tubes_are_filtered_by_verdict_and_by_several_words(filled):
    box = filled.tubes.verdict_box
    box.setCurrentIndex(box.findText("reject"))
    assert shown(filled) == ["B02", "D-run 2A3 log"]
    filled.tubes.filter_field.setText("2a3 run")
    assert shown(filled) == ["D-run 2A3 log"]
    filled.tubes.filter_field.clear()
    box.setCurrentIndex(box.findText("set by a person"))
    assert shown(filled) == []
    overrule(filled)
    assert shown(filled) == ["A17 section 1"]


def test_copied_cells_cannot_become_formulas_and_numbers_stay_numbers(filled):
    filled.tubes._switch_column("file", True)
    entry = filled.lot.entries[0]
    sweep = entry.assessment.sweep
    evil = replace(entry.assessment, sweep=replace(sweep, tube="=1+1\tB", section=None))
    filled.lot.session.put([replace(entry, assessment=evil)])
    filled.lot.tell_all()
    filled.lot.choose([entry.key])
    filled.tubes.view.setFocus()
    filled.actions_.copy_rows.trigger()
    heading, row = QGuiApplication.clipboard().text().splitlines()
    cells = dict(zip(heading.split("\t"), row.split("\t"), strict=True))
    assert cells["tube"] == "'=1+1 B"
    assert float(cells["Ip (mA)"]) == 1.24


def test_the_mouse_over_a_line_shows_its_curves_until_it_leaves(filled, qtbot):
    view, layer = filled.tubes.view, filled.hovering._layer
    index = view.model().index(1, 0)
    view.entered.emit(index)
    qtbot.waitUntil(lambda: bool(np.size(layer._line.getData()[0])))
    assert filled.lot.session.current.assessment.sweep.tube == "A17"
    filled.tubes.hovered.emit(None)
    assert not np.size(layer._line.getData()[0])


def test_a_finding_is_a_click_away_from_its_readings(filled, qtbot):
    gassy = filled.lot.entries[1]
    filled.lot.choose([gassy.key])
    findings = filled.words.findings
    index = findings.model().index(0, 0)
    qtbot.mouseClick(
        findings.viewport(), Qt.MouseButton.LeftButton, pos=findings.visualRect(index).center()
    )
    picked = gassy.assessment.findings[filled.lot.session.finding]
    assert picked.evidence in index.data()
    marks = filled.curves.plot._marks.getData()[0]
    assert len(marks) >= len(picked.readings) > 0


def test_errors_that_come_in_a_storm_open_one_box_only(filled):
    for number in range(20):
        filled.lot.failed.emit(Failure("ValueError: boom", f"details {number}"))
    assert len([one for one in filled.findChildren(QDialog) if one.isVisible()]) == 1


def test_table_filters_and_buttons_have_names_and_an_order_of_tabs(filled):
    for part in (filled.tubes.filter_field, filled.tubes.verdict_box, filled.tubes.view,
                 filled.words.history.view):  # fmt: skip
        assert part.accessibleName()
    filled.tubes.filter_field.setFocus()
    seen = []
    for _ in range(3):
        seen.append(filled.focusWidget())
        filled.focusNextChild()
    assert seen == [filled.tubes.filter_field, filled.tubes.verdict_box, filled.tubes.view]
