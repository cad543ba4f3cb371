"""Behaviour: the types in the window, and whether one may stand in for another; real files."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from curvelab.paths import sample_folder
from curvelab.window.stand_in_dialog import StandInDialog
from curvelab.window.theme import Scheme
from curvelab.window.types_dialog import TypesDialog
from curvelab.workbench.type_library import current_types, own_folder
from helpers.type_files import type_text, write_type


def copied(types, near="12AX7", name="1XB1"):
    types.refresh(near)
    types.copy_name.setText(name)
    types.copy.click()


def test_a_shipped_type_is_shown_and_cannot_be_edited(types):
    types.refresh("12AX7")
    assert "Heater or filament" in types.readable.toPlainText()
    assert types.editor.isReadOnly()
    assert not types.save.isEnabled()


def test_search_finds_an_alias(types):
    types.search.setText("ecc83")
    assert types.view.model().rowCount() == 1
    assert types.view.model().index(0, 0).data() == "12AX7"


def test_copy_edit_and_save_reach_the_disk_and_the_library(types):
    copied(types)
    assert not types.editor.isReadOnly()
    assert "from memory until" in types.said.text()
    text = types.editor.toPlainText().replace("plate_v = 300", "plate_v = 275", 1)
    types.editor.setPlainText(text)
    assert types.unsaved
    types.save.click()
    assert not types.unsaved
    assert current_types().types.types["1XB1"].rating("plate_voltage").value == 275
    assert current_types().own["1XB1"].read_text(encoding="utf-8") == text


def test_a_broken_figure_is_refused_beside_its_line_and_nothing_is_written(types):
    copied(types)
    before = current_types().own["1XB1"].read_bytes()
    lines = types.editor.toPlainText().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("plate_w"))
    lines[at] = 'plate_w = "much"'
    types.editor.setPlainText("\n".join(lines) + "\n")
    types.save.click()
    assert types.said.text().startswith(f"line {at + 1}: 1XB1, ratings 1, plate_w: wanted")
    assert types.editor.extraSelections()[0].cursor.blockNumber() == at
    assert types.editor.textCursor().blockNumber() == at
    assert current_types().own["1XB1"].read_bytes() == before


def test_text_that_is_no_toml_names_its_line(types, qtbot):
    copied(types)
    types.editor.setPlainText("name = \n" + types.editor.toPlainText())
    qtbot.waitUntil(lambda: types.said.text().startswith("line 1: "))


def test_an_edit_is_not_lost_by_choosing_another_type_or_closing(types, qtbot):
    copied(types)
    types.editor.appendPlainText("# looked up")
    types.view.selectRow(0 if types.view.currentIndex().row() else 1)
    qtbot.waitUntil(lambda: types.view.currentIndex().siblingAtColumn(0).data() == "1XB1")
    assert types.editor.toPlainText().endswith("# looked up")
    types.reject()
    assert types.isVisible()
    types.undo.click()
    types.reject()
    assert not types.isVisible()


def test_a_name_that_is_taken_is_refused(types):
    copied(types, name="ECC83")
    assert types.said.text()
    assert "1XB1" not in current_types().own
    copied(types, name="12AU7")
    assert "there is a type '12AU7' already" in types.said.text()


def test_export_and_import(types, answers, tmp_path):
    copied(types)
    answers.paths = [tmp_path / "mine.toml"]
    types.give_away.click()
    assert 'name = "1XB1"' in (tmp_path / "mine.toml").read_text(encoding="utf-8")
    types.take_in.click()
    assert "you have a type '1XB1' already" in types.said.text()
    types.replace.setChecked(True)
    types.take_in.click()
    assert types.said.text() == "Imported 1XB1"
    answers.paths = [write_type(tmp_path, 'name = "broken"', "broken.toml")]
    types.take_in.click()
    assert types.said.text().startswith("broken.toml")


def test_a_broken_file_of_one_s_own_is_named(types):
    write_type(own_folder() / "types", type_text("1XC1").replace("6.3", '"x"'), "odd.toml")
    types.refresh("12AX7")
    assert types.said.text().startswith("odd.toml")


@pytest.fixture
def stand_in(qtbot, theme, lot):
    made = StandInDialog(theme, lot._tasks)
    made.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    qtbot.addWidget(made)
    made.show()

    def ask(old, new):
        made.old.setCurrentText(old)
        made.new.setCurrentText(new)
        made.ask.click()
        qtbot.waitUntil(made.ask.isEnabled, timeout=60_000)

    made.asked = ask
    return made


def cells(dialog):
    model = dialog.table.model()
    return [
        [str(model.index(row, column).data()) for column in range(model.columnCount())]
        for row in range(model.rowCount())
    ]


def test_the_answer_has_verdict_conditions_table_curves_and_cautions(stand_in):
    stand_in.asked("6SN7GT", "6CG7")
    said = stand_in.words.toPlainText()
    for words in ("with conditions", "an adapter wired for 6CG7", "Lethal voltage", "check"):
        assert words in said
    assert ["plate dissipation", "higher"] in [row[:2] for row in cells(stand_in)]
    assert any("(check the sheet)" in row[3] for row in cells(stand_in))
    assert stand_in.plot.isVisible()


def test_a_known_place_is_asked_for(stand_in):
    stand_in.known.setChecked(True)
    stand_in.plate_volts.setValue(250.0)
    stand_in.grid_volts.setValue(-7.3)
    stand_in.screen_volts.setValue(210.0)
    stand_in.asked("EL84", "6V6")
    assert any("screen 210 V" in cell for row in cells(stand_in) for cell in row)


def test_one_type_twice_is_refused_in_words(stand_in):
    stand_in.asked("12AX7", "ECC83")
    assert "names of one type" in stand_in.words.toPlainText()
    assert not stand_in.plot.isVisible()


def test_the_type_of_the_tube_looked_at_is_compared_with_its_nearest_at_once(qtbot, window, idle):
    window.open_paths([sample_folder() / "PIT-01.csv"])
    idle(window)
    window.actions_.stand_in.trigger()
    dialog = window.findChild(StandInDialog)
    qtbot.waitUntil(dialog.plot.isVisible, timeout=60_000)
    assert dialog.old.currentText() == "6SN7GTB"
    assert "in place of 6SN7GTB" in dialog.words.toPlainText()
    assert dialog.new.currentText() in current_types().types.types["6SN7GTB"].near


def test_before_anything_is_asked_the_dialog_says_what_to_choose(stand_in):
    assert "Choose the type" in stand_in.words.toPlainText()
    assert not stand_in.plot.isVisible()


def test_the_menu_opens_both(window, idle):
    window.actions_.types.trigger()
    window.actions_.stand_in.trigger()
    assert window.findChild(TypesDialog).isVisible()
    assert window.findChild(StandInDialog).isVisible()


def test_closing_while_the_answer_is_sought_harms_nothing(window, idle):
    window.actions_.stand_in.trigger()
    asking = window.findChild(StandInDialog)
    asking.ask.click()
    asking.close()
    idle(window)
    assert window.isVisible()


def marked(types) -> str:
    (mark,) = types.editor.extraSelections()
    return mark.format.background().color().name()


def test_colours_change_under_an_open_dialog(types, stand_in, theme):
    copied(types)
    types.editor.setPlainText("name = \n")
    assert not types.check()
    stand_in.asked("EL84", "6V6")
    before = marked(types)
    theme.use(Scheme.DARK)
    assert marked(types) != before
    assert theme.colours.weight["reject"] in types.said.styleSheet()
    assert theme.colours.weight["reject"] in stand_in.words.toHtml()
