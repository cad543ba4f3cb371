"""Behaviour: sheets on paper and in every format that is offered."""

from __future__ import annotations

import subprocess
from datetime import date

import pytest
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QFileDialog, QWidget

from curvelab.errors import OutputError
from curvelab.sheets.document import sheet_document
from curvelab.window.files import FileDialogs
from curvelab.window.printing import ask_printer, print_sheets
from curvelab.window.saving import Saving
from helpers import assessments
from helpers.pdf_pages import needs_poppler


@pytest.fixture
def documents():
    return [
        sheet_document(tube, made_with="curvelab 9.9", date=date(2026, 3, 1))
        for tube in (assessments.healthy(), assessments.gassy())
    ]


def printer_to(path) -> QPrinter:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(path))
    return printer


@needs_poppler
def test_every_chosen_tube_has_a_page(qapp, tmp_path, documents):
    print_sheets(printer_to(tmp_path / "two.pdf"), documents)
    pages = subprocess.run(
        ["pdftotext", tmp_path / "two.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout.split("\f")
    assert [page.strip() != "" for page in pages] == [True, True, False]
    assert "A17" in pages[0] and "ACCEPT" in pages[0]
    assert "B02" in pages[1] and "REJECT" in pages[1]


def test_a_printer_that_takes_nothing_is_named(qapp, tmp_path, documents):
    with pytest.raises(OutputError, match="cannot print to"):
        print_sheets(printer_to(tmp_path / "no such" / "x.pdf"), documents)


def test_the_dialog_does_not_block_and_gives_the_printer_once_accepted(qtbot, tmp_path):
    window, chosen = QWidget(), []
    qtbot.addWidget(window)
    dialog = ask_printer(window, "A17", chosen.append)
    assert isinstance(dialog, QPrintDialog)
    assert dialog.printer().docName() == "A17"
    assert not chosen
    dialog.done(QPrintDialog.DialogCode.Accepted)
    assert len(chosen) == 1


def test_a_print_that_is_given_up_says_so(qapp, tmp_path, documents):
    done = []

    def painted(count: int) -> bool:
        done.append(count)
        return False

    assert print_sheets(printer_to(tmp_path / "x.pdf"), documents, painted) is False
    assert done == [1]


def test_sheets_are_printed_beside_the_window(qtbot, filled, answers, tmp_path):
    window, told = QWidget(), []
    qtbot.addWidget(window)
    filled.session.choose([entry.key for entry in filled.entries])
    saving = Saving(filled, filled._tasks, answers, window)
    saving.told.connect(told.append)
    saving.print_sheets()
    (dialog,) = window.findChildren(QPrintDialog)
    dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    dialog.printer().setOutputFileName(str(tmp_path / "asked.pdf"))
    dialog.done(QPrintDialog.DialogCode.Accepted)
    assert filled._tasks.busy
    qtbot.waitUntil(lambda: not filled._tasks.busy, timeout=30_000)
    assert (tmp_path / "asked.pdf").read_bytes().startswith(b"%PDF")
    assert told == ["Sent to the printer"]


def test_a_printer_without_a_place_is_told(qtbot, filled, answers, tmp_path):
    window, told = QWidget(), []
    qtbot.addWidget(window)
    saving = Saving(filled, filled._tasks, answers, window)
    saving.told.connect(told.append)
    saving.print_sheets()
    (dialog,) = window.findChildren(QPrintDialog)
    dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    dialog.printer().setOutputFileName(str(tmp_path / "none" / "asked.pdf"))
    dialog.done(QPrintDialog.DialogCode.Accepted)
    qtbot.waitUntil(lambda: not filled._tasks.busy, timeout=30_000)
    assert len(told) == 1 and "cannot print to" in told[0]


@pytest.mark.parametrize(
    ("suffix", "start"), [("pdf", b"%PDF"), ("png", b"\x89PNG"), ("svg", b"<?xml")]
)
def test_a_sheet_is_saved_in_the_format_of_its_name(
    qtbot, filled, answers, tmp_path, suffix, start
):
    window = QWidget()
    qtbot.addWidget(window)
    saving = Saving(filled, filled._tasks, answers, window)
    answers.paths = [tmp_path / f"sheet.{suffix}"]
    saving.save_sheets()
    qtbot.waitUntil(lambda: not filled._tasks.busy, timeout=30_000)
    assert answers.paths[0].read_bytes().startswith(start)


def test_the_name_follows_the_kind_of_file_that_is_chosen(qtbot, tmp_path):
    class Kept:
        last_folder = str(tmp_path)

    window = QWidget()
    qtbot.addWidget(window)
    FileDialogs(window, Kept()).ask_target("Save", "a.png", ["PNG (*.png)", "SVG (*.svg)"], print)
    (dialog,) = window.findChildren(QFileDialog)
    dialog.setOption(QFileDialog.Option.DontUseNativeDialog)
    dialog.filterSelected.emit("SVG (*.svg)")
    assert dialog.defaultSuffix() == "svg"
    assert [name.rpartition("/")[2] for name in dialog.selectedFiles()] == ["a.svg"]
    dialog.reject()
