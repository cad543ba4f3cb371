"""Behaviour: the real window on real files, from opening to saving."""

from __future__ import annotations

import subprocess
import sys
import warnings

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QInputDialog,
    QLineEdit,
    QPlainTextEdit,
    QTextBrowser,
)

from curvelab.paths import sample_folder
from curvelab.window.application import main
from curvelab.window.theme import Scheme
from helpers.checkout import ROOT
from helpers.sweeps import write_log, write_sweep


@pytest.fixture
def folder(tmp_path):
    """Write a small lot: two tubes, a log, rows that cannot be read, and a file of junk."""
    lot = tmp_path / "lot"
    lot.mkdir()
    write_sweep(lot / "good.csv")
    write_sweep(lot / "rows.csv", seed=6, extra="oops,-2,\n17,,x")
    write_log(lot / "log.csv")
    (lot / "junk.csv").write_bytes(bytes(range(256)) * 8)
    return lot


@pytest.fixture
def opened(window, folder, idle):
    window.open_paths([folder])
    idle(window)
    return window


def names(window) -> list[str]:
    return [entry.assessment.sweep.tube for entry in window.lot.entries]


def drop(window, paths) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    place, copy = QPointF(300, 300), Qt.DropAction.CopyAction
    buttons, keys = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    with warnings.catch_warnings():
        # From 6.12 on Qt wants fractions of a pixel here, which older releases do not take.
        warnings.simplefilter("ignore", DeprecationWarning)
        enter = QDragEnterEvent(place.toPoint(), copy, data, buttons, keys)
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(window, QDropEvent(place, copy, data, buttons, keys))


def test_an_empty_window_says_what_to_do_and_what_to_beware_of(window):
    assert window.start_page.isVisible()
    said = window.start_page.findChild(type(window.start_page._cautions)).parent()
    texts = " ".join(label.text() for label in said.findChildren(type(window.start_page._title)))
    assert "Drop sweep files" in texts
    assert "Lethal voltage" in texts
    assert "interlocks" in texts


def test_a_folder_becomes_a_lot_and_what_failed_is_listed(opened):
    assert sorted(names(opened)) == ["good", "log", "rows"]
    assert opened.workspace.isVisible()
    problems = opened.lot.session.problems
    assert [problem.file for problem in problems if problem.line is None] == ["junk.csv"]
    rows = [problem for problem in problems if problem.line is not None]
    assert rows
    assert all(problem.file == "rows.csv" and problem.text for problem in rows)


def test_the_first_tube_is_shown_at_once(opened):
    assert opened.lot.session.current is not None
    assert opened.curves.plot._curves.pens
    assert opened.words.constants.words()


def test_problems_can_be_copied_as_text(opened):
    opened.actions_.problems.trigger()
    assert opened.problem_list.isVisible()
    opened.problem_list._copy_all()
    copied = QGuiApplication.clipboard().text()
    assert copied.splitlines()[0].split("\t") == ["what", "file", "line", "reason", "text"]
    assert "junk.csv" in copied


def test_files_are_dropped_anywhere_several_at_once(window, folder, idle):
    drop(window, [folder / "good.csv", folder / "log.csv"])
    idle(window)
    assert sorted(names(window)) == ["good", "log"]
    drop(window, [folder / "rows.csv"])
    idle(window)
    assert len(names(window)) == 3


def test_no_part_of_the_window_swallows_a_drop(window):
    takers = [window.curves.plot, window.curves.plot.viewport(), *window.findChildren(QLineEdit)]
    takers += window.findChildren(QTextBrowser)
    assert len(takers) > 3
    assert not [taker for taker in takers if taker.acceptDrops()]


def test_the_menu_opens_files_and_remembers_them(window, folder, answers, idle, make_window):
    answers.paths = [folder / "good.csv"]
    window.actions_.open_files.trigger()
    idle(window)
    assert names(window) == ["good"]
    assert window._settings.recent == [folder / "good.csv"]
    window.close()
    again = make_window()
    again._fill_recent()
    entry = again._recent_menu.actions()[0]
    assert entry.text() == str(folder / "good.csv")
    entry.trigger()
    idle(again)
    assert names(again) == ["good"]


def test_a_recent_file_that_is_gone_is_shown_as_gone(window, folder, answers, idle):
    answers.paths = [folder / "good.csv"]
    window.actions_.open_files.trigger()
    idle(window)
    (folder / "good.csv").unlink()
    window._fill_recent()
    entry = window._recent_menu.actions()[0]
    assert entry.text() == f"{folder / 'good.csv'} (gone)"
    assert not entry.isEnabled()


def test_only_junk_shows_the_list_of_problems_not_an_empty_plot(window, folder, idle):
    window.open_paths([folder / "junk.csv"])
    idle(window)
    assert window.problem_list.isVisible()
    assert not window.lot.entries


def test_a_stand_in_is_fitted_in_the_background_and_named(opened, idle):
    good = next(e for e in opened.lot.entries if e.assessment.sweep.tube == "good")
    opened.lot.choose([good.key])
    box = opened.words.comparison.compared_with
    box.setCurrentIndex(box.findData("6J5"))
    box.activated.emit(box.currentIndex())
    assert opened.tasks.busy
    idle(opened)
    judged = opened.lot.session.current.assessment
    assert judged.comparison.type_name == "6J5"
    assert judged.comparison.why == "stand-in"
    assert "6J5 as a stand-in" in opened.words._meaning.text()
    others = [e for e in opened.lot.entries if e.key != good.key]
    assert all(
        e.assessment.comparison.type_name == "6SN7GTB" for e in others if e.assessment.comparison
    )


def test_a_tube_without_a_type_can_be_given_one(window, tmp_path, idle):
    path = write_sweep(tmp_path / "bare.csv")
    path.write_text(
        path.read_text(encoding="utf-8").replace("# type: 6SN7GTB\n", ""), encoding="utf-8"
    )
    window.open_paths([path])
    idle(window)
    assert window.lot.session.current.assessment.tube_type is None
    box = window.words.comparison.judged_as
    box.setCurrentIndex(box.findData("6SN7GTB"))
    box.activated.emit(box.currentIndex())
    idle(window)
    assert window.lot.session.current.assessment.tube_type.name == "6SN7GTB"


def test_long_work_shows_progress_and_stops_when_told(window, tmp_path, qtbot, idle):
    many = tmp_path / "many"
    many.mkdir()
    for number in range(60):
        write_sweep(many / f"T{number}.csv", seed=number)
    steps = []
    window.tasks.progressed.connect(lambda *step: steps.append(step))
    window.open_paths([many])
    assert window.tasks.busy
    qtbot.waitUntil(lambda: bool(steps), timeout=60_000)
    window.actions_.cancel.trigger()
    idle(window)
    assert len(window.lot.entries) < 60


def test_the_sheet_is_saved_as_pdf(opened, answers, tmp_path, idle):
    target = tmp_path / "good.pdf"
    answers.paths = [target]
    opened.actions_.save_sheets.trigger()
    idle(opened)
    assert target.read_bytes().startswith(b"%PDF")


def test_sheets_of_several_tubes_go_into_a_folder(opened, answers, tmp_path, idle):
    answers.paths = [tmp_path / "sheets"]
    answers.paths[0].mkdir()
    opened.actions_.choose_all.trigger()
    opened.actions_.save_sheets.trigger()
    idle(opened)
    assert sorted(path.name for path in answers.paths[0].iterdir()) == [
        "good.pdf", "log.pdf", "rows.pdf",
    ]  # fmt: skip


@pytest.mark.parametrize(("suffix", "start"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_the_plot_is_saved_as_a_picture(opened, answers, tmp_path, idle, suffix, start):
    answers.paths = [tmp_path / f"plot.{suffix}"]
    opened.actions_.save_plot.trigger()
    idle(opened)
    assert answers.paths[0].read_bytes().startswith(start)


def test_the_lot_is_saved_as_csv(opened, answers, tmp_path, idle):
    answers.paths = [tmp_path / "lot.csv"]
    opened.actions_.save_lot.trigger()
    idle(opened)
    lines = answers.paths[0].read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("tube,section,verdict")
    assert len(lines) == 4


def test_the_chosen_tubes_are_saved_as_netlists(opened, answers, tmp_path, idle):
    answers.paths = [tmp_path / "nets"]
    opened.tubes.view.selectAll()
    opened.actions_.save_netlists.trigger()
    idle(opened)
    names = [path.name for path in answers.paths[0].iterdir()]
    assert names
    assert all(name.startswith("tube_") and name.endswith(".cir") for name in names)
    reasons = [problem.reason for problem in opened.lot.session.problems]
    chosen = len(opened.lot.session.chosen)
    assert len(names) + sum("no netlist" in reason for reason in reasons) == chosen


def test_a_folder_that_cannot_be_written_is_told_without_a_box(opened, answers, tmp_path, idle):
    answers.paths = [tmp_path / "missing" / "lot.csv"]
    opened.actions_.save_lot.trigger()
    idle(opened)
    assert "cannot write" in opened.statusBar().currentMessage()
    assert any("cannot write" in problem.reason for problem in opened.lot.session.problems)


def test_rows_and_plot_are_copied(opened):
    opened.tubes.view.setFocus()
    opened.actions_.copy_rows.trigger()
    assert QGuiApplication.clipboard().text().startswith("tube\tverdict\t")
    opened.actions_.copy_plot.trigger()
    assert QGuiApplication.clipboard().pixmap().width() > 200


def test_what_was_taken_off_the_list_comes_back(opened):
    before = names(opened)
    opened.actions_.remove.trigger()
    assert len(names(opened)) == 2
    opened.actions_.undo.trigger()
    assert names(opened) == before


def test_the_keyboard_steps_from_tube_to_tube(opened, qtbot):
    first = opened.lot.session.current
    opened.actions_.next_tube.trigger()
    assert opened.lot.session.current is not first
    opened.actions_.previous_tube.trigger()
    assert opened.lot.session.current is first


def test_stepping_with_ctrl_held_chooses_one_tube_at_a_time(opened, qtbot):
    """Ctrl is in the keys of the step itself; in a list it otherwise adds to what is chosen."""
    first = opened.lot.session.current
    opened.activateWindow()
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
        qtbot.keyClick(opened.tubes.view, key, Qt.KeyboardModifier.ControlModifier)
        assert len(opened.lot.session.chosen) == 1
    assert opened.lot.session.current is first


def test_no_shortcut_is_given_twice_and_all_are_listed(window):
    keys = [
        key.toString()
        for action in window.actions()
        for key in action.shortcuts()[:1]  # a second one may stand for the same key
        if not key.isEmpty()
    ]
    assert len(keys) == len(set(keys)) > 20
    assert len(list(window.actions_.listed())) == len(keys)
    assert QKeySequence(QKeySequence.StandardKey.Open).toString() in keys


def test_settings_survive_until_the_next_run(opened, make_window):
    opened.actions_.switches["reference"].setChecked(False)
    opened.actions_.micromho.setChecked(True)
    opened.actions_.schemes[Scheme.DARK].trigger()
    opened.resize(780, 690)
    height = opened.height()
    opened.close()
    again = make_window()
    assert not again.lot.session.display.reference
    assert again.lot.session.display.micromho
    assert again.actions_.schemes[Scheme.DARK].isChecked()
    assert again.height() == height


def test_words_stand_beside_the_plot_where_there_is_room(opened, qtbot):
    opened.resize(1250, 760)
    qtbot.waitUntil(lambda: opened.words.mapTo(opened, opened.words.rect().topLeft()).x() < 100)
    opened.resize(1900, 1000)
    qtbot.waitUntil(lambda: opened.words.mapTo(opened, opened.words.rect().topLeft()).x() > 1000)


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1920, 1080)])
def test_verdict_and_constants_are_seen_without_scrolling(window, idle, width, height):
    """On the sample lot, whose names and sections are as long as a workshop's."""
    window.resize(width, height)
    window.open_paths([sample_folder()])
    idle(window)
    view = window.tubes.view
    titles = [view.model().headerData(at, Qt.Orientation.Horizontal) for at in range(6)]
    assert [title.split("\n")[0] for title in titles] == [
        "tube", "verdict", "Ip", "gm", "rp", "mu",
    ]  # fmt: skip
    last = view.columnViewportPosition(5) + view.columnWidth(5)
    assert last <= view.viewport().width()


def test_the_window_fits_half_a_large_screen(window, idle):
    window.open_paths([sample_folder()])
    idle(window)
    for entry in window.lot.entries[::6]:
        window.lot.choose([entry.key])
        QApplication.processEvents()
        assert window.minimumSizeHint().width() <= 960


def test_every_part_that_takes_the_keyboard_has_a_name(opened):
    parts = [
        opened.tubes.view, opened.tubes.filter_field, opened.curves.plot, opened.words.findings,
        opened.words.readings, opened.words.comparison.judged_as,
        opened.words.comparison.compared_with, opened.problem_list.view,
    ]  # fmt: skip
    assert [part for part in parts if not part.accessibleName()] == []


def test_an_unexpected_error_can_be_read_copied_and_survived(qapp, qtbot, tmp_path, folder):
    shown = []

    def look() -> None:
        window = next(w for w in qapp.topLevelWidgets() if w.windowTitle() == "curvelab")
        sys.excepthook(ValueError, ValueError("boom"), None)
        dialog = window.findChild(QDialog)
        shown.append(dialog.findChild(QPlainTextEdit).toPlainText())
        dialog.reject()
        qtbot.waitUntil(lambda: bool(window.lot.entries), timeout=60_000)
        shown.append(len(window.lot.entries))
        window.close()

    before = sys.excepthook
    QTimer.singleShot(0, look)
    assert main([folder / "good.csv"]) == 0
    assert "ValueError: boom" in shown[0]
    assert shown[1] == 1
    assert sys.excepthook is before


def test_an_empty_window_needs_neither_pandas_nor_scipy():
    code = (
        "import sys; from PySide6.QtCore import QTimer; from PySide6.QtWidgets import QApplication;"
        "import curvelab.window as window; app = QApplication(['curvelab']);"
        "QTimer.singleShot(200, app.closeAllWindows); status = window.main([]);"
        "sys.exit(status or 3 * bool({'pandas', 'scipy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False, timeout=60)
    assert done.returncode == 0


def test_the_sample_lot_is_a_click_away(window, idle):
    window.start_page.samples_wanted.emit()
    idle(window, timeout=110_000)
    assert len(window.lot.entries) >= 16
    assert {entry.assessment.verdict.value for entry in window.lot.entries} == {
        "accept", "hold", "reject",
    }  # fmt: skip
    assert window._problem_button.text() == "1 notice"  # files that are no sweeps by their name


def test_a_file_with_two_meanings_is_asked_about_and_then_read(window, tmp_path, qtbot, idle):
    rows = [f"{v},{g},{v + 5},{0.88 * max(g + v / 20, 0) ** 1.5:.3f}" for g in (-8, -4, 0)
            for v in range(20, 301, 20)]  # fmt: skip
    path = tmp_path / "two.csv"
    path.write_text("\n".join(["plate_v,grid_v,plate_v,plate_ma", *rows]), encoding="utf-8")
    window.open_paths([path])
    idle(window)
    (problem,) = window.lot.session.problems
    assert len(problem.choices) == 2
    assert window.problem_list.isVisible()
    window.problem_list.choose_button.click()
    dialog = window.findChild(QInputDialog)
    qtbot.waitUntil(dialog.isVisible)
    assert problem.reason in dialog.labelText()
    dialog.setTextValue(problem.choices[1])
    dialog.accept()
    idle(window)
    assert window.lot.session.problems == ()
    readings = window.lot.session.current.assessment.sweep.readings
    assert readings.plate_voltage.min() == 25.0
