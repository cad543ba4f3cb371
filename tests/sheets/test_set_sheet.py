"""Behaviour and identity: the sheet of a set, and curves laid over one another."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from curvelab.catalog.curves import CurveGrid
from curvelab.sheets.overlay_picture import overlay_picture
from curvelab.sheets.paged import Curves, Heading, Paragraph, RuledTable
from curvelab.sheets.plot_records import Role
from curvelab.sheets.set_sheet import set_sheet, set_word
from helpers.assessments import reference_family
from helpers.papers import (
    CAUTION,
    GAS,
    POINT,
    constants,
    curves,
    grade,
    paper_set,
    paper_tube,
    result,
)


def sheet(item, *tubes):
    family = reference_family()
    return set_sheet(item, tubes, lambda *_: family, made_with="x", date=date(2031, 3, 2))


def said(document) -> str:
    return " ".join(item.text for item in document.blocks if isinstance(item, Paragraph))


def tables(document) -> list[RuledTable]:
    return [item for item in document.blocks if isinstance(item, RuledTable)]


@pytest.mark.parametrize(
    ("serials", "spare", "word"),
    [
        ("AB", None, "pair"),
        ("ABC", "C", "pair with a spare"),
        ("ABCD", None, "quad"),
        ("ABCDEF", None, "sextet"),
        ("ABCDEFG", None, "set of 7"),
    ],
)
def test_sets_are_called_as_the_trade_does(serials, spare, word):
    assert set_word(paper_set("S", *serials, spare=spare)) == word


def test_figures_stand_side_by_side_with_their_spread():
    a = paper_tube("A", result(constants(9.0)), graded=grade())
    b = paper_tube("B", result(constants(9.9), found=[CAUTION]), found=[CAUTION])
    document = sheet(paper_set("S", "A", "B"), a, b)
    figures, found = tables(document)
    assert [column.heading for column in figures.columns][1:] == [
        "A", "B", "spread (%)", "told apart",
    ]  # fmt: skip
    assert figures.rows[0] == (
        "plate current Ip (mA)",
        "9.000 ± 0.090",
        "9.900 ± 0.099",
        "9.5",
        "yes",
    )
    assert ("Ip, gm (% of bogey)", "100, 100", "100, 100", "", "") in figures.rows
    assert ("verdict", "accept", "hold", "", "") in figures.rows
    assert ("grade", "fresh", "not graded", "", "") in figures.rows
    assert found.rows == (
        ("A", "nothing"),
        ("B", "CAUTION contact: Isolated readings fell toward zero."),
    )
    assert "Spread 9.5 %, the larger of those of plate current and transconductance" in said(
        document
    )
    assert "Can the bench tell these tubes apart? Yes, by plate current" in said(document)


def test_what_must_not_be_overlooked_stands_first_and_strong():
    tube = paper_tube("B", found=[GAS])
    document = sheet(paper_set("S", "A", "B", "Z"), paper_tube("A"), tube)
    strong = [item for item in document.blocks if isinstance(item, Paragraph) and item.strong]
    assert (
        list(document.blocks[:2])
        == strong
        == [
            Paragraph("B is a reject: not fit for use as it is.", True),
            Paragraph("Z is not in this lot file: nothing is known of it here.", True),
        ]
    )


def test_different_types_and_benches_are_warned_of():
    other = replace(
        result(), bench="front room", figures=replace(result().figures, type_name="12AU7")
    )
    text = said(sheet(paper_set("S", "A", "B"), paper_tube("A"), paper_tube("B", other)))
    assert "These tubes are of different types: 12AU7, 6SN7GTB." in text
    assert "measured on different benches (back room, front room)" in text


def test_each_section_has_its_picture():
    sections = [result(section="1"), result(section="2")]
    tubes = [paper_tube("A", *sections), paper_tube("B", *sections)]
    pictures = [
        item.picture
        for item in sheet(paper_set("S", "A", "B"), *tubes).blocks
        if isinstance(item, Curves)
    ]
    assert [picture.members for picture in pictures] == [("A", "B"), ("A", "B")]


def test_a_pentode_is_laid_over_the_family_at_its_own_screen_voltage():
    asked = []

    def family_of(*which):
        asked.append(which)
        return reference_family()

    screened = [result(point=replace(POINT, screen_voltage=volts)) for volts in (250.0, 210.0)]
    tubes = [paper_tube("A", screened[0]), paper_tube("B", screened[0])]
    pair, day = paper_set("S", "A", "B"), date(2031, 3, 2)
    document = set_sheet(pair, tubes, family_of, made_with="x", date=day)
    assert asked == [("6SN7GTB", 250.0)]
    headings = [item.text for item in document.blocks if isinstance(item, Heading)]
    assert "Fitted curves, screen at 250 V, as far as the readings cover them" in headings
    # Screens at two voltages: no one family belongs under the curves.
    tubes[1] = paper_tube("B", screened[1])
    document = set_sheet(pair, tubes, family_of, made_with="x", date=day)
    assert len(asked) == 1
    assert "Their screens had different voltages" in said(document)


def test_a_curve_goes_through_the_nodes_it_was_sampled_at_and_stays_monotone():
    grid = curves()
    picture = overlay_picture("S", {"A": grid, "B": curves(1.1)}, reference_family(), "12AX7")
    for line in picture.of_role(Role.FITTED):
        scale = (1.0, 1.1)[line.member]
        step = float(line.label.removesuffix(" V"))
        row = int(np.argmin(np.abs(grid.grid_voltage - step)))
        nodes = 1e3 * scale * grid.plate_current[row]
        shown = np.interp(grid.plate_voltage, line.x, line.y)
        np.testing.assert_allclose(shown, nodes, atol=2e-3 * nodes.max())
        assert (np.diff(line.y) >= -1e-12).all()
    assert len(list(picture.of_role(Role.REFERENCE))) == len({s.label for s in picture.series})


def test_only_what_readings_cover_is_drawn():
    grid = curves()
    covered = grid.covered & (grid.plate_voltage <= 200) & (grid.grid_voltage >= -2)[:, None]
    short = CurveGrid(grid.plate_voltage, grid.grid_voltage, grid.plate_current, covered)
    picture = overlay_picture("S", {"A": short, "B": grid})
    lines = list(picture.of_role(Role.FITTED))
    assert {line.label for line in lines} == {"0 V", "-0.5 V", "-1 V", "-1.5 V", "-2 V"}
    assert max(line.x.max() for line in lines if line.member == 0) == 200
    assert max(line.x.max() for line in lines if line.member == 1) == 300


def test_steps_between_anothers_are_read_between_them():
    grid = curves()
    coarse = CurveGrid(
        grid.plate_voltage, grid.grid_voltage[1::2], grid.plate_current[1::2], grid.covered[1::2]
    )
    picture = overlay_picture("S", {"A": grid, "B": coarse})
    between = [s for s in picture.series if s.member == 1 and s.label == "-0.5 V"]
    assert between  # -0.5 V is one of the first tube's steps alone


def test_tubes_that_share_no_step_have_no_picture():
    grid = curves()
    far = CurveGrid(grid.plate_voltage, grid.grid_voltage - 20.0, grid.plate_current, grid.covered)
    assert overlay_picture("S", {"A": grid, "B": far}) is None
    assert overlay_picture("S", {}) is None
