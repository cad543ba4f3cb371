"""Behaviour: the papers of a lot in the real window, read back from what was written."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QLabel

from curvelab.catalog.records import Overrule, SetMember, SetState, TubeSet
from curvelab.health.records import Verdict
from curvelab.window.paper.claims_dialog import ClaimsDialog
from curvelab.window.paper.label_dialog import LabelDialog
from curvelab.window.paper.paper_dialog import PaperDialog
from curvelab.window.printing import print_labels
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot
from curvelab.workbench.lot_upkeep import kept_sets, lock_set, overrule_verdict
from helpers.pdf_pages import page_texts
from helpers.sweeps import write_sweep


@pytest.fixture
def opened(window, tmp_path, idle):
    bench = tmp_path / "bench"
    bench.mkdir()
    for seed, name in enumerate(("A1", "A2", "B1")):
        write_sweep(bench / f"{name}.csv", seed=seed)
    path = tmp_path / "spring.lot"
    create_lot(path)
    add_to_lot(path, Addition(Request(paths=(bench,))))
    window.open_paths([path])
    idle(window)
    return window


def whole_text(path) -> str:
    return "\n".join(page_texts(path))


def settle(window, answers, target, *, graded=False, chosen=False) -> None:
    dialog = next(one for one in window.findChildren(PaperDialog) if one.isVisible())
    dialog.graded.setChecked(graded)
    (dialog.some if chosen else dialog.all).setChecked(True)
    answers.paths = [target]
    dialog.button.click()


def keep_pair(path) -> None:
    members = (SetMember("A1"), SetMember("A2"))
    lock_set(path, TubeSet("pair 01", SetState.LOCKED, members, datetime.now(UTC)))


def reject(path, serial) -> None:
    overrule_verdict(
        path, serial, Overrule(datetime.now(UTC), Verdict.REJECT, "cracked base", "Ada")
    )


def said(window) -> str:
    return window.statusBar().currentMessage()


@pytest.mark.parametrize("ending", ["pdf", "csv"])
def test_a_report_of_the_lot_is_written(opened, answers, tmp_path, idle, ending):
    opened.actions_.lot_report.trigger()
    target = tmp_path / f"report.{ending}"
    settle(opened, answers, target, graded=ending == "csv")
    idle(opened)
    text = whole_text(target) if ending == "pdf" else target.read_text(encoding="utf-8")
    assert all(name in text for name in ("A1", "A2", "B1"))
    assert ("fresh" in text) is (ending == "csv")
    assert said(opened) == f"Saved {target}"


def test_a_paper_that_cannot_be_written_is_told_without_a_box(opened, answers, tmp_path, idle):
    opened.actions_.lot_report.trigger()
    settle(opened, answers, tmp_path / "no such" / "report.pdf")
    idle(opened)
    assert "cannot write" in opened.lot.session.problems[-1].reason


def test_a_report_that_is_stopped_writes_nothing(opened, answers, tmp_path, idle):
    opened.actions_.lot_report.trigger()
    settle(opened, answers, tmp_path / "report.pdf", graded=True)
    opened.actions_.cancel.trigger()
    idle(opened)
    assert not (tmp_path / "report.pdf").exists()
    assert "topped" in said(opened)


def test_set_sheets_are_written_from_the_menu_and_from_the_chosen_set(
    opened, answers, tmp_path, idle
):
    opened.actions_.set_sheets.trigger()
    settle(opened, answers, tmp_path / "none.pdf")
    idle(opened)
    assert "keeps no set" in opened.lot.session.problems[-1].reason
    keep_pair(opened.lot.kept.path)
    opened.actions_.set_sheets.trigger()
    settle(opened, answers, tmp_path / "sets.pdf")
    idle(opened)
    assert "pair 01" in whole_text(tmp_path / "sets.pdf")
    opened.actions_.matching.trigger()
    idle(opened)
    panel = opened.tools.matching.panel
    panel.sets_view.selectRow(0)
    panel.sheets.click()
    settle(opened, answers, tmp_path / "chosen.pdf")
    idle(opened)
    assert "pair 01" in whole_text(tmp_path / "chosen.pdf")


def test_a_set_that_was_found_has_its_sheet_before_it_is_kept(opened, answers, tmp_path, idle):
    opened.actions_.matching.trigger()
    idle(opened)
    panel = opened.tools.matching.panel
    assert not panel.sheets.isEnabled()
    panel.form.held.setChecked(True)
    panel.form.tolerance.setValue(30.0)
    panel.form.seek.click()
    idle(opened)
    (found,) = panel.sets.shown()
    panel.form.tolerance.setValue(7.0)  # what was found stays what it was found by
    panel.sheets.click()
    asked = next(one for one in opened.findChildren(PaperDialog) if one.isVisible())
    assert "+".join(found.members) in {one.text() for one in asked.findChildren(QLabel)}
    settle(opened, answers, tmp_path / "found.pdf")
    idle(opened)
    text = whole_text(tmp_path / "found.pdf")
    assert all(name in text for name in ("proposed 01", *found.members))
    assert "plate current" in text
    assert kept_sets(opened.lot.kept.path) == ()


def test_a_tube_with_its_mate_has_a_sheet_too(opened, answers, tmp_path, idle):
    opened.lot.choose_called(["B1"])
    idle(opened)
    opened.tools.matching.panel.form.held.setChecked(True)
    opened.actions_.mate.trigger()
    idle(opened)
    panel = opened.tools.matching.panel
    (mate, *_) = panel.mates.shown()
    panel.sheets.click()
    settle(opened, answers, tmp_path / "mate.pdf")
    idle(opened)
    text = whole_text(tmp_path / "mate.pdf")
    assert "B1" in text
    assert mate.key in text


def test_the_report_is_printed(opened, tmp_path, idle):
    opened.actions_.lot_report.trigger()
    asked = next(one for one in opened.findChildren(PaperDialog) if one.isVisible())
    asked.graded.setChecked(False)
    asked.print_button.click()
    dialog = next(one for one in opened.findChildren(QPrintDialog) if one.isVisible())
    dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    dialog.printer().setOutputFileName(str(tmp_path / "printed.pdf"))
    dialog.done(QPrintDialog.DialogCode.Accepted)
    idle(opened)
    assert "B1" in whole_text(tmp_path / "printed.pdf")
    assert said(opened) == "Sent to the printer"


def test_listings_are_written_as_text_and_picture(opened, answers, tmp_path, idle):
    opened.lot.choose_called(["B1"])
    idle(opened)
    opened.actions_.listings.trigger()
    settle(opened, answers, tmp_path / "shop", chosen=True)
    idle(opened)
    assert sorted(path.name for path in (tmp_path / "shop").iterdir()) == ["B1.png", "B1.txt"]
    assert "B1" in (tmp_path / "shop" / "B1.txt").read_text(encoding="utf-8")
    assert not QImage(str(tmp_path / "shop" / "B1.png")).isNull()


def test_the_listing_of_one_tube_is_copied(opened, idle):
    opened.lot.choose_called(["A2"])
    idle(opened)
    opened.actions_.copy_listing.trigger()
    idle(opened)
    text = QGuiApplication.clipboard().text()
    assert "A2" in text
    assert "B1" not in text
    assert "Copied the listing of A2" in said(opened)


@pytest.fixture
def labels(opened, answers, tmp_path, idle) -> LabelDialog:
    opened.actions_.labels.trigger()
    settle(opened, answers, tmp_path / "unused")
    idle(opened)
    return next(one for one in opened.findChildren(LabelDialog) if one.isVisible())


def test_labels_are_seen_before_they_are_saved(opened, labels, answers, tmp_path, idle):
    assert labels.sheet.currentText() == "70x37 mm"
    assert labels.lengths["width"].value() == 70.0
    assert "of 1; 3 labels" in labels.of.text()
    first = labels.preview._picture
    labels.start.setValue(24)
    idle(opened)
    assert "of 2; 3 labels" in labels.of.text()
    assert labels.preview._picture != first
    labels.page.setValue(2)
    second = labels.preview._picture
    labels.page.setValue(1)
    assert labels.preview._picture != second
    answers.paths = [tmp_path / "labels.pdf"]
    labels.save.click()
    idle(opened)
    text = whole_text(tmp_path / "labels.pdf")
    assert all(name in text for name in ("A1", "A2", "B1"))


def test_a_sheet_may_be_as_measured_and_one_that_cannot_be_is_said(opened, labels, idle):
    labels.lengths["left"].setValue(3.0)
    idle(opened)
    assert labels.sheet.currentData() is None
    assert "leave" in labels.wrong.text() or "page" in labels.wrong.text()
    assert not labels.save.isEnabled()
    labels.counts["columns"].setValue(2)
    idle(opened)
    assert labels.wrong.text() == ""
    assert labels.save.isEnabled()
    assert labels._document.grid.columns == 2
    labels.sheet.setCurrentIndex(0)
    idle(opened)
    assert labels.counts["columns"].value() == 3


def test_labels_are_printed_on_sheets_of_their_size(opened, labels, tmp_path, qapp):
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    print_labels(printer, labels._document)
    assert "A1" in whole_text(tmp_path / "printed.pdf")


def test_claims_are_listed_copied_and_saved(opened, answers, tmp_path, idle):
    reject(opened.lot.kept.path, "B1")
    opened.actions_.claims.trigger()
    idle(opened)
    dialog = next(one for one in opened.findChildren(ClaimsDialog) if one.isVisible())
    assert [claim.tube.serial for claim in dialog.shown] == ["B1"]
    assert dialog.supplier.itemText(1) == "none named"
    assert "1 reject" in dialog.count.text()
    dialog.copy.click()
    assert "cracked base (Ada)" in QGuiApplication.clipboard().text()
    answers.paths = [tmp_path / "claims.csv"]
    dialog.save.click()
    idle(opened)
    text = (tmp_path / "claims.csv").read_text(encoding="utf-8")
    assert text.splitlines()[0].startswith("tube,lot,type,supplier")
    assert "cracked base (Ada)" in text


def test_without_a_lot_file_there_are_no_papers(window, tmp_path, idle):
    window.open_paths([write_sweep(tmp_path / "A1.csv")])
    idle(window)
    actions = window.actions_
    for action in (actions.lot_report, actions.labels, actions.claims, actions.copy_listing):
        assert not action.isEnabled()
