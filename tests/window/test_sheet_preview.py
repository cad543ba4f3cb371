"""Behaviour: sheets looked at before they are saved or printed, one or many."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QWidget

from curvelab.window.saving import Saving
from curvelab.window.saving_kinds import SheetKind
from curvelab.window.sheet_preview import SheetPreview


@pytest.fixture
def preview(qtbot, filled):
    made = SheetPreview(filled.entries, filled.session.fresh_document)
    qtbot.addWidget(made)
    with qtbot.waitExposed(made):
        made.show()
    return made


@pytest.fixture
def saving(qtbot, filled, answers):
    window = QWidget()
    qtbot.addWidget(window)
    made = Saving(filled, filled._tasks, answers, window)
    filled.session.choose([entry.key for entry in filled.entries])
    return made


def shown(preview: SheetPreview) -> str:
    return preview.page.accessibleName()


def test_pages_are_turned_by_keys_from_the_first_to_the_last(qtbot, preview, filled):
    titles = [filled.session.fresh_document(entry).title for entry in filled.entries]
    found = [shown(preview)]
    for _ in range(len(titles) - 1):
        qtbot.keyClick(preview, Qt.Key.Key_PageDown)
        found.append(shown(preview))
    assert found == titles
    assert not preview._next.isEnabled()
    qtbot.keyClick(preview, Qt.Key.Key_PageDown)
    assert shown(preview) == titles[-1]
    qtbot.keyClick(preview, Qt.Key.Key_PageUp)
    assert shown(preview) == titles[-2]


def test_the_page_keeps_the_shape_of_the_paper_at_every_size(preview):
    ratios = []
    for size in ((760, 860), (1200, 700)):
        preview.resize(*size)
        ratios.append(preview.page.height() / preview.page.width())
        room = preview._room.viewport().size()
        assert preview.page.height() <= room.height() and preview.page.width() <= room.width()
    preview._scale(1.25)
    ratios.append(preview.page.height() / preview.page.width())
    assert max(ratios) - min(ratios) < 0.02
    assert 1.25 < min(ratios) < 1.45


def test_the_page_is_painted_in_ink_on_white_paper(preview):
    image = preview.page.grab().toImage()
    assert image.pixelColor(2, 2).lightness() > 250
    colours = {image.pixel(x, y) for x in range(0, image.width(), 3) for y in range(40, 200, 3)}
    assert len(colours) > 10


def test_what_a_person_wants_is_said_with_the_kind_of_file(qtbot, preview):
    preview.kind.setCurrentIndex(preview.kind.findData(SheetKind.ONE_PDF))
    buttons = {one.text(): one for one in preview.findChildren(QPushButton)}
    with qtbot.waitSignal(preview.save_wanted) as said:
        buttons["&Save…"].click()
    assert said.args == [SheetKind.ONE_PDF]
    with qtbot.waitSignal(preview.print_wanted):
        buttons["P&rint…"].click()


@pytest.mark.parametrize(
    ("kind", "start"), [("PDF", b"%PDF"), ("PNG", b"\x89PNG"), ("SVG", b"<?xml")]
)
def test_many_sheets_are_saved_as_files_of_the_kind(
    qtbot, saving, filled, answers, tmp_path, kind, start
):
    answers.paths = [tmp_path / "sheets"]
    answers.paths[0].mkdir()
    saving._ask_sheets(filled.entries, SheetKind[kind])
    qtbot.waitUntil(lambda: not filled._tasks.busy, timeout=30_000)
    written = list(answers.paths[0].iterdir())
    assert len(written) == len(filled.entries)
    assert all(path.suffix == SheetKind[kind] for path in written)
    assert all(path.read_bytes().startswith(start) for path in written)


def test_many_sheets_are_saved_as_one_file_with_a_page_each(
    qtbot, saving, filled, answers, tmp_path
):
    answers.paths = [tmp_path / "all.pdf"]
    saving._ask_sheets(filled.entries, SheetKind.ONE_PDF)
    qtbot.waitUntil(lambda: not filled._tasks.busy, timeout=30_000)
    pages = re.findall(rb"/Type\s*/Page\b", answers.paths[0].read_bytes())
    assert len(pages) == len(filled.entries)


@pytest.mark.parametrize("kind", ["PDF", "ONE_PDF"])
def test_saving_many_can_be_stopped(qtbot, saving, filled, answers, tmp_path, kind):
    folder = tmp_path / "sheets"
    folder.mkdir()
    answers.paths = [folder if kind == "PDF" else folder / "all.pdf"]
    told = []
    saving.told.connect(told.append)
    filled._tasks.progressed.connect(lambda *_: filled._tasks.cancel())
    saving._ask_sheets(filled.entries * 20, SheetKind[kind])
    qtbot.waitUntil(lambda: not filled._tasks.busy, timeout=30_000)
    written = len(list(folder.iterdir()))
    assert written < 20 * len(filled.entries) if kind == "PDF" else written == 0
    assert len(told) == 1 and told[0].startswith("Stopped")
