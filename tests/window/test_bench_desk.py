"""Behaviour: the check of the bench in the real window, its history in a real lot file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from curvelab.bench_check.verdict import BenchStanding
from curvelab.window.bench.decision_dialog import DecisionDialog
from curvelab.workbench.bench_check import CheckRequest
from curvelab.workbench.lot_bench import check_for_lot, corrections_of_lot
from curvelab.workbench.lot_file import create_lot
from curvelab.workbench.lot_upkeep import kept_records
from helpers.sweeps import write_sweep

LAMPS = {"LAMP-1": 1.0, "LAMP-2": 1.04}
DAYS = 5


def measured(folder: Path, number: int, gain: float = 1.0) -> list[Path]:
    """Write the golden tubes' sweeps as a bench with some gain takes them on a day."""
    here = folder / f"day-{number}"
    here.mkdir()
    seated = np.random.default_rng(number)
    return [
        write_sweep(
            here / f"{name}.csv",
            seed=10 * number + place,
            strength=strength * gain * (1 + seated.normal(0, 0.003)),
        )
        for place, (name, strength) in enumerate(LAMPS.items())
    ]


@pytest.fixture
def opened(window, tmp_path, idle):
    path = tmp_path / "spring.lot"
    create_lot(path)
    for number in range(1, DAYS + 1):
        golden = tuple(measured(tmp_path, number))
        check_for_lot(path, CheckRequest(f"2024-03-{number:02d}", golden=golden))
    window.open_paths([path])
    idle(window)
    window.actions_.check_bench.trigger()
    idle(window)
    return window


def check(window, idle, paths) -> None:
    form = window.tools.bench.dialog.form
    form.take_golden(paths)
    form.check.click()
    idle(window)


def decide(window, idle, person="Ada", note="") -> None:
    asked = next(one for one in window.findChildren(DecisionDialog) if one.isVisible())
    asked.person.setText(person)
    asked.note.setText(note)
    asked.button.click()
    idle(window)


def test_a_steady_bench_is_said_and_its_charts_drawn(opened, tmp_path, idle):
    dialog = opened.tools.bench.dialog
    assert "Before a batch" in dialog.words.toPlainText()
    assert not dialog.form.check.isEnabled()
    check(opened, idle, measured(tmp_path, 20))
    assert dialog.words.toPlainText().startswith(BenchStanding.STEADY.value)
    assert "lethal" in dialog.words.toPlainText().lower()
    assert [dialog.charts.item(row).text().split(":")[0] for row in range(4)] == [
        "LAMP-1", "LAMP-2", "LAMP-1", "LAMP-2",
    ]  # fmt: skip
    shown = dialog.plot._picture
    assert shown.values.size == DAYS + 1
    assert "plate current Ip (mA)" in dialog.plot.getAxis("left").labelText
    ends = dialog.plot.whole()
    assert ends[1][0] < shown.lower < shown.centre < shown.upper < ends[1][1]
    assert f"{DAYS + 1} sessions" in dialog.plot.accessibleDescription()
    assert not dialog.accept_button.isEnabled()


def test_a_shift_is_suggested_accepted_by_name_and_withdrawn(opened, tmp_path, idle):
    dialog, path = opened.tools.bench.dialog, opened.lot.kept.path
    check(opened, idle, measured(tmp_path, 20, gain=1.06))
    assert dialog.words.toPlainText().startswith(BenchStanding.SHIFTED.value)
    assert "breaks a rule" in dialog.charts.currentItem().text()
    assert "limit" in dialog.why_none.text()
    assert dialog.plot._rings.getData()[0].size >= 1
    assert corrections_of_lot(path, None) == ()
    dialog.accept_button.click()
    asked = next(one for one in opened.findChildren(DecisionDialog) if one.isVisible())
    assert not asked.button.isEnabled()
    decide(opened, idle, person=" Ada  B. ")
    (accepted,) = corrections_of_lot(path, None)
    assert accepted.accepted_by == "Ada B."
    assert accepted.correction.factor == pytest.approx(1 / 1.06, rel=0.02)
    assert "accepted by Ada B." in dialog.in_force.text()
    assert not dialog.accept_button.isEnabled()
    dialog.withdraw_button.click()
    decide(opened, idle)
    assert corrections_of_lot(path, None) == ()
    assert "No correction is in force" in dialog.in_force.text()


def test_a_suggestion_is_refused_with_a_reason_that_is_kept(opened, tmp_path, idle):
    dialog, path = opened.tools.bench.dialog, opened.lot.kept.path
    check(opened, idle, measured(tmp_path, 20, gain=1.06))
    dialog.refuse_button.click()
    asked = next(one for one in opened.findChildren(DecisionDialog) if one.isVisible())
    asked.person.setText("Ada")
    assert not asked.button.isEnabled()
    decide(opened, idle, note="the shunt was loose")
    (record,) = kept_records(path, "refusal")
    kept = json.loads(record.payload)
    assert (kept["refused_by"], kept["note"]) == ("Ada", "the shunt was loose")
    assert kept["factor"] == pytest.approx(1 / 1.06, rel=0.02)
    assert corrections_of_lot(path, None) == ()
    assert "Refused by Ada: the shunt was loose" in dialog.suggested.text()
    assert not dialog.accept_button.isEnabled()


def test_without_a_history_a_chart_says_why_it_is_not_there(window, tmp_path, idle):
    create_lot(tmp_path / "new.lot")
    window.open_paths([tmp_path / "new.lot"])
    idle(window)
    window.actions_.check_bench.trigger()
    check(window, idle, measured(tmp_path, 20))
    dialog = window.tools.bench.dialog
    assert dialog.words.toPlainText().startswith(BenchStanding.NO_HISTORY.value)
    assert "a chart needs two" in dialog.why_none.text()
    assert not dialog.plot.isVisible()


def test_a_file_that_is_none_is_said_and_the_check_can_be_done_again(opened, tmp_path, idle):
    form, dialog = opened.tools.bench.dialog.form, opened.tools.bench.dialog
    form.socket.setText(str(tmp_path / "not there.csv"))
    form.check.click()
    idle(opened)
    assert "not there.csv" in dialog.words.toPlainText()
    assert form.check.isEnabled()


def test_golden_sweeps_are_chosen_once_each_and_taken_off(opened, tmp_path, answers):
    form = opened.tools.bench.dialog.form
    answers.paths = measured(tmp_path, 20)
    form.add.click()
    form.add.click()
    assert form.golden_paths == answers.paths
    form.golden.setCurrentRow(0)
    form.remove.click()
    assert form.golden_paths == answers.paths[1:]
    assert form.check.isEnabled()


def test_a_check_that_is_stopped_keeps_nothing(opened, tmp_path, idle):
    path = opened.lot.kept.path
    before = len(kept_records(path, "bench-check"))
    form = opened.tools.bench.dialog.form
    form.take_golden(measured(tmp_path, 20))
    form.check.click()
    opened.actions_.cancel.trigger()
    idle(opened)
    assert len(kept_records(path, "bench-check")) == before
    assert "stopped" in opened.tools.bench.dialog.words.toPlainText()


def test_without_a_lot_file_there_is_no_history_to_check_by(opened, idle):
    opened.actions_.close_lot.trigger()
    assert not opened.actions_.check_bench.isEnabled()
    assert not opened.tools.bench.dialog.isVisible()
