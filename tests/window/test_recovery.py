"""Behaviour: what lies on the table comes back after a crash, and on another day."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap

import pytest

from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.paths import user_data_folder
from curvelab.workbench.session import Wish
from helpers.checkout import ROOT
from helpers.lots import EARLY
from helpers.sweeps import write_sweep

_BROKEN_OFF = textwrap.dedent(
    """
    import sys, time
    from pathlib import Path
    from PySide6.QtCore import QSettings
    from PySide6.QtWidgets import QApplication
    from curvelab.window.main_window import MainWindow
    from curvelab.window.settings import Settings
    from curvelab.window.theme import Theme

    application = QApplication(["curvelab"])
    window = MainWindow(Theme(application), Settings(QSettings("curvelab", "curvelab")))
    window.begin([Path(path) for path in sys.argv[1:]])
    while not window.recovery._own or not window.recovery._own.exists():
        application.processEvents()
        time.sleep(0.01)
    print("written", flush=True)
    while True:
        application.processEvents()
        time.sleep(0.01)
    """
)


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    folder.mkdir()
    write_sweep(folder / "A17.csv")
    write_sweep(folder / "A18.csv", seed=6)
    return folder


def side_files() -> list[str]:
    folder = user_data_folder() / "sessions"
    return sorted(path.name for path in folder.glob("run-*.json"))


def names(window) -> list[str]:
    return [entry.assessment.sweep.tube for entry in window.lot.entries]


def work_on(window, bench, idle) -> None:
    """Open two tubes, judge one as another type, and set a verdict for the other."""
    window.open_paths([bench])
    idle(window)
    first, second = window.lot.entries
    window.lot.choose([first.key])
    window.lot.ask_again(Wish(compared_with="6J5"))
    idle(window)
    window.lot.choose([second.key])
    window.lot.overrule(Overrule(EARLY, Verdict.REJECT, "cracked base", "Ada"))


def test_a_run_that_was_killed_leaves_its_table_to_the_next(
    make_window, bench, idle, qtbot, tmp_path
):
    run = subprocess.Popen(
        [sys.executable, "-c", _BROKEN_OFF, str(bench)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert run.stdout.readline() == b"written\n"
    window = make_window()
    window.begin([])
    assert window.notice.isHidden()  # it still runs: its table is its own
    run.send_signal(signal.SIGKILL)
    run.wait(10)
    run.stdout.close()
    window.begin([])
    assert window.notice.isVisible()
    assert "2 tubes" in window.notice.words.text()
    window.notice.buttons[0].click()
    idle(window)
    qtbot.waitUntil(lambda: len(side_files()) == 1)  # that of this run
    assert names(window) == ["A17", "A18"]
    assert window.notice.isHidden()


def test_what_a_person_did_comes_back_with_the_last_session(make_window, bench, idle):
    window = make_window()
    work_on(window, bench, idle)
    window.close()
    assert side_files() == []
    again = make_window()
    again.begin([])
    idle(again)
    assert names(again) == ["A17", "A18"]
    first, second = again.lot.entries
    assert first.wish == Wish(compared_with="6J5")
    assert first.assessment.comparison.type_name == "6J5"
    assert second.overrule == Overrule(EARLY, Verdict.REJECT, "cracked base", "Ada")
    assert second.wish == Wish()


def test_a_tube_taken_off_the_list_stays_off(make_window, bench, idle):
    window = make_window()
    window.open_paths([bench])
    idle(window)
    window.lot.choose([window.lot.entries[0].key])
    window.actions_.remove.trigger()
    window.close()
    again = make_window()
    again.begin([])
    idle(again)
    assert names(again) == ["A18"]


def test_of_a_file_that_is_another_by_now_nothing_old_is_said(make_window, bench, idle):
    window = make_window()
    work_on(window, bench, idle)
    window.close()
    write_sweep(bench / "A18.csv", seed=99)
    again = make_window()
    again.begin([])
    idle(again)
    assert again.lot.entries[1].overrule is None
    assert any("another than it was" in item.reason for item in again.lot.session.problems)


def test_a_file_that_is_gone_is_listed(make_window, bench, idle):
    window = make_window()
    work_on(window, bench, idle)
    window.close()
    (bench / "A17.csv").unlink()
    again = make_window()
    again.begin([])
    idle(again)
    assert names(again) == ["A18"]
    assert [item.file for item in again.lot.session.problems] == ["A17.csv"]


def test_files_on_the_command_line_come_instead(make_window, bench, idle):
    window = make_window()
    work_on(window, bench, idle)
    window.close()
    again = make_window()
    again.begin([bench / "A18.csv"])
    idle(again)
    assert names(again) == ["A18"]


def test_a_person_may_begin_with_an_empty_table(make_window, bench, idle):
    window = make_window()
    work_on(window, bench, idle)
    window.actions_.go_on.setChecked(False)
    window.close()
    again = make_window()
    again.begin([])
    idle(again)
    assert names(again) == []


def test_the_side_file_is_written_while_working_and_junk_in_its_place_does_no_harm(
    make_window, bench, idle, qtbot
):
    folder = user_data_folder() / "sessions"
    folder.mkdir(parents=True)
    (folder / "run-junk.json").write_text("{", encoding="utf-8")
    (folder / "last.json").write_text('{"schema": 3}', encoding="utf-8")
    window = make_window()
    window.begin([])
    assert window.notice.isHidden()
    work_on(window, bench, idle)
    qtbot.waitUntil(lambda: len(side_files()) == 1 and side_files() != ["run-junk.json"])
