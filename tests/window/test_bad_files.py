"""Refusal: bad files opened in the window: a line each in the list, every tube can be looked at."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from curvelab.workbench.session import ProblemKind
from helpers.bad_files import HELD, PASSED, REFUSED, REJECTED, write_bad_files


@pytest.fixture
def opened(window, tmp_path, idle):
    folder = tmp_path / "lot"
    folder.mkdir()
    write_bad_files(folder)
    failures: list[object] = []
    window.lot.failed.connect(failures.append)
    window.open_paths([folder])
    idle(window)
    assert failures == []
    return window


def test_files_that_cannot_be_read_are_listed_and_the_rest_is_done(opened):
    problems = [one for one in opened.lot.session.problems if one.kind is ProblemKind.ERROR]
    refused = {*REFUSED, "a-folder", "a-dead-link"}
    assert {one.file for one in problems} == {f"{name}.csv" for name in refused}
    assert len(problems) == len(refused)
    assert all(one.reason and "\n" not in one.reason for one in problems)
    tubes = {entry.assessment.sweep.tube for entry in opened.lot.entries}
    assert tubes == {*HELD, *REJECTED, *PASSED, "good"}


def test_every_tube_can_be_looked_at_with_each_of_its_findings(opened):
    for entry in opened.lot.entries:
        opened.lot.choose([entry.key])
        for finding in range(len(entry.assessment.findings)):
            opened.lot.point_out(finding)
            QApplication.processEvents()
        opened.words.tabs.setCurrentWidget(opened.words.readings)
        QApplication.processEvents()
        assert entry.assessment.verdict.value.upper() in opened.words._verdict.text()


def test_what_a_person_must_choose_is_asked_and_then_read(opened, idle):
    (problem,) = [one for one in opened.lot.session.problems if one.file == "ma-as-a.csv"]
    opened.lot.answer(problem, "plate current in mA")
    idle(opened)
    assert "ma-as-a.csv" not in {one.file for one in opened.lot.session.problems}
    assert "ma-as-a" in {entry.assessment.sweep.tube for entry in opened.lot.entries}


def test_unreadable_and_missing_paths_leave_the_window_as_it_was(opened, tmp_path, idle):
    before = len(opened.lot.entries)
    opened.open_paths([tmp_path / "gone.csv", tmp_path / "gone" / "too.csv"])
    idle(opened)
    assert len(opened.lot.entries) == before
    assert {"gone.csv", "too.csv"} <= {one.file for one in opened.lot.session.problems}
