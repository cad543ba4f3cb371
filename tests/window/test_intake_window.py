"""Behaviour: the import preview in the real window, on real files, by keyboard and mouse."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QAction, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QComboBox, QMenu, QPushButton

from curvelab.catalog.listing import list_tubes, tube_history
from curvelab.catalog.lot_file import open_lot
from curvelab.ingest.choices import ColumnChoice, GridVoltsSign, ReadingChoices
from curvelab.ingest.headings import Column
from curvelab.ingest.units import AMPERE
from curvelab.paths import sample_folder
from curvelab.quantities import MILLIAMPERE
from curvelab.window.intake.column_form import _NOT_USED
from curvelab.window.intake.keep_dialog import KeepDialog
from curvelab.workbench.kept_benches import keep_choices, kept_benches
from curvelab.workbench.session import Wish
from helpers.sweeps import write_sweep


def rows(scale: float = 1.0, sign: float = 1.0) -> list[str]:
    return [
        f"{vp},{sign * vg},{scale * max(vg + vp / 20, 0) ** 1.5:.6f}"
        for vg in (-2.0, -4.0, -6.0)
        for vp in (100, 150, 200, 250)
    ]


@pytest.fixture
def write(tmp_path):
    def made(name: str, heading: str, lines: list[str]) -> Path:
        path = tmp_path / name
        path.write_text("\n".join([heading, *lines]) + "\n", encoding="utf-8")
        return path

    return made


@pytest.fixture
def positive(write) -> Path:
    return write("positive.csv", "Vp (V),Vg (V),Ip (mA)", rows(sign=-1.0))


@pytest.fixture
def asks(write) -> Path:
    return write("asks.csv", "Vp (V),Vg (V),Ip", rows(scale=0.02))


@pytest.fixture
def look(qtbot, window, idle):
    """Return a function that waits until the preview has read its files, and gives it."""

    def wait():
        idle(window)
        qtbot.waitUntil(lambda: not window.intake.preview.tasks.busy, timeout=30_000)
        QApplication.processEvents()
        return window.intake.preview

    return wait


def names(window) -> list[str]:
    return [entry.assessment.sweep.tube for entry in window.lot.entries]


def only_sweep(window):
    (entry,) = window.lot.entries
    return entry.assessment.sweep


def test_a_clean_file_is_in_the_table_and_nothing_opens(window, tmp_path, idle):
    write_sweep(tmp_path / "good.csv")
    window.open_paths([tmp_path / "good.csv"])
    idle(window)
    assert names(window) == ["good"]
    assert window.intake._preview is None or not window.intake.preview.isVisible()


def test_a_guess_that_changes_the_figures_is_shown_by_itself(window, positive, look):
    window.open_paths([positive])
    preview = look()
    assert names(window) == ["positive"]
    assert preview.isVisible() and not preview.isModal()
    assert "please check" in preview.files.item(0).text()
    assert "negative bias" in preview.panel.form.grid_volts.currentText()
    assert any("guessed" in preview.panel.remarks.item(at).text() for at in range(3))


def test_a_guess_is_put_right_and_the_tube_is_read_again(window, positive, look):
    window.open_paths([positive])
    preview = look()
    preview.panel.form.grid_volts.pick(GridVoltsSign.AS_WRITTEN)
    look()
    assert preview.take_button.isEnabled()
    assert only_sweep(window).readings.grid_voltage.max() < 0  # until it is taken in
    preview.take_button.click()
    look()
    assert only_sweep(window).readings.grid_voltage.min() > 0
    assert not preview.isVisible()
    window.open_paths([positive])
    look()
    assert only_sweep(window).readings.grid_voltage.min() > 0
    assert not preview.isVisible()


def test_a_guess_that_is_right_is_confirmed_by_one_button(window, positive, look):
    window.open_paths([positive])
    preview = look()
    preview.panel.confirm_button.click()
    look()
    assert "please check" not in preview.files.item(0).text()
    preview.take_button.click()
    look()
    assert not [item for item in only_sweep(window).remarks if item.guessed]
    assert only_sweep(window).readings.grid_voltage.max() < 0


def test_what_must_be_chosen_is_asked_and_a_unit_answers_it(window, asks, look):
    window.open_paths([asks])
    preview = look()
    assert preview.isVisible() and preview.panel.ways.isVisible()
    assert names(window) == []
    assert not preview.take_button.isEnabled()
    preview.panel.columns.units["Ip"].pick(MILLIAMPERE)
    look()
    assert preview.panel.ways.isHidden()
    preview.take_button.click()
    look()
    assert names(window) == ["asks"]
    assert window.lot.session.problems == ()


def test_what_must_be_chosen_can_be_picked_from_the_ways(window, asks, look):
    window.open_paths([asks])
    preview = look()
    at = preview.panel.ways.findText("plate current in A")
    preview.panel.ways.setCurrentIndex(at)
    preview.panel.ways.activated.emit(at)
    look()
    preview.take_button.click()
    look()
    assert only_sweep(window).readings.plate_current.max() > 0.1


def test_files_are_looked_at_before_they_are_taken_in(window, answers, write, look):
    answers.paths = [
        write("a.csv", "Vp (V),Vg (V),Ip (mA)", rows()),
        write("b.csv", "Vp (V),Vg (V),Ip (mA)", rows(2.0)),
    ]
    window.actions_.import_files.trigger()
    preview = look()
    assert names(window) == []
    assert preview.files.count() == 2
    assert "Take in 2 files" in preview.take_button.text()
    preview.take_button.click()
    look()
    assert sorted(names(window)) == ["a", "b"]


def test_headings_nobody_knows_are_named_column_by_column(window, answers, write, look):
    answers.paths = [write("odd.csv", "chan1,chan2,chan3,spare", [f"{r},7" for r in rows()])]
    window.actions_.import_files.trigger()
    preview = look()
    columns = preview.panel.columns
    assert list(columns.holds) == ["chan1", "chan2", "chan3", "spare"]
    for heading, column in (
        ("chan1", Column.PLATE_VOLTAGE),
        ("chan2", Column.GRID_VOLTAGE),
        ("chan3", Column.PLATE_CURRENT),
    ):
        columns.holds[heading].pick(column)
        look()
    columns.units["chan3"].pick(AMPERE)
    look()
    preview.panel.columns.units["chan3"].pick(MILLIAMPERE)
    look()
    preview.take_button.click()
    look()
    assert only_sweep(window).readings.plate_current.max() == pytest.approx(
        (-2 + 250 / 20) ** 1.5 * 1e-3, rel=1e-4
    )


def test_one_correction_serves_all_files_with_the_same_headings(window, answers, write, look):
    answers.paths = [
        write(f"{at}.csv", "Vp (V),Vg (V),Ip", rows(scale=0.02 + at / 1000)) for at in range(3)
    ] + [write("other.csv", "Vp (V),Vg (V),Ip (mA)", rows())]
    window.actions_.import_files.trigger()
    preview = look()
    preview.panel.columns.units["Ip"].pick(MILLIAMPERE)
    look()
    preview.panel.alike_button.click()
    look()
    preview.take_button.click()
    look()
    assert sorted(names(window)) == ["0", "1", "2", "other"]
    tops = [e.assessment.sweep.readings.plate_current.max() for e in window.lot.entries]
    assert max(tops) < 0.05


def keep_as(preview, name: str, qtbot) -> KeepDialog:
    preview.bench.keep_button.click()
    (dialog,) = preview.findChildren(KeepDialog)
    dialog.name.setCurrentText(name)
    dialog.accept()
    return dialog


def test_a_way_of_reading_is_kept_by_name_and_serves_the_next_files(
    qtbot, window, positive, write, look, make_window, idle
):
    window.open_paths([positive])
    preview = look()
    keep_as(preview, "back room", qtbot)
    look()
    assert [kept.name for kept in kept_benches()] == ["back room"]
    assert preview.bench.box.currentText() == "back room"
    preview.close()
    again = write("second.csv", "Vp (V),Vg (V),Ip (mA)", rows(1.1, sign=-1.0))
    window.open_paths([again])
    look()
    assert not preview.isVisible()
    second = window.lot.entries[-1].assessment
    assert second.sweep.readings.grid_voltage.max() < 0
    assert second.bench.name == "back room"
    window.close()
    later = make_window()
    assert later.lot.intake.bench == kept_benches()[0].path


def test_a_name_that_is_none_is_told_in_the_dialog(qtbot, window, positive, look):
    window.open_paths([positive])
    preview = look()
    dialog = keep_as(preview, "   ", qtbot)
    assert "cannot be a bench's name" in dialog._said.text()
    assert kept_benches() == ()


def test_type_and_connection_are_kept_only_with_a_tick(qtbot, window, positive, look):
    window.open_paths([positive])
    preview = look()
    preview.panel.form.type.pick("6J5")
    look()
    keep_as(preview, "plain", qtbot)
    preview.bench.keep_button.click()
    dialog = preview.findChildren(KeepDialog)[-1]
    assert "6J5" in dialog.identity.text()
    dialog.name.setCurrentText("typed")
    dialog.identity.setChecked(True)
    dialog.accept()
    texts = {kept.name: kept.path.read_text(encoding="utf-8") for kept in kept_benches()}
    assert "6J5" not in texts["plain"]
    assert 'type = "6J5"' in texts["typed"]


def test_the_bench_menu_marks_the_one_in_force(window):
    path = keep_choices("left & right", ReadingChoices(decimal=","))
    menu = QMenu()
    window.intake.fill_benches(menu)
    entries = [action for action in menu.actions() if isinstance(action, QAction)]
    assert [(one.text(), one.isChecked()) for one in entries] == [
        ("&None: each file speaks for itself", True),
        ("left && right", False),
    ]
    entries[1].trigger()
    assert window.lot.intake.bench == path
    window.intake.fill_benches(menu)
    assert [one.isChecked() for one in menu.actions()] == [False, True]


def test_a_bench_that_cannot_be_read_is_told_and_not_used(window, tmp_path):
    window.intake.use_bench(tmp_path / "gone.toml")
    assert window.lot.intake.bench is None
    assert [problem.file for problem in window.lot.session.problems] == ["gone.toml"]


def test_a_bad_file_never_loses_the_settings(window, positive, look):
    good = positive.read_bytes()
    window.open_paths([positive])
    preview = look()
    preview.panel.form.grid_volts.pick(GridVoltsSign.AS_WRITTEN)
    look()
    preview.panel.columns.holds["Ip (mA)"].pick(_NOT_USED)
    look()
    assert "names no plate current" in preview.panel._verdict.text()
    assert preview.panel.form.grid_volts.currentText() == "as written"
    preview.close()
    positive.write_bytes(b"\x00")
    window.intake.import_paths([positive])
    preview = look()
    assert preview.current.choices.grid_volts is GridVoltsSign.AS_WRITTEN
    positive.write_bytes(good)
    preview.close()
    window.intake.import_paths([positive])
    preview = look()
    preview.panel.columns.holds["Ip (mA)"].pick(None)
    look()
    preview.take_button.click()
    look()
    assert only_sweep(window).readings.grid_voltage.min() > 0


def test_how_a_chosen_tube_was_read_is_one_key_away(qtbot, window, write, look, idle):
    window.open_paths([write("a.csv", "Vp (V),Vg (V),Ip (mA)", [*rows(), "x,-2,3"])])
    idle(window)
    window.actions_.reading.trigger()
    preview = look()
    assert preview.isVisible()
    assert preview.panel.set_aside.model().rowCount() == 1
    assert preview.panel.tabs.tabText(1) == "Set a&side (1)"
    assert "x,-2,3" in preview.panel.text.toPlainText()
    assert not preview.take_button.isEnabled()
    qtbot.keyClick(preview, Qt.Key.Key_Escape)
    assert not preview.isVisible()


def test_a_guess_that_no_choice_can_settle_is_seen_by_one_button(window, write, look):
    turned = [",".join([*row.split(",")[:2], f"-{row.split(',')[2]}"]) for row in rows()]
    window.open_paths([write("turned.csv", "Vp (V),Vg (V),Ip (mA)", turned)])
    preview = look()
    assert "please check" in preview.files.item(0).text()
    assert preview.next_button.isEnabled()
    preview.panel.confirm_button.click()
    look()
    assert not preview.next_button.isEnabled()
    preview.close()
    window.open_paths([Path(preview._lot.entries[0].assessment.sweep.source.path)])
    look()
    assert not preview.isVisible()


def test_a_row_set_aside_is_shown_where_it_stands(window, write, look):
    window.intake.import_paths([write("a.csv", "Vp (V),Vg (V),Ip (mA)", [*rows(), "x,-2,3"])])
    panel = look().panel
    panel.set_aside.activated.emit(panel.set_aside.model().index(0, 0))
    assert panel.tabs.currentWidget() is panel.text
    assert panel.text.textCursor().block().text().endswith("x,-2,3")


def test_the_keyboard_reaches_every_box_and_each_has_a_name(qtbot, window, positive, look):
    window.intake.import_paths([positive])
    preview = look()
    preview.activateWindow()
    preview.files.setFocus()
    reached: list[object] = []
    for _ in range(60):
        reached.append(preview.focusWidget())
        preview.focusNextChild()
    boxes = [box for box in preview.findChildren(QComboBox) if box.isVisible() and box.isEnabled()]
    assert len(boxes) > 8
    assert set(boxes) <= set(reached)
    assert all(box.accessibleName() for box in boxes)
    buttons = [b for b in preview.findChildren(QPushButton) if b.isVisible() and b.isEnabled()]
    assert not [button.text() for button in set(buttons) - set(reached)]
    columns = reached.index(preview.panel.columns.holds["Ip (mA)"])
    assert reached.index(preview.panel.form.type) < columns < reached.index(preview.take_button)


def test_the_sample_lot_opens_without_a_question(window, idle):
    window.actions_.open_samples.trigger()
    idle(window, timeout=110_000)
    assert len(window.lot.entries) > 20
    assert window.intake._preview is None or not window.intake.preview.isVisible()


def test_the_sample_lot_by_a_path_of_its_own_opens_without_a_question(window, idle, monkeypatch):
    monkeypatch.chdir(sample_folder().parent)  # as the first command of the README names it
    window.open_paths([Path(sample_folder().name)])
    idle(window)
    assert len(window.lot.session.entries) > 30
    assert window.intake._preview is None or not window.intake.preview.isVisible()


def write_unknown(write, name: str = "odd.csv") -> Path:
    return write(name, "chan1,chan2,chan3,spare", [f"{r},7" for r in rows()])


CHANNELS = (
    ColumnChoice("chan1", Column.PLATE_VOLTAGE),
    ColumnChoice("chan2", Column.GRID_VOLTAGE),
    ColumnChoice("chan3", Column.PLATE_CURRENT, MILLIAMPERE),
)


def test_a_lot_file_s_tube_is_judged_again_as_it_was_read(window, write, tmp_path, look):
    window.lot.use_bench(keep_choices("b", ReadingChoices(columns=CHANNELS)))
    window.lot.file.create(tmp_path / "box.lot")
    look()
    window.open_paths([write_unknown(write)])
    look()
    window.lot.use_bench(None)
    window.lot.file.open(tmp_path / "box.lot")
    look()
    (row,) = window.lot.rows
    window.lot.choose_rows([row.key])
    look()
    assert window.lot.session.problems == ()
    assert only_sweep(window).readings.plate_current.max() < 0.05
    window.lot.ask_again(Wish(judged_as="6J5"))
    look()
    (entry,) = window.lot.entries
    assert entry.wish.judged_as == "6J5"


def test_a_filed_tube_whose_file_is_corrected_is_judged_again(window, write, tmp_path, look):
    window.lot.file.create(tmp_path / "box.lot")
    look()
    window.open_paths([write("positive.csv", "Vp (V),Vg (V),Ip (mA)", rows(sign=-1.0))])
    preview = look()
    preview.panel.form.grid_volts.pick(GridVoltsSign.AS_WRITTEN)
    look()
    preview.take_button.click()
    look()
    assert [e.assessment.sweep.readings.grid_voltage.min() > 0 for e in window.lot.entries][-1]
    with open_lot(tmp_path / "box.lot", write=False) as opened:
        (tube,) = list_tubes(opened)
        (measurement,) = tube_history(opened, tube.key).measurements
    assert len(measurement.characterisations) == 2


def test_a_session_comes_back_read_as_it_was(window, write, look, make_window, idle):
    window.lot.use_bench(keep_choices("b", ReadingChoices(columns=CHANNELS)))
    window.open_paths([write_unknown(write)])
    look()
    window.lot.use_bench(None)
    window.close()
    later = make_window()
    later.recovery.bring_back(later.recovery.last)
    idle(later)
    assert only_sweep(later).readings.plate_current.max() < 0.05


def test_files_dropped_on_the_preview_are_shown_in_it_and_not_taken_in(
    window, positive, write, look
):
    window.intake.import_paths([positive])
    preview = look()
    second = write("second.csv", "Vp (V),Vg (V),Ip (mA)", rows(1.1))
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(second))])
    copy, buttons, keys = (
        Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    entered = QDragEnterEvent(QPoint(9, 9), copy, data, buttons, keys)
    QApplication.sendEvent(preview, entered)
    assert entered.isAccepted()
    QApplication.sendEvent(preview, QDropEvent(QPointF(9, 9), copy, data, buttons, keys))
    look()
    assert preview.files.count() == 2
    assert not window.lot.rows
