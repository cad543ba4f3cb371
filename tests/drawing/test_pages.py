"""Behaviour: documents of several pages as PDF, looked at by another program."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from curvelab.drawing.export import save_page_png, save_pages_pdf
from curvelab.errors import OutputError
from curvelab.health.records import Severity, Verdict
from curvelab.sheets.histogram import histogram_of
from curvelab.sheets.listing import listing_picture
from curvelab.sheets.lot_report import lot_report
from curvelab.sheets.paged import (
    Column,
    Heading,
    Histograms,
    NewPage,
    PagedDocument,
    Paragraph,
    RuledTable,
)
from curvelab.sheets.paper_records import PaperTube
from curvelab.sheets.set_sheet import set_sheet
from helpers.assessments import SIX_FINDINGS, reference_family
from helpers.papers import CAUTION, GAS, grade, paper_set, paper_tube, result
from helpers.pdf_pages import needs_poppler, overlaps, page_count, page_texts, raster, words

TODAY = date(2031, 3, 20)
SIZES = {"A4": (595, 842), "Letter": (612, 792)}


def document(*blocks, title: str = "spring") -> PagedDocument:
    feet = (("cautions", "Lethal voltage."),)
    return PagedDocument("Report of a lot", title, "", blocks, feet, "curvelab 9.9", "2031-03-20")


def lot(count: int) -> list[PaperTube]:
    """Return tubes with all that can be found at them, some of it long."""
    rejects = [replace(item, severity=Severity.REJECT) for item in SIX_FINDINGS]
    return [
        paper_tube(
            f"PIT-{number:03d}",
            found=[GAS, *rejects] if number % 5 == 0 else [CAUTION] * (number % 3),
            supplier="an estate sale at the river quarter",
            graded=grade(),
            set_name="P-1" if number < 4 else None,
        )
        for number in range(count)
    ]


def report(count: int = 60) -> PagedDocument:
    tubes = lot(count)
    sets = [paper_set("P-1", *(tube.serial for tube in tubes[:4]))]
    return lot_report(tubes, sets, name="spring", made_with="curvelab 9.9", date=TODAY)


def sheet_of(count: int, sections: tuple[str | None, ...] = (None,)) -> PagedDocument:
    tubes = [
        paper_tube(f"PIT-{n:02d}", *(result(section=section) for section in sections))
        for n in range(count)
    ]
    item = paper_set("P-1", *(tube.serial for tube in tubes))
    family = reference_family("6SN7GTB")
    return set_sheet(item, tubes, lambda *_: family, made_with="curvelab 9.9", date=TODAY)


@needs_poppler
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_report_stays_inside_its_pages_and_no_word_covers_another(tmp_path, page):
    save_pages_pdf([report()], tmp_path / "r.pdf", page)
    pages = words(tmp_path / "r.pdf")
    assert len(pages) > 4
    width, height = SIZES[page]
    for boxes in pages:
        assert len(boxes) > 40
        for left, top, right, bottom, word in boxes:
            assert 30 < left < right < width - 30, word
            assert 20 < top < bottom < height - 15, word
        assert not overlaps(boxes)


@needs_poppler
def test_every_page_of_a_report_says_which_it_is_and_what_was_not_tested(tmp_path):
    save_pages_pdf([report()], tmp_path / "r.pdf")
    texts = page_texts(tmp_path / "r.pdf")
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(texts)}" in text
        assert "spring" in text
        assert "microphony and life were not tested" in text
        assert "Lethal voltage" in text
        assert "curvelab 9.9, 2031-03-20" in text


@needs_poppler
def test_a_report_keeps_every_tube_every_reason_and_every_heading_of_a_table(tmp_path):
    save_pages_pdf([report()], tmp_path / "r.pdf")
    texts = page_texts(tmp_path / "r.pdf")
    whole = " ".join(texts)
    for number in range(60):
        assert f"PIT-{number:03d}" in whole
    assert whole.count("An ion current goes with the plate current.") == 12
    with_rows = [text for text in texts if "9.000 ± 0.090" in text]
    assert len(with_rows) > 1
    assert all("Ip (mA) gm (mA/V)" in text for text in with_rows)


@needs_poppler
def test_a_heading_stays_with_what_it_heads(tmp_path):
    for lines in range(46, 62):
        blocks = [*(Paragraph(f"line {n}") for n in range(lines)), Heading("the heading"),
                  Paragraph("what it heads")]  # fmt: skip
        save_pages_pdf([document(*blocks)], tmp_path / "h.pdf")
        (page,) = [text for text in page_texts(tmp_path / "h.pdf") if "the heading" in text]
        assert "what it heads" in page


@needs_poppler
def test_a_row_taller_than_a_page_goes_on_over_pages_without_loss(tmp_path):
    told = " ".join(f"word{n}" for n in range(4000))
    table = RuledTable((Column("tube"), Column("reasons", 3.0)), (("A", told), ("B", "short")))
    save_pages_pdf([document(table)], tmp_path / "t.pdf")
    found = [word for page in words(tmp_path / "t.pdf") for *_, word in page]
    assert [word for word in found if word.startswith("word")] == told.split()
    assert all("reasons" in text for text in page_texts(tmp_path / "t.pdf"))


@needs_poppler
def test_each_document_begins_a_page_and_counts_its_own(tmp_path):
    long = document(*(Paragraph(f"line {n}") for n in range(90)), title="long")
    broken = document(Paragraph("one"), NewPage(), Paragraph("two"), title="broken")
    save_pages_pdf([long, document(Paragraph("x"), title="short"), broken], tmp_path / "d.pdf")
    texts = page_texts(tmp_path / "d.pdf")
    assert len(texts) == 5
    assert "page 2 of 2" in texts[1]
    assert "short" in texts[2]
    assert "page" not in texts[2]
    assert "two" in texts[4]
    assert "two" not in texts[3]


@needs_poppler
@pytest.mark.parametrize("count", [2, 4, 6])
def test_the_sheet_of_a_usual_set_is_one_page(tmp_path, count):
    save_pages_pdf([sheet_of(count)], tmp_path / "s.pdf")
    assert page_count(tmp_path / "s.pdf") == 1
    (text,) = page_texts(tmp_path / "s.pdf")
    (boxes,) = words(tmp_path / "s.pdf")
    assert not overlaps(boxes)
    for number in range(count):
        assert text.count(f"PIT-{number:02d}") >= 3  # in the key, the table, the findings
    assert "family of 6SN7GTB, same grid volts" in text
    assert "Can the bench tell these tubes apart? No" in text


@needs_poppler
def test_both_sections_of_a_pair_have_their_picture(tmp_path):
    save_pages_pdf([sheet_of(2, ("1", "2"))], tmp_path / "s.pdf")
    text = " ".join(page_texts(tmp_path / "s.pdf"))
    assert text.count("plate voltage Vp (V)") == 2
    assert "Fitted curves of section 2" in text


@needs_poppler
def test_verdicts_in_a_histogram_are_told_by_pattern_without_colour(tmp_path):
    """Three bars of one tube each: solid grey, hatched and black on a grey print."""
    shares = [(0.91, Verdict.ACCEPT), (1.01, Verdict.HOLD), (1.05, Verdict.REJECT)]
    item = histogram_of("6SN7GTB", "plate current", shares)
    save_pages_pdf([document(Histograms((item,)))], tmp_path / "h.pdf", "A4")
    grey = raster(tmp_path / "h.pdf", 144)
    top, bottom = 2 * 125, 2 * 200  # within the bars
    band = grey[top:bottom, 2 * 66 : 2 * 285].astype(int)
    black = (band < 60).mean(axis=0)
    solid = ((band > 60) & (band < 140)).mean(axis=0)
    rejected, accepted = (black > 0.95).sum(), (solid > 0.95).sum()
    hatched = ((black > 0.05) & (black < 0.8)).sum()
    assert min(rejected, accepted, hatched) > 12


def test_a_picture_for_a_shop_is_one_page_of_its_size(tmp_path):
    tubes = [paper_tube(f"PIT-{n}", result(section="1"), result(section="2")) for n in range(4)]
    item = paper_set("P-1", *(tube.serial for tube in tubes))
    family = reference_family("6SN7GTB")
    picture = listing_picture(tubes, lambda *_: family, item, made_with="x", date=TODAY)
    save_page_png(picture, tmp_path / "p.png", (1000, 1250))
    save_pages_pdf([picture], tmp_path / "p.pdf")
    assert page_count(tmp_path / "p.pdf") == 1
    from PySide6.QtGui import QImage  # noqa: PLC0415

    image = QImage(str(tmp_path / "p.png"))
    assert (image.width(), image.height()) == (1000, 1250)


@needs_poppler
def test_members_are_told_apart_without_colour(tmp_path):
    """On a grey print each sample in the key has gaps of its own."""
    save_pages_pdf([sheet_of(4)], tmp_path / "s.pdf", "A4")
    (boxes,) = words(tmp_path / "s.pdf")
    key = [box for box in boxes if box[4].startswith("PIT-") and box[1] > 115][:4]
    grey = raster(tmp_path / "s.pdf", 288)
    patterns = []
    for left, top, _, bottom, _ in key:
        rows = slice(int(4 * top), int(4 * bottom))
        sample = grey[rows, int(4 * (left - 23)) : int(4 * (left - 3))].min(axis=0) < 200
        patterns.append((int(np.count_nonzero(np.diff(sample.astype(int)))), int(sample.sum())))
    assert len(set(patterns)) == 4


def test_nothing_to_write_is_an_error_and_so_is_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(ValueError, match="a PDF needs a document"):
        save_pages_pdf([], tmp_path / "n.pdf")
    with pytest.raises(OutputError, match=r"^cannot write .*nowhere/r.pdf: no such file"):
        save_pages_pdf([document()], tmp_path / "nowhere" / "r.pdf")
