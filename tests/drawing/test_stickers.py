"""Behaviour and round trip: labels on paper, by the millimetre, and their codes read back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import zxingcpp

from curvelab.drawing.export import save_labels_pdf
from curvelab.health.records import FindingCode
from curvelab.sheets.label import LabelDocument, LabelPrint, Marks, label_document
from curvelab.sheets.label_code import read_label_code
from curvelab.sheets.label_grid import LabelGrid, place_labels, read_label_sheets
from helpers.checkout import ROOT
from helpers.papers import CAUTION, GAS, POINT, constants, grade, paper_tube, result
from helpers.pdf_pages import needs_poppler, page_count, raster, words

DOTS = 254  # an inch: ten pixels a millimetre
SHEETS = read_label_sheets(
    (ROOT / "resources" / "label_sheets.toml").read_bytes(), "label_sheets.toml"
)
GRID = LabelGrid(210, 297, 9.0, 20.0, 60.0, 30.0, 64.0, 34.0, 3, 7)
SMALL = LabelGrid(100, 60, 4.0, 5.0, 20.0, 8.0, 24.0, 12.0, 3, 3)


def tubes(count: int) -> list:
    return [
        paper_tube(
            f"PIT-{number:02d}",
            found=[[], [CAUTION], [GAS]][number % 3],
            graded=grade(),
            set_name="P-1",
        )
        for number in range(count)
    ]


def document(given, grid: LabelGrid, **how: object) -> LabelDocument:
    return label_document(given, LabelPrint(grid, **how), title="Labels", made_with="curvelab 9.9")


def ink(path, page: int = 1) -> np.ndarray:
    """Return where there is ink on a page, ten pixels a millimetre."""
    return raster(path, DOTS, page) < 200


def boxes(grid: LabelGrid, count: int, start: int = 1, inset: float = 0.0):
    """Yield the rectangle of each label in pixels."""
    for spot in place_labels(grid, count, start):
        left, top = spot.left + inset, spot.top + inset
        width, height = grid.width - 2 * inset, grid.height - 2 * inset
        yield tuple(round(10 * side) for side in (left, top, left + width, top + height))


@needs_poppler
@pytest.mark.parametrize("name", list(SHEETS))
def test_the_sheet_has_its_size_and_all_ink_lies_within_the_labels_clear_of_their_edges(
    tmp_path, name
):
    grid = SHEETS[name]
    count, start = 7, 3
    labels = document(tubes(count), grid, start=start)
    save_labels_pdf(labels, tmp_path / "l.pdf")
    printed = ink(tmp_path / "l.pdf")
    assert printed.shape == pytest.approx((10 * grid.page_height, 10 * grid.page_width), abs=3)
    outside = printed.copy()
    for left, top, right, bottom in boxes(grid, count, start, inset=1.6):
        assert printed[top:bottom, left:right].mean() > 0.01
        outside[top:bottom, left:right] = False
    assert not outside.any()


@needs_poppler
def test_outlines_stand_where_the_millimetres_say(tmp_path):
    save_labels_pdf(document([], GRID, marks=Marks.OUTLINE), tmp_path / "l.pdf")
    printed = ink(tmp_path / "l.pdf")
    columns = np.flatnonzero(printed.mean(axis=0) > 0.5) / 10
    rows = np.flatnonzero(printed.mean(axis=1) > 0.5) / 10
    lefts = [9.0 + 64.0 * column for column in range(3)]
    tops = [20.0 + 34.0 * row for row in range(7)]
    for edge in [*lefts, *(left + 60.0 for left in lefts)]:
        assert np.abs(columns - edge).min() <= 0.15
    for edge in [*tops, *(top + 30.0 for top in tops)]:
        assert np.abs(rows - edge).min() <= 0.15
    for found, edges in (
        (columns, [*lefts, *(left + 60.0 for left in lefts)]),
        (rows, [*tops, *(top + 30.0 for top in tops)]),
    ):
        assert all(min(abs(each - edge) for edge in edges) <= 0.2 for each in found)


@needs_poppler
def test_crop_marks_stand_at_the_corners_alone(tmp_path):
    save_labels_pdf(document([], GRID, marks=Marks.CROP), tmp_path / "l.pdf")
    printed = ink(tmp_path / "l.pdf")
    near = np.zeros_like(printed)
    for left, top, right, bottom in boxes(GRID, GRID.count):
        for x in (left, right):
            for y in (top, bottom):
                assert printed[y - 4 : y + 5, x - 4 : x + 5].any()
                near[y - 18 : y + 19, x - 18 : x + 19] = True
    assert not (printed & ~near).any()


@needs_poppler
def test_without_marks_an_unused_label_stays_clean(tmp_path):
    save_labels_pdf(document(tubes(2), GRID, start=5), tmp_path / "l.pdf")
    printed = ink(tmp_path / "l.pdf")
    filled = [
        bool(printed[top:bottom, left:right].any())
        for left, top, right, bottom in boxes(GRID, GRID.count)
    ]
    assert [number for number, found in enumerate(filled, start=1) if found] == [5, 6]


@needs_poppler
def test_more_labels_than_a_sheet_holds_go_on_the_next(tmp_path):
    save_labels_pdf(document(tubes(12), SMALL, start=8), tmp_path / "l.pdf")
    assert page_count(tmp_path / "l.pdf") == 3
    pages = [{word for *_, word in page} for page in words(tmp_path / "l.pdf")]
    assert "PIT-01" in pages[0]
    assert "PIT-02" in pages[1]
    assert "PIT-11" in pages[2]


@needs_poppler
@pytest.mark.parametrize("name", list(SHEETS))
def test_every_code_is_read_back_from_the_print_by_a_reader_of_another_make(tmp_path, name):
    grid = SHEETS[name]
    given = [
        paper_tube(f"PIT-{n:02d}", result(constants(9.0 + n / 10)), graded=grade())
        for n in range(4)
    ]
    labels = document(given, grid)
    save_labels_pdf(labels, tmp_path / "l.pdf")
    page = raster(tmp_path / "l.pdf", 300)
    scale = 300 / 25.4
    for spot, tube in zip(place_labels(grid, 4), given, strict=True):
        left, top = round(spot.left * scale), round(spot.top * scale)
        cut = page[top : top + round(grid.height * scale), left : left + round(grid.width * scale)]
        (found,) = zxingcpp.read_barcodes(np.ascontiguousarray(cut))
        coded = read_label_code(found.text)
        assert (coded.serial, coded.grade) == (tube.serial, "fresh")
        figure = coded.sections[0].figures["plate_current"]
        truth = tube.sweeps[0].figures.constants.plate_current
        assert figure.value == pytest.approx(truth.value, abs=0.06 * truth.u95)


@needs_poppler
@pytest.mark.parametrize("grid", [GRID, SMALL, SHEETS["38.1x21.2"]])
def test_too_long_a_text_is_cut_with_an_ellipsis_and_never_leaves_its_label(tmp_path, grid):
    long = paper_tube(
        "BALCONY-" + "W" * 60 + "-17",
        found=[GAS, *(replace(CAUTION, evidence=str(n)) for n in range(4))],
        lot="the estate sale at the river quarter, second van, upper shelf" * 3,
        set_name="matched " * 12,
    )
    save_labels_pdf(document([long, long], grid), tmp_path / "l.pdf")
    printed = ink(tmp_path / "l.pdf")
    for left, top, right, bottom in boxes(grid, 2, inset=1.6):
        assert printed[top:bottom, left:right].any()
        printed[top:bottom, left:right] = False
    assert not printed.any()
    text = " ".join(word for page in words(tmp_path / "l.pdf") for *_, word in page)
    assert "…" in text
    assert "BAL" in text
    assert "-17" in text  # both ends of a serial are kept


@needs_poppler
def test_a_long_line_makes_no_other_line_smaller(tmp_path):
    many = [replace(CAUTION, code=code) for code in FindingCode]
    short, long = paper_tube("A", found=[CAUTION]), paper_tube("A", found=many)
    save_labels_pdf(document([short, long], GRID), tmp_path / "l.pdf")
    (found,) = words(tmp_path / "l.pdf")
    heights = [round(bottom - top, 1) for _, top, _, bottom, word in found if word == "6SN7GTB"]
    assert heights[1] >= heights[0]


@needs_poppler
def test_a_low_label_keeps_the_serial_and_loses_the_least(tmp_path):
    save_labels_pdf(document(tubes(3), SMALL), tmp_path / "l.pdf")
    text = [word for page in words(tmp_path / "l.pdf") for *_, word in page]
    assert {"PIT-00", "PIT-01", "PIT-02"} <= set(text)
    assert "judged" not in text
    assert text.count("REJECT") == 1  # of the third tube: that is never left out


@needs_poppler
def test_a_reject_is_seen_by_weight_not_by_colour(tmp_path):
    save_labels_pdf(document([paper_tube("A", found=[GAS])], GRID), tmp_path / "l.pdf")
    (found,) = words(tmp_path / "l.pdf")
    left, top, right, bottom = next(box[:4] for box in found if box[4] == "REJECT")
    scale = DOTS / 72
    box = ink(tmp_path / "l.pdf")[
        round(top * scale) : round(bottom * scale), round(left * scale) : round(right * scale)
    ]
    assert box.mean() > 0.5  # white letters on black


def test_both_sections_of_a_tube_are_on_its_label():
    tube = paper_tube("A", result(section="1"), result(constants(8.0), section="2"))
    (label,) = document([tube], GRID).labels
    told = [line.text for line in label.lines]
    assert "1: Ip 9.000 ± 0.090 mA" in told
    assert "2: Ip 8.000 ± 0.080 mA" in told
    assert told.count("at 250 V, -8 V") == 1


def test_a_pentodes_label_names_its_screen_voltage():
    point = replace(POINT, screen_voltage=250.0)
    (label,) = document([paper_tube("A", result(point=point))], GRID).labels
    assert "at 250 V, -8 V, screen 250 V" in [line.text for line in label.lines]
