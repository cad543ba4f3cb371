"""Behaviour and refusal: what a tube's subcircuit says, and that no file can make it say more."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from curvelab.paths import sample_folder
from curvelab.reference.records import Figure, Status
from curvelab.sheets.netlist import netlist_text, subcircuit_name, why_no_netlist
from curvelab.sheets.netlist_capacitances import capacitance_lines
from curvelab.sweep.records import SweepKind
from curvelab.workbench.characterize import Request, characterize

KINDS = ("*", ".subckt ", ".func ", ".ends ", "B", "C", "+")


@pytest.fixture(scope="module")
def tube():
    (found,) = characterize(Request(paths=(sample_folder() / "BALCONY-01.csv",))).assessments
    return found


@pytest.fixture(scope="module")
def text(tube):
    return netlist_text(tube, name="tube_BALCONY_01", made_with="curvelab 9")


def said(text: str) -> str:
    """Return the comments as one text."""
    return " ".join(line[1:].strip() for line in text.splitlines() if line.startswith("*"))


def test_a_subcircuit_has_three_pins_in_the_usual_order(text):
    assert "\n.subckt tube_BALCONY_01 P G K\n" in text
    assert text.endswith("\n.ends tube_BALCONY_01\n")
    assert re.search(r"^Bplate P K I=", text, re.MULTILINE)


def test_it_says_which_tube_and_which_readings_it_stands_for(tube, text):
    words = said(text)
    assert "BALCONY-01" in words
    assert "type: 300B" in words
    assert f"SHA-256 {tube.sweep.source.sha256}" in words
    assert "at 300 V, -61 V" in words
    assert "mu 3.8" in words
    assert "filament AC, centre tap" in words
    assert "covered by readings: 15 to 435 V plate" in words


def test_it_says_what_it_is_not(text):
    words = said(text)
    assert "extrapolated" in words
    assert "grid current" in words
    assert "lethal" in words
    assert "no rating is to be exceeded" in words


def test_capacitances_come_with_their_source_and_how_well_they_are_known(tube, text):
    printed = tube.tube_type.capacitances["grid_plate"][0]
    assert f"Cgp G P {printed.value * 1e12:g}p" in text
    assert f"grid plate: {printed.source}, {printed.status.value}" in said(text)


def test_the_second_section_has_its_own_capacitances(tube):
    def figure(value):
        return Figure(value, "Invented sheet", Status.FROM_MEMORY)

    pair = (figure(1e-12), figure(2e-12))
    dual = replace(tube.tube_type, capacitances={"grid_plate": pair, "output": pair})
    assert "Cgp G P 1p" in capacitance_lines(dual, None)
    assert "Cpk P K 2p" in capacitance_lines(dual, "2")
    assert "Cpk P K 2p" in capacitance_lines(dual, "b")
    assert "unit 2: Invented sheet, from memory" in capacitance_lines(dual, "2")[0]


def test_where_no_capacitance_is_printed_there_is_none(tube):
    bare = replace(tube.tube_type, capacitances={})
    for lines in (capacitance_lines(bare, None), capacitance_lines(None, None)):
        assert len(lines) == 1
        assert lines[0].startswith("* no capacitances")


def test_no_line_is_longer_than_an_old_reader_takes(text):
    assert max(map(len, text.splitlines())) <= 120


def test_nothing_a_file_says_becomes_a_command(tube):
    evil = "A1\n.control\nshell touch stolen\n.endc\r\n.include other\x85\u2028.end"
    sweep = replace(
        tube.sweep,
        tube=evil,
        section=evil,
        type_label=evil,
        source=replace(tube.sweep.source, name=evil),
        conditions=replace(tube.sweep.conditions, filament=evil, filament_return=evil),
    )
    other = replace(tube, sweep=sweep, type_name=evil, tube_type=None)
    name = subcircuit_name(sweep)
    text = netlist_text(other, name=name, made_with="a test")
    assert re.fullmatch(r"tube_[A-Za-z0-9_]+", name)
    for line in text.splitlines():  # as Unicode breaks lines, which is more than a reader does
        assert line.startswith(KINDS), line


def test_names_are_told_apart_even_without_case(tube):
    def named(name):
        return replace(tube.sweep, tube=name)

    used = {subcircuit_name(named("a-1"))}
    assert used == {"tube_a_1"}
    assert subcircuit_name(named("A 1"), used) == "tube_A_1_2"
    assert subcircuit_name(named("тест")) == "tube_unnamed"


def test_what_has_no_family_has_no_subcircuit_and_says_why(tube):
    log = replace(tube, sweep=replace(tube.sweep, kind=SweepKind.DRIFT_LOG))
    pentode = replace(
        tube,
        sweep=replace(tube.sweep, conditions=replace(tube.sweep.conditions, connection="pentode")),
    )
    poor = replace(tube, fit=replace(tube.fit, family=None, reason="three readings"))
    assert why_no_netlist(tube) is None
    assert why_no_netlist(poor) == "three readings"
    for other, word in ((log, "log"), (pentode, "at what screen voltage"), (poor, "three")):
        with pytest.raises(ValueError, match=word):
            netlist_text(other, name="x", made_with="a test")


def test_a_tube_with_a_screen_has_four_pins_and_says_what_is_a_guess():
    path = Path(__file__).parents[1] / "data" / "outside" / "D4-6V6-tetrode.csv"
    (found,) = characterize(Request(paths=(path,))).assessments
    text = netlist_text(found, name="tube_6V6", made_with="curvelab 9")
    assert "\n.subckt tube_6V6 P S G K\n" in text
    assert re.search(r"^Bplate P K I=", text, re.MULTILINE)
    assert re.search(r"^Bscreen S K I=", text, re.MULTILINE)
    assert max(map(len, text.splitlines())) <= 120
    for line in text.splitlines():
        assert line.startswith(KINDS), line
    words = said(text)
    assert "at 250 V, -12.5 V, screen 250 V" in words
    assert "screen read at 250 V" in words
    assert "what flows into S is a guess" in words
    assert "2 W screen dissipation" in words
