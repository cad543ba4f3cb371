"""Behaviour: a tube that came back, in the real window on a lot file of real sweeps."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from PySide6.QtGui import QGuiApplication

from curvelab.catalog.records import FindingMark, TubeIdentity
from curvelab.catalog.retest import Retest
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.window.returned_dialog import ReturnedDialog
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from helpers.sweeps import write_sweep

RETEST = Retest(
    section="1",
    earlier_at=datetime(2030, 3, 1, tzinfo=UTC),
    later_at=datetime(2031, 3, 1, tzinfo=UTC),
    same_point=True,
    same_bench=True,
    changes=(),
    new_findings=(),
    gone_findings=(),
    curve_distance=None,
    another_tube=False,
)


@pytest.fixture
def opened(window, tmp_path, idle):
    path = tmp_path / "spring.lot"
    create_lot(path)
    for year, strength in (("2030", 1.0), ("2031", 0.8)):
        folder = tmp_path / year
        folder.mkdir()
        write_sweep(folder / "A1.csv", seed=int(year), strength=strength)
        add_to_lot(path, Addition(Request(paths=(folder,))))
    once = write_sweep(tmp_path / "B1.csv")
    add_to_lot(path, Addition(Request(paths=(once,))))
    window.open_paths([path])
    idle(window)
    return window


def dialog_of(window, idle, *names) -> ReturnedDialog:
    window.lot.choose_called(list(names))
    idle(window)
    window.actions_.returned.trigger()
    idle(window)
    return next(one for one in window.findChildren(ReturnedDialog) if one.isVisible())


def test_a_tube_that_came_back_weaker_is_held_against_what_it_was(opened, idle):
    dialog = dialog_of(opened, idle, "A1")
    words = dialog.words.text()
    assert words.startswith("A1, filed on ")
    assert "Its curves lie 20." in words or "Its curves lie 19." in words
    (current,) = (one for one in dialog.lines.shown() if one.symbol == "Ip")
    assert current.change.share == pytest.approx(-0.2, abs=0.01)
    assert current.beyond
    row = dialog.lines.shown().index(current)
    cells = [dialog.lines.index(row, at).data() for at in range(dialog.lines.columnCount())]
    assert cells[0] == "Ip (mA)"
    assert cells[5] == "yes"
    factor = next(one for one in dialog.lines.shown() if one.symbol == "mu")
    assert not factor.beyond
    dialog.copy.click()
    copied = QGuiApplication.clipboard().text()
    assert words in copied
    assert "Ip (mA)\t" in copied


def test_a_tube_that_was_swept_once_has_nothing_to_compare(opened, idle):
    dialog = dialog_of(opened, idle, "B1")
    assert "B1 was swept once only" in dialog.words.text()
    assert not dialog.view.isVisible()
    dialog.copy.click()
    assert "swept once" in QGuiApplication.clipboard().text()


def test_it_is_possible_for_one_tube_of_a_lot_file(opened, idle):
    opened.lot.choose_called(["A1", "B1"])
    idle(opened)
    assert not opened.actions_.returned.isEnabled()
    opened.lot.choose_called(["A1"])
    assert opened.actions_.returned.isEnabled()
    opened.actions_.close_lot.trigger()
    idle(opened)
    assert not opened.actions_.returned.isEnabled()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"another_tube": True}, "hardly the same tube"),
        ({"same_bench": False}, "Two benches measured it"),
        ({"same_point": False}, "two operating points: its constants are not compared"),
        ({"new_findings": (FindingMark("gas", "reject"),)}, "New: gas (reject)"),
        ({"gone_findings": (FindingMark("noisy", "note"),)}, "Gone: noisy (note)"),
        ({"curve_distance": 0.031}, "3.1 % apart"),
    ],
)
def test_each_caution_is_said_only_where_it_holds(qtbot, theme, changed, said):
    for retest, expected in ((RETEST, False), (replace(RETEST, **changed), True)):
        dialog = ReturnedDialog(TubeIdentity("A1"), (retest,), CONSTANT_QUANTITIES, theme)
        qtbot.addWidget(dialog)
        assert (said in dialog.words.text()) is expected
        assert "A1 section 1, filed on 2030-03-01 and 2031-03-01" in dialog.words.text()
