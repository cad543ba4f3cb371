"""Behaviour: a type of one's own edited by form; the text of its file follows, real files."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox

from curvelab.window.edit_table import SOURCE, STATUS
from curvelab.window.theme import Scheme
from curvelab.workbench.type_library import current_types

DRAWN = Path(__file__).parents[1] / "data" / "outside" / "C4-EL84-pentode.csv"


def copied(types, near="EL84", name="1XB1"):
    types.refresh(near)
    types.copy_name.setText(name)
    types.copy.click()
    assert types.pages.currentWidget() is types.form
    return types.form


def cell(view, row, key):
    table = view.table
    places = [n for n in range(table.columnCount()) if table.column(n).key == key]
    return table.index(row, places[0])


def limit_row(form, key):
    table = form.limits.table
    return next(n for n in range(table.rowCount()) if table.row(n).values["limit"] == key)


def own(name="1XB1"):
    return current_types().types.types[name]


def write(view, row, key, written):
    index = cell(view, row, key)
    assert view.table.flags(index) & Qt.ItemFlag.ItemIsEditable
    view.table.setData(index, written)


def test_a_copy_is_prefilled_and_every_part_can_be_seen(types):
    form = copied(types)
    assert form.fields["name"].text() == "1XB1"
    assert form.fields["near"].text() == "EL84"
    assert form.fields["kind"].currentText() == "pentode"
    assert cell(form.heaters, 0, "heater_a").data() == "0.76"
    assert cell(form.limits, limit_row(form, "plate_w"), "value").data() == "12"
    assert cell(form.limits, 0, "system").data() == "design-center"
    assert form.pentode_points.table.rowCount() == 3
    assert cell(form.pentode_points, 0, STATUS).data() == "from memory"
    assert cell(form.pentode_points, 0, SOURCE).data().startswith("S4: Philips EL84")


def test_a_triode_has_no_points_with_a_screen(types):
    form = copied(types, near="12AX7")
    assert not form.pentode_points.isVisible()
    assert form.points.isVisible()


def test_what_is_changed_reaches_text_disk_and_library(types):
    form = copied(types)
    write(form.limits, limit_row(form, "plate_w"), "value", "11.5")
    write(form.heaters, 0, "heater_a", "0.8")
    write(form.pentode_points, 0, "plate_ma", "47")
    form.fields["aliases"].setText("1XB1A, 1XB1B")
    form.fields["aliases"].editingFinished.emit()
    form.fields["base"].setText("nine pins")
    form.fields["base"].editingFinished.emit()
    assert types.unsaved
    assert "plate_w = 11.5" in types.editor.toPlainText()
    types.save.click()
    assert not types.unsaved
    found = own()
    assert found.rating("plate_dissipation").value == 11.5
    assert found.heaters[0].current.value == 0.8
    assert found.aliases == ("1XB1A", "1XB1B")
    assert found.base == "nine pins"
    assert found.pentode_points[0].plate_current.value == pytest.approx(47e-3)


def test_a_figure_that_was_seen_printed_gets_its_source(types):
    form = copied(types)
    form.source_title.setText("My sheet of the tube, 1958")
    form.buttons["add-source"].click()
    assert form.source_title.text() == ""
    row = limit_row(form, "plate_w")
    write(form.limits, row, SOURCE, "N1")
    write(form.limits, row, STATUS, "verified")
    types.save.click()
    limit = own().rating("plate_dissipation")
    assert limit.verified
    assert limit.source == "My sheet of the tube, 1958"
    assert not own().rating("screen_dissipation").verified


def test_a_refused_figure_is_marked_where_it_stands_and_nothing_is_written(types):
    form = copied(types)
    before = current_types().own["1XB1"].read_bytes()
    row = limit_row(form, "plate_w")
    write(form.limits, row, "value", "much")
    assert form.beside["ratings"].isVisible()
    assert form.beside["ratings"].text().startswith("plate_w: wanted a number")
    index = cell(form.limits, row, "value")
    assert index.data(Qt.ItemDataRole.BackgroundRole) is not None
    assert "wanted a number" in index.data(Qt.ItemDataRole.ToolTipRole)
    assert cell(form.limits, 0, "value").data(Qt.ItemDataRole.BackgroundRole) is None
    types.save.click()
    assert current_types().own["1XB1"].read_bytes() == before
    write(form.limits, row, "value", "12")
    assert not form.beside["ratings"].isVisible()
    assert cell(form.limits, row, "value").data(Qt.ItemDataRole.BackgroundRole) is None


def test_a_refused_word_is_told_beside_its_field(types):
    form = copied(types)
    form.fields["cathode"].setEditText("lukewarm")
    form.fields["cathode"].lineEdit().editingFinished.emit()
    assert form.beside["cathode"].isVisible()
    assert "direct... or indirect..." in form.beside["cathode"].text()
    assert not form.beside["kind"].isVisible()


def test_rows_and_limits_are_added_and_removed(types):
    form = copied(types)
    form.buttons["add-pentode_points"].click()
    assert form.pentode_points.table.rowCount() == 4
    bogey = cell(form.pentode_points, 3, "bogey")
    form.pentode_points.table.setData(bogey, Qt.CheckState.Checked, Qt.ItemDataRole.CheckStateRole)
    marks = [
        cell(form.pentode_points, row, "bogey").data(Qt.ItemDataRole.CheckStateRole)
        for row in range(4)
    ]
    assert marks == [Qt.CheckState.Unchecked] * 3 + [Qt.CheckState.Checked]
    form.pentode_points.setCurrentIndex(cell(form.pentode_points, 0, "plate_v"))
    form.buttons["remove-pentode_points"].click()
    assert form.pentode_points.table.rowCount() == 3
    form.system.setEditText("absolute")
    form.limit.setCurrentIndex(form.limit.findData("grid_w"))
    form.limit_value.setText("0.5")
    form.buttons["add-ratings"].click()
    types.save.click()
    assert [rating.system for rating in own().ratings][-1] == "absolute"
    assert own().rating("grid_dissipation").value == 0.5
    form.buttons["add-ratings"].click()
    assert "has a limit grid_w already" in types.said.text()


def test_a_cell_with_choices_offers_them(types, qtbot):
    form = copied(types)
    form.show()
    index = cell(form.heaters, 0, "arrangement")
    form.heaters.setCurrentIndex(index)
    form.heaters.edit(index)
    (box,) = form.heaters.findChildren(QComboBox)
    box.setCurrentIndex(box.findData("series"))
    box.activated.emit(box.currentIndex())
    assert 'arrangement = "series"' in types.editor.toPlainText()


def test_text_and_form_are_one(types):
    form = copied(types)
    types.pages.setCurrentWidget(types.editor)
    text = types.editor.toPlainText()
    types.editor.setPlainText(text.replace("plate_w = 12", "plate_w = 10  # found on page 3", 1))
    types.pages.setCurrentWidget(form)
    assert cell(form.limits, limit_row(form, "plate_w"), "value").data() == "10"
    write(form.limits, limit_row(form, "screen_w"), "value", "1.5")
    assert "plate_w = 10  # found on page 3" in types.editor.toPlainText()
    types.editor.undo()
    assert "screen_w = 2" in types.editor.toPlainText()


def test_a_text_that_is_no_toml_is_to_be_put_right_first(types):
    form = copied(types)
    types.pages.setCurrentWidget(types.editor)
    types.editor.setPlainText("name = \n")
    types.pages.setCurrentWidget(form)
    assert form.not_read.isVisible()
    assert "Put the file right first" in form.not_read.text()
    assert not form.limits.isVisible()


def test_a_shipped_type_cannot_be_changed_by_form(types):
    types.refresh("EL84")
    types.pages.setCurrentWidget(types.form)
    form = types.form
    index = cell(form.limits, 0, "value")
    assert not form.limits.table.flags(index) & Qt.ItemFlag.ItemIsEditable
    assert form.fields["name"].isReadOnly()
    assert not form.buttons["add-points"].isEnabled()


def test_every_field_has_a_spoken_name_and_the_colours_follow(types, theme):
    form = copied(types)
    for field in form.fields.values():
        assert field.accessibleName()
    for view in (form.heaters, form.limits, form.points, form.pentode_points):
        assert view.accessibleName()
    row = limit_row(form, "plate_w")
    write(form.limits, row, "value", "much")
    before = cell(form.limits, row, "value").data(Qt.ItemDataRole.BackgroundRole).name()
    theme.use(Scheme.DARK)
    assert cell(form.limits, row, "value").data(Qt.ItemDataRole.BackgroundRole).name() != before


def test_curves_of_a_sweep_file_are_taken_in_with_their_source(types, answers):
    form = copied(types)
    assert form.curves.table.rowCount() == 2
    answers.paths = [DRAWN]
    form.buttons["add-curves"].click()
    assert "need a source" in types.said.text()
    form.source_title.setText("Sheet B, 1953")
    form.buttons["add-source"].click()
    form.curves_source.setCurrentIndex(form.curves_source.findData("N1"))
    form.buttons["add-curves"].click()
    assert "how closely" in types.said.text()
    form.curves_accuracy.setText("about 1 mA")
    form.buttons["add-curves"].click()
    assert form.curves.table.rowCount() == 2
    types.save.click()
    screened = next(item for item in own().curves if item.screen_voltage == 250.0)
    assert (screened.source, screened.plate_voltage.size) == ("Sheet B, 1953", 58)
    form.curves.setCurrentIndex(cell(form.curves, 0, "accuracy"))
    form.buttons["remove-curves"].click()
    assert form.curves.table.rowCount() == 1
