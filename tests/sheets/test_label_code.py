"""Round trip and refusal: a label's code gives back its figures, through a camera's decoder too."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
import zxingcpp
from hypothesis import example, given
from hypothesis import strategies as st

from curvelab.errors import DocumentError
from curvelab.fitting.records import Constant
from curvelab.sheets.label_code import CodedSection, CodedTube, label_code, read_label_code
from curvelab.sheets.qr_code import LEAST_MODULE, QUIET_ZONE, QrCode, fitting_code, qr_code

FIGURES = {
    "plate_current": Constant(9.1234e-3, 0.0512e-3),
    "transconductance": Constant(2.6123e-3, 0.0409e-3),
    "plate_resistance": Constant(7.66e3, 130.0),
    "amplification_factor": Constant(20.1, None),
}
TUBE = CodedTube(
    serial="PIT-01",
    lot="spring",
    type_name="6SN7GTB",
    sections=(CodedSection(None, (250.0, -8.0), FIGURES),),
    verdict="accept",
    grade="fresh",
    set_name="P-4",
    date=date(2031, 3, 1),
)


def decoded(code: QrCode, scale: int = 4) -> str:
    """Return what a QR reader of another make sees in the squares."""
    size = len(code.rows) + 2 * QUIET_ZONE
    image = np.full((size, size), 255, np.uint8)
    image[QUIET_ZONE:-QUIET_ZONE, QUIET_ZONE:-QUIET_ZONE][np.array(code.rows)] = 0
    (found,) = zxingcpp.read_barcodes(np.kron(image, np.ones((scale, scale), np.uint8)))
    return found.text


def test_the_text_is_short_and_can_be_read_by_a_person():
    assert label_code(TUBE) == (
        "cl1;s=PIT-01;l=spring;t=6SN7GTB;p=250,-8;i=9.123/0.051;g=2.612/0.041;r=7.66/0.13;"
        "m=20.1;v=accept;q=fresh;n=P-4;d=2031-03-01"
    )


def test_a_reader_of_another_make_gives_back_the_figures():
    back = read_label_code(decoded(qr_code(label_code(TUBE))))
    assert (back.serial, back.lot, back.type_name) == ("PIT-01", "spring", "6SN7GTB")
    assert (back.verdict, back.grade, back.set_name) == ("accept", "fresh", "P-4")
    assert back.date == date(2031, 3, 1)
    (section,) = back.sections
    assert (section.section, section.point) == (None, (250.0, -8.0))
    for name, constant in FIGURES.items():
        found = section.figures[name]
        spread = constant.u95 or 1e-4 * constant.value
        assert found.value == pytest.approx(constant.value, abs=0.06 * spread)
        if constant.u95 is None:
            assert found.u95 is None
        else:
            assert found.u95 == pytest.approx(constant.u95, rel=0.05)


def test_sections_keep_their_own_figures():
    one = CodedSection("1", (250.0, -8.0), {"plate_current": Constant(9e-3, 1e-4)})
    two = CodedSection("2", (90.0, 0.0), {"plate_current": Constant(10e-3, 1e-4)})
    tube = CodedTube("A1", "", "", (one, two))
    back = read_label_code(label_code(tube))
    assert [(item.section, item.point) for item in back.sections] == [
        ("1", (250.0, -8.0)),
        ("2", (90.0, 0.0)),
    ]
    assert [item.figures["plate_current"].value for item in back.sections] == pytest.approx(
        [9e-3, 10e-3]
    )


@example(" ")
@given(st.text(max_size=20).filter(lambda text: not any(0xD800 <= ord(c) < 0xE000 for c in text)))
def test_any_name_comes_back_and_the_text_stays_ascii(name):
    tube = CodedTube(name, name, name, (CodedSection(name, (250.0,), {}),), set_name=name or None)
    text = label_code(tube)
    assert text.isascii()
    assert text.isprintable()
    back = read_label_code(text)
    assert (back.serial, back.lot, back.type_name) == (name, name, name)
    assert back.set_name == (name or None)
    assert back.sections[0].section == name


@pytest.mark.parametrize(
    "text",
    [
        "",
        "https://example.org",
        "cl2;s=A1",
        "cl1",
        "cl1;t=6SN7",
        "cl1;s=A1;p=250,-8;i=nine",
        "cl1;s=A1;i=9/0.1",
        "cl1;s=A1;d=yesterday",
    ],
)
def test_what_is_no_code_is_refused(text):
    with pytest.raises(DocumentError, match="label code"):
        read_label_code(text)


def test_a_small_place_gets_the_shorter_text_and_a_tiny_one_none():
    full, shorter = label_code(TUBE), label_code(TUBE, besides=False)
    side = LEAST_MODULE * (qr_code(full).modules + 0.01)
    assert fitting_code([full, shorter], side).text == full
    assert fitting_code([full, shorter], side - LEAST_MODULE).text == shorter
    assert fitting_code([full, shorter], 5.0) is None


def test_a_text_that_no_code_holds_is_passed_over():
    assert fitting_code(["x" * 9000, "short"], 20.0).text == "short"
