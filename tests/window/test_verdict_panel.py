"""Behaviour: what is said of the tube looked at, one panel on a lot made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from curvelab.paths import sample_folder
from curvelab.window.verdict_panel import VerdictPanel
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.session import Wish
from helpers import assessments


@pytest.fixture
def panel(qtbot, filled, theme) -> VerdictPanel:
    made = VerdictPanel(filled, theme)
    qtbot.addWidget(made)
    made.picked.connect(filled.point_out)
    made.resize(520, 600)
    with qtbot.waitExposed(made):
        made.show()
    return made


def look_at(lot, number: int) -> None:
    lot.choose([lot.entries[number].key])


def words(panel: VerdictPanel) -> str:
    return "\n".join(label.text() for label in panel.findChildren(QLabel) if label.isVisible())


def findings(panel: VerdictPanel) -> list[str]:
    model = panel.findings.model()
    return [model.index(row, 0).data() for row in range(model.rowCount())]


def test_the_verdict_is_the_largest_word(panel, filled):
    look_at(filled, 1)
    labels = [label for label in panel.findChildren(QLabel) if "REJECT" in label.text()]
    assert len(labels) == 1
    others = [label.font().pointSizeF() for label in panel.findChildren(QLabel)]
    assert labels[0].font().pointSizeF() == max(others)


def test_measured_stands_beside_handbook_with_percent_of_bogey(panel):
    shown = panel.constants.words().splitlines()
    assert {"1.240", "0.012", "1.2", "103.3"} <= set(shown)
    assert "Constants at Vp 250 V, Vg -2 V" in words(panel)


def test_mu_of_a_pentode_says_between_which_grids(panel, filled):
    (pentode,) = characterize(Request((sample_folder() / "BAR-01.csv",))).assessments
    (key,) = filled.session.take_in(Batch((pentode,), (), ()))
    filled.tell_all()
    filled.choose([key])
    assert "mu g1-g2" in panel.constants.words().splitlines()


def test_a_missing_constant_shows_its_reason(panel, filled):
    look_at(filled, 2)
    assert "One grid curve gives no transconductance" in panel.constants.words()
    assert "type unknown" in words(panel)


def test_a_log_shows_what_it_did(panel, filled):
    look_at(filled, 3)
    assert "runs away" in panel.constants.words()
    assert "140 s" in panel.constants.words()


def test_findings_are_sentences_with_limit_and_source_worst_first(panel, filled):
    look_at(filled, 1)
    shown = findings(panel)
    assert len(shown) == 6
    assert shown[0].startswith("reject, gas: Reverse grid current")
    assert "limit 1 µA (Invented sheet, first edition)" in shown[0]
    assert [line.split(",")[0] for line in shown] == ["reject", *["caution"] * 3, *["note"] * 2]


def test_a_click_on_a_finding_points_it_out(panel, filled, qtbot):
    look_at(filled, 1)
    view = panel.findings
    place = view.visualRect(view.model().index(1, 0)).center()
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert filled.session.finding == 1


def test_the_keyboard_points_findings_out_too(panel, filled, qtbot):
    look_at(filled, 1)
    panel.activateWindow()
    panel.findings.setFocus()
    qtbot.waitUntil(panel.findings.hasFocus)
    qtbot.keyClick(panel.findings, Qt.Key.Key_Down)
    qtbot.keyClick(panel.findings, Qt.Key.Key_Down)
    assert filled.session.finding is not None


def test_the_page_of_readings_lists_remarks_and_rows_set_aside(panel, filled):
    look_at(filled, 1)
    panel.tabs.setCurrentWidget(panel.readings)
    shown = panel.readings.toPlainText()
    assert "plate current read as mA (guessed)" in shown
    assert "line 17: a cell is not a number: oops,," in shown
    assert "two meters and a counter" in shown


def test_nothing_from_a_file_is_taken_for_markup(panel, filled):
    base = assessments.healthy()
    sweep = replace(base.sweep, tube="<b>x</b><img src=y>", section=None)
    entry = filled.entries[0]
    sweep = replace(sweep, source=entry.assessment.sweep.source)
    filled.session._put(replace(entry, assessment=replace(base, sweep=sweep)))
    filled.chosen_changed.emit()
    assert "&lt;b&gt;x&lt;/b&gt;" in words(panel)


def test_a_stand_in_can_be_wished_for_and_is_named(panel, filled, qtbot):
    wishes = []
    panel.wished.connect(wishes.append)
    box = panel.comparison.compared_with
    at = box.findData("12AT7")
    assert at > 0
    box.setCurrentIndex(at)
    box.activated.emit(at)
    assert wishes == [Wish(None, "12AT7")]
    entry = filled.entries[0]
    comparison = replace(entry.assessment.comparison, type_name="12AT7", why="stand-in")
    judged = replace(entry.assessment, comparison=comparison)
    filled.session._put(replace(entry, assessment=judged, wish=wishes[0]))
    filled.chosen_changed.emit()
    assert "compared with the family of 12AT7 as a stand-in" in words(panel)
    assert box.currentData() == "12AT7"
