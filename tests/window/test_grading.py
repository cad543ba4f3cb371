"""Behaviour: the lot graded in the real window, the grades in the table and out of date."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QDesktopServices

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.paths import resource_folder, user_data_folder
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.window.theme import LIGHT
from curvelab.window.tube_columns import tube_columns
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from helpers.lots import EARLY
from helpers.sweeps import write_log, write_sweep

GRADE = [column.name for column in tube_columns(CONSTANT_QUANTITIES, LIGHT)].index("grade")


@pytest.fixture
def opened(window, tmp_path, idle):
    bench = tmp_path / "bench"
    bench.mkdir()
    write_sweep(bench / "A1.csv")
    write_sweep(bench / "A2.csv", seed=6, strength=0.85)
    write_log(bench / "D1.csv")
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=(bench,))))
    window.open_paths([path])
    idle(window)
    return window


def cell(window, serial, role=Qt.ItemDataRole.DisplayRole):
    model = window.tubes.view.model()
    row = next(row for row in range(model.rowCount()) if model.index(row, 0).data() == serial)
    return model.index(row, GRADE).data(role)


def tip(window, serial) -> str:
    return cell(window, serial, Qt.ItemDataRole.ToolTipRole)


def test_grading_shows_a_column_with_the_reasons(opened, idle):
    view = opened.tubes.view
    assert view.isColumnHidden(GRADE)
    opened.actions_.grade.trigger()
    idle(opened)
    assert not view.isColumnHidden(GRADE)
    assert view.horizontalHeader().visualIndex(GRADE) == 2
    assert view.model().headerData(GRADE, Qt.Orientation.Horizontal) == "grade"
    assert cell(opened, "A1") == "fresh"
    assert "plate current" in tip(opened, "A1")
    assert "edition" in tip(opened, "A1")
    assert cell(opened, "D1") == "–"
    assert "not swept" in tip(opened, "D1")
    said = opened.statusBar().currentMessage()
    assert "Graded by" in said
    assert "without a grade: 1" in said


def test_a_grade_goes_where_something_else_has_become_known(opened, idle):
    opened.actions_.grade.trigger()
    idle(opened)
    opened.lot.choose_called(["A1"])
    idle(opened)
    opened.lot.overrule(Overrule(EARLY, Verdict.REJECT, "cracked base", "Ada"))
    idle(opened)
    assert cell(opened, "A1") == "–"
    assert "not graded as it stands" in tip(opened, "A1")
    opened.actions_.undo.trigger()
    idle(opened)
    assert cell(opened, "A1") == "fresh"
    opened.lot.overrule(Overrule(EARLY, Verdict.REJECT, "cracked base", "Ada"))
    idle(opened)
    opened.actions_.grade.trigger()
    idle(opened)
    assert cell(opened, "A1") == "barred"
    assert "Ada" in tip(opened, "A1")


def test_grades_are_there_when_the_file_is_opened_again_and_are_sorted_best_first(opened, idle):
    opened.actions_.grade.trigger()
    idle(opened)
    path = opened.lot.kept.path
    opened.actions_.close_lot.trigger()
    opened.open_paths([path])
    idle(opened)
    assert cell(opened, "A1") == "fresh"
    opened.tubes.view.sortByColumn(GRADE, Qt.SortOrder.AscendingOrder)
    assert opened.tubes.view.model().index(0, 0).data() == "A1"
    opened.tubes.filter_field.setText("fresh")
    assert opened.tubes.view.model().index(0, 0).data() == "A1"
    assert opened.tubes.view.model().rowCount() < 3


def test_without_a_lot_file_there_is_nothing_to_grade(window, tmp_path, idle):
    window.open_paths([write_sweep(tmp_path / "A1.csv")])
    idle(window)
    assert not window.actions_.grade.isEnabled()
    assert "lot file" in tip(window, "A1")


def test_limits_that_cannot_be_read_are_told_and_nothing_is_graded(opened, idle):
    own = user_data_folder() / "grades.toml"
    own.parent.mkdir(parents=True, exist_ok=True)
    own.write_text("format = 1\n", encoding="utf-8")
    opened.actions_.grade.trigger()
    idle(opened)
    assert "grades.toml" in opened.lot.session.problems[-1].reason
    assert cell(opened, "A1") == "–"


@pytest.mark.parametrize("opens", [True, False])
def test_a_copy_of_the_limits_is_opened_to_be_edited(opened, monkeypatch, opens):
    asked = []
    monkeypatch.setattr(
        QDesktopServices, "openUrl", lambda url: asked.append(url.toLocalFile()) or opens
    )
    opened.actions_.grade_rules.trigger()
    own = user_data_folder() / "grades.toml"
    assert asked == [str(own)]
    assert own.read_bytes() == (resource_folder() / "grades.toml").read_bytes()
    told = [problem.reason for problem in opened.lot.session.problems]
    assert any("any editor" in reason for reason in told) is not opens
    own.write_text("mine", encoding="utf-8")
    opened.actions_.grade_rules.trigger()
    assert own.read_text(encoding="utf-8") == "mine"
