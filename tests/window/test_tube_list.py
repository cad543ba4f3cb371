"""Behaviour: the list of tubes, one panel on a lot made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt

from curvelab.window.tube_list import TubeList
from curvelab.workbench.characterize import Batch
from helpers import assessments

TUBE, VERDICT, CURRENT, GM, RP, MU, BOGEY, WORST, TYPE = range(9)


@pytest.fixture
def tubes(qtbot, filled, theme) -> TubeList:
    panel = TubeList(filled, theme)
    qtbot.addWidget(panel)
    panel.chosen.connect(filled.choose)
    panel.resize(700, 400)
    panel.show()
    return panel


def column(panel: TubeList, at: int) -> list[str]:
    model = panel.view.model()
    return [model.index(row, at).data() for row in range(model.rowCount())]


def tip(panel: TubeList, row: int, at: int) -> str:
    return panel.view.model().index(row, at).data(Qt.ItemDataRole.ToolTipRole)


def test_every_tube_has_its_row(tubes):
    assert column(tubes, TUBE) == ["A17 section 1", "B02", "C3", "D-run 2A3 log"]
    assert column(tubes, VERDICT) == ["accept", "reject", "hold", "reject"]
    assert column(tubes, WORST) == ["none", "gas +5", "not-covered", "runaway"]
    assert column(tubes, CURRENT)[:3] == ["1.240", "0.880", "–"]
    assert column(tubes, BOGEY)[0] == "103"


def test_what_cannot_be_had_says_why_and_what_can_its_uncertainty(tubes):
    assert "One grid curve gives no transconductance" in tip(tubes, 2, GM)
    assert "± 0.020 mA/V" in tip(tubes, 0, GM)


def test_the_verdict_differs_in_more_than_colour(tubes):
    inks = {
        tubes.view.model().index(row, VERDICT).data(Qt.ItemDataRole.ForegroundRole).name()
        for row in range(3)
    }
    assert len(inks) == 3
    assert len(set(column(tubes, VERDICT)[:3])) == 3


def test_the_worst_finding_ends_where_the_list_does_and_takes_its_room_back(tubes):
    header, view = tubes.view.horizontalHeader(), tubes.view.viewport()
    full = header.sectionSize(WORST)
    end = header.sectionPosition(WORST) + full
    frame = tubes.width() - view.width()
    tubes.resize(end - full // 4 + frame, 400)
    assert header.sectionPosition(WORST) + header.sectionSize(WORST) == view.width()
    assert full // 2 < header.sectionSize(WORST) < full
    tubes.resize(end - full + frame + 5, 400)  # hardly begun: it is scrolled to as a whole
    assert header.sectionSize(WORST) == full
    tubes.resize(1200, 400)
    assert header.sectionSize(WORST) == full
    assert "worst" not in tubes.columns.state().partition("widths")[2]


def test_a_width_that_a_person_gave_the_worst_finding_stays(tubes):
    header = tubes.view.horizontalHeader()
    header.resizeSection(WORST, 200)
    tubes.resize(header.sectionPosition(WORST) + 100, 400)
    assert header.sectionSize(WORST) == 200


def test_a_click_chooses_a_tube(tubes, filled, qtbot):
    index = tubes.view.model().index(1, TUBE)
    qtbot.mouseClick(
        tubes.view.viewport(), Qt.MouseButton.LeftButton, pos=tubes.view.visualRect(index).center()
    )
    assert filled.session.current.assessment.sweep.tube == "B02"


def test_the_arrow_keys_step_along_and_shift_chooses_several(tubes, filled, qtbot):
    tubes.view.setFocus()
    qtbot.keyClick(tubes.view, Qt.Key.Key_Down)
    assert filled.session.current.assessment.sweep.tube == "B02"
    qtbot.keyClick(tubes.view, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    chosen = [entry.assessment.sweep.tube for entry in filled.session.chosen]
    assert chosen == ["C3", "B02"]


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("reject", ["B02", "D-run 2A3 log"]),
        ("RUNAWAY", ["D-run 2A3 log"]),
        ("zzz", []),
        ("a1", ["A17 section 1"]),
    ],
)
def test_the_filter_takes_any_text_and_leaves_the_plot_alone(tubes, filled, text, left):
    tubes.filter_field.setText(text)
    assert column(tubes, TUBE) == left
    assert filled.session.current.assessment.sweep.tube == "A17"


def test_sorting_goes_by_value_and_puts_what_is_missing_last(tubes):
    tubes.view.sortByColumn(CURRENT, Qt.SortOrder.AscendingOrder)
    assert column(tubes, CURRENT) == ["0.880", "1.240", "–", "–"]
    tubes.view.sortByColumn(VERDICT, Qt.SortOrder.AscendingOrder)
    assert column(tubes, VERDICT) == ["reject", "reject", "hold", "accept"]


def test_rows_are_copied_with_their_headings(tubes):
    flags = QItemSelectionModel.SelectionFlag
    index = tubes.view.model().index(1, 0)
    tubes.view.selectionModel().select(index, flags.ClearAndSelect | flags.Rows)
    heading, row = tubes.copied().splitlines()
    assert heading.split("\t")[:2] == ["tube", "verdict"]
    assert "gm (mA/V)" in heading.split("\t")
    assert row.split("\t")[:2] == ["B02", "reject"]
    assert "gas +5" in row.split("\t")


def test_a_thousand_tubes_have_their_rows(tubes, filled):
    base = assessments.healthy()
    many = [
        replace(
            base,
            sweep=replace(
                base.sweep,
                tube=f"T{number}",
                source=replace(base.sweep.source, path=f"many/{number}", sha256=f"m{number}"),
            ),
        )
        for number in range(1000)
    ]
    filled.session.take_in(Batch(tuple(many), (), ()))
    filled.tell_all()
    assert len(column(tubes, TUBE)) == 1004
    tubes.filter_field.setText("T99")
    assert len(column(tubes, TUBE)) == 11


def test_the_unit_of_the_transconductance_follows_the_setting(tubes, filled):
    filled.switch("micromho", True)
    header = tubes.view.model().headerData(GM, Qt.Orientation.Horizontal)
    assert "µmho" in header
    assert column(tubes, GM)[0] == "1630"


@pytest.fixture
def long_list(tubes, filled) -> TubeList:
    """Return the list with forty tubes, the first chosen."""
    base = assessments.healthy()
    made = []
    for number in range(40):
        source = replace(base.sweep.source, path=f"more/{number}.csv", sha256=f"m{number}")
        sweep = replace(base.sweep, tube=f"M{number:02}", section=None, source=source)
        made.append(replace(base, sweep=sweep))
    filled.session.take_in(Batch(tuple(made), (), ()))
    filled.tell_all()
    return tubes


def test_a_list_that_was_scrolled_stays_so_when_something_comes_in(long_list, filled):
    bar = long_list.view.verticalScrollBar()
    bar.setValue(bar.maximum())
    place = bar.value()
    assert place > 10
    filled.tell_all()
    assert bar.value() == place
    filled.choose([filled.entries[1].key])  # another tube is gone to
    assert bar.value() < place


def test_the_tube_looked_at_stays_in_sight_when_the_list_is_sorted(long_list):
    view = long_list.view
    view.sortByColumn(TUBE, Qt.SortOrder.DescendingOrder)
    assert view.currentIndex().data() == "A17 section 1"
    assert view.viewport().rect().intersects(view.visualRect(view.currentIndex()))
