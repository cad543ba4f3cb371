"""Behaviour: sheets and plots as files, looked at by other programs than the one that drew them."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QImage

from curvelab.drawing.export import (
    save_picture_png,
    save_picture_svg,
    save_sheet_pdf,
    save_sheet_png,
    save_sheet_svg,
)
from curvelab.drawing.palette import step_colours
from curvelab.errors import OutputError
from curvelab.health.records import Verdict
from curvelab.sheets.document import SheetDocument, sheet_document
from helpers.assessments import (
    SIX_FINDINGS,
    drifting,
    gassy,
    healthy,
    without_constants,
)
from helpers.checkout import ROOT
from helpers.pdf_pages import needs_poppler, overlaps, words
from helpers.sweeps import write_sweep

SVG = "{http://www.w3.org/2000/svg}"


def sheet(assessment) -> SheetDocument:
    return sheet_document(assessment, made_with="curvelab 9.9", date=date(2026, 3, 1))


def crowded() -> SheetDocument:
    """Return a sheet with more words than a page holds."""
    tube = gassy()
    source = replace(tube.sweep.source, name="bench export " * 20 + ".csv")
    sweep = replace(tube.sweep, tube="balcony amplifier " * 8 + "W" * 120, source=source)
    long = tuple(replace(f, evidence=f"{f.evidence} " * 4) for f in SIX_FINDINGS)
    return sheet(replace(tube, sweep=sweep, findings=SIX_FINDINGS + long))


def run(*command: object) -> str:
    done = subprocess.run([str(part) for part in command], capture_output=True, check=True)
    return done.stdout.decode("utf-8")


def pdf_text(path: Path, *options: str) -> str:
    return " ".join(run("pdftotext", *options, path, "-").split())


def pixels(path: Path) -> np.ndarray:
    image = QImage(str(path)).convertToFormat(QImage.Format.Format_RGB888)
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return flat[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(int)


@needs_poppler
@pytest.mark.parametrize(("page", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_a_pdf_is_one_page_of_its_size(tmp_path, page, size):
    save_sheet_pdf(sheet(gassy()), tmp_path / "s.pdf", page)
    about = run("pdfinfo", tmp_path / "s.pdf")
    assert re.search(r"Pages:\s+1\n", about)
    found = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", about)
    assert found
    assert (round(float(found[1])), round(float(found[2]))) == size
    assert re.search(r"Title:\s+B02", about)


@needs_poppler
def test_the_text_of_a_pdf_can_be_searched_and_copied(tmp_path):
    document = sheet(gassy())
    save_sheet_pdf(document, tmp_path / "s.pdf")
    text = pdf_text(tmp_path / "s.pdf", "-layout")
    for wanted in (
        "B02",
        "REJECT",
        "not fit for use as it is",
        "judged as 12AX7, labelled ECC83",
        "Constants at Vp 250 V, Vg -2 V",
        "transconductance gm (mA/V) 1.157 0.020",
        "6.20 ± 0.40 µA, limit 1 µA",
        "-3.5 V",
        "plate voltage Vp (V)",
        "Lethal voltage",
        "microphony",
        document.sha256,
        "curvelab 9.9, 2026-03-01",
    ):
        assert wanted in text, wanted
    for finding in document.findings:
        assert finding.code in text


@needs_poppler
def test_nulls_and_logs_have_their_words(tmp_path):
    save_sheet_pdf(sheet(without_constants()), tmp_path / "n.pdf")
    text = pdf_text(tmp_path / "n.pdf")
    assert "not covered by the sweep. One grid curve gives no transconductance." in text
    assert "HOLD" in text
    save_sheet_pdf(sheet(drifting()), tmp_path / "d.pdf")
    text = pdf_text(tmp_path / "d.pdf")
    for wanted in ("runs away", "+6.1 % per minute", "140 s (2.3 min)", "time (min)"):
        assert wanted in text


@needs_poppler
@pytest.mark.parametrize("assessment", [healthy, drifting])
def test_the_plot_of_a_pdf_is_lines_not_an_image(tmp_path, assessment):
    save_sheet_pdf(sheet(assessment()), tmp_path / "s.pdf")
    listed = run("pdfimages", "-list", tmp_path / "s.pdf").strip().splitlines()
    assert len(listed) <= 2  # the heading of an empty list


@needs_poppler
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_too_many_words_stay_on_the_page_and_off_each_other(tmp_path, page):
    document = crowded()
    save_sheet_pdf(document, tmp_path / "s.pdf", page)
    assert re.search(r"Pages:\s+1\n", run("pdfinfo", tmp_path / "s.pdf"))
    width, height = {"A4": (595, 842), "Letter": (612, 792)}[page]
    (boxes,) = words(tmp_path / "s.pdf")
    for left, top, right, bottom, word in boxes:
        assert 30 < left < right < width - 30, word
        assert 20 < top < bottom < height - 20, word
    text = pdf_text(tmp_path / "s.pdf")
    shown = sum(text.count(f"{code.upper()} ") for code in ("reject", "caution", "note"))
    hidden = re.search(r"and (\d+) more findings in the CSV", text)
    assert hidden
    assert shown - 1 + int(hidden[1]) == len(document.findings)  # the verdict is one REJECT
    assert not overlaps(boxes)


@needs_poppler
@pytest.mark.parametrize("assessment", [healthy, gassy, without_constants, drifting])
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_no_word_of_a_usual_sheet_is_covered(tmp_path, assessment, page):
    save_sheet_pdf(sheet(assessment()), tmp_path / "s.pdf", page)
    assert not overlaps(words(tmp_path / "s.pdf")[0])


def test_a_png_has_its_size_white_margins_and_every_curve(tmp_path):
    picture = sheet(healthy()).picture
    save_picture_png(picture, tmp_path / "p.png", (1200, 750))
    image = pixels(tmp_path / "p.png")
    assert image.shape == (750, 1200, 3)
    assert (image[:10] == 255).all()
    assert (image[:, :10] == 255).all()
    for colour in step_colours(picture.step_count):
        wanted = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)])
        near = np.abs(image - wanted).sum(axis=2) < 12
        assert near.sum() > 100, colour


def test_a_curve_stands_where_its_numbers_say(tmp_path):
    """Read the zero-grid curve's two ends off the picture, from its pixels alone."""
    tube = healthy()
    picture = sheet(tube).picture
    save_picture_png(picture, tmp_path / "p.png", (1600, 1000))
    image = pixels(tmp_path / "p.png")
    black = image.sum(axis=2) < 120
    bottom, left = np.argmax(black.sum(axis=1)), np.argmax(black.sum(axis=0))
    right = np.flatnonzero(black[bottom]).max()
    top = bottom - np.argmin(black[: bottom + 1, left][::-1]) + 1

    colour = step_colours(picture.step_count)[-1]
    wanted = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)])
    rows, columns = np.nonzero(np.abs(image - wanted).sum(axis=2) < 12)
    plate = (columns - left) / (right - left) * picture.x.high
    current = (bottom - rows) / (bottom - top) * picture.y.high
    curve = plate < 301.5  # its label stands beyond
    readings = tube.sweep.readings
    zero_grid = readings.grid_voltage == 0
    assert plate[curve & (current > 0.05)].min() == pytest.approx(15.0, abs=2.0)
    highest = 1e3 * readings.plate_current[zero_grid].max()
    assert current[curve].max() == pytest.approx(highest, abs=0.12)


@pytest.mark.parametrize("verdict", list(Verdict))
def test_the_verdict_is_told_by_weight_not_by_colour(tmp_path, verdict):
    save_sheet_png(sheet(healthy(verdict=verdict)), tmp_path / "s.png", "A4", dots_per_inch=72)
    image = pixels(tmp_path / "s.png")
    assert image.shape == (842, 595, 3)
    box = image[41:80, 406:549].sum(axis=2)
    dark = (box < 300).mean()
    assert dark > 0.6 if verdict is Verdict.REJECT else 0.03 < dark < 0.5
    assert (image[:, :40] == 255).all()
    assert (image[:, 556:] == 255).all()


def test_svg_of_plot_and_sheet_is_xml_with_paths_and_text(tmp_path):
    document = sheet(healthy())
    save_picture_svg(document.picture, tmp_path / "p.svg", (960, 600))
    save_sheet_svg(document, tmp_path / "s.svg")
    for name, curves in (("p.svg", 16), ("s.svg", 16)):
        root = ET.parse(tmp_path / name).getroot()
        assert root.tag == f"{SVG}svg"
        assert len(list(root.iter(f"{SVG}path"))) >= curves
        told = " ".join("".join(item.itertext()) for item in root.iter(f"{SVG}text"))
        assert "plate voltage Vp (V)" in told
        assert "-3.5 V" in told
        assert not list(root.iter(f"{SVG}image"))
        # A pen of no fixed width is what other programs draw as a blob.
        assert "non-scaling-stroke" not in (tmp_path / name).read_text()
    assert ET.parse(tmp_path / "p.svg").getroot().get("viewBox") == "0 0 960 600"


@pytest.mark.parametrize("save", [save_sheet_pdf, save_sheet_png, save_sheet_svg])
def test_a_folder_that_is_not_there_is_one_plain_line(tmp_path, save):
    target = tmp_path / "nowhere" / "sheet"
    with pytest.raises(OutputError, match=r"^cannot write .*nowhere/sheet: no such file"):
        save(sheet(healthy()), target)


def test_an_existing_sheet_is_replaced_whole(tmp_path):
    target = tmp_path / "s.pdf"
    target.write_bytes(b"old")
    save_sheet_pdf(sheet(healthy()), target)
    assert target.read_bytes().startswith(b"%PDF")
    assert list(tmp_path.iterdir()) == [target]


@needs_poppler
def test_a_long_sentence_stands_in_full_where_the_page_has_room(tmp_path):
    long = replace(SIX_FINDINGS[0], evidence="The ion current follows the plate current. " * 8)
    save_sheet_pdf(sheet(replace(gassy(), findings=(long,))), tmp_path / "long.pdf")
    text = pdf_text(tmp_path / "long.pdf")
    assert text.count("The ion current follows the plate current.") == 8
    assert "…" not in text


@needs_poppler
@pytest.mark.parametrize(
    ("locale", "size"), [("en_US.UTF-8", "612 x 792"), ("de_DE.UTF-8", "595"), ("C", "595")]
)
def test_the_page_is_the_one_in_use_where_the_user_lives(tmp_path, locale, size):
    sweep, clean = write_sweep(tmp_path / "A17.csv"), ("LANG", "LANGUAGE")
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", *clean))}
    command = [sys.executable, "-m", "curvelab", "characterize", str(sweep)]
    subprocess.run(
        [*command, "--sheets", str(tmp_path)], cwd=ROOT, check=True, capture_output=True,
        env={**environment, "LC_ALL": locale},
    )  # fmt: skip
    told = run("pdfinfo", tmp_path / "A17.pdf")
    assert size in next(line for line in told.splitlines() if line.startswith("Page size"))
