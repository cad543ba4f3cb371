"""Refusal and round trip: what a person has chosen is read so, and nothing else changes."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.errors import AmbiguousFileError
from curvelab.ingest.choices import (
    ColumnChoice,
    GridCurrentSign,
    GridVoltsSign,
    ReadingChoices,
)
from curvelab.ingest.decode import load
from curvelab.ingest.headings import Column
from curvelab.ingest.layout import look_at
from curvelab.ingest.own_form import write_sweep
from curvelab.ingest.tables import REQUIRED
from curvelab.ingest.units import AMPERE
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, VOLT
from curvelab.sweep.records import RemarkCode

EXOTIC = (
    ColumnChoice("Chan A", Column.PLATE_VOLTAGE, VOLT),
    ColumnChoice("Chan B", Column.GRID_VOLTAGE, VOLT),
    ColumnChoice("Chan C", Column.PLATE_CURRENT, MILLIAMPERE),
)


def table(heading: str, readings, scale: float = 1.0) -> str:
    rows = [f"{vp:g},{vg:g},{ip * scale:.9g}" for vp, vg, ip in readings]
    return "\n".join([heading, *rows]) + "\n"


def remarks(reading, code: RemarkCode):
    return [item for item in reading.remarks if item.code is code]


def test_headings_that_nobody_knows_are_read_as_chosen(read, readings, same_family):
    text = table("Chan A,Chan B,Chan C", readings)
    found = read(text, choices=ReadingChoices(columns=EXOTIC))
    same_family(found.sweeps[0])
    assert not [item for item in found.remarks if item.guessed]
    (said,) = remarks(found, RemarkCode.CHOSEN)
    assert "'Chan C' is plate current in mA" in said.text and "as you chose" in said.text
    assert found.units[Column.PLATE_CURRENT] == MILLIAMPERE
    assert not found.guessed


def test_choices_do_not_touch_a_file_with_other_headings(read, readings):
    text = table("plate_v,grid_v,plate_ma", readings)
    plain = read(text)
    chosen = read(text, choices=ReadingChoices(columns=EXOTIC))
    assert chosen.remarks == plain.remarks
    np.testing.assert_array_equal(
        chosen.sweeps[0].readings.plate_current, plain.sweeps[0].readings.plate_current
    )


def test_a_column_can_be_left_unused_and_another_taken(read, readings, same_family):
    rows = [f"{vp},{vg},{ip},{ip * 2}" for vp, vg, ip in readings]
    text = "\n".join(["Vp (V),Vg (V),spare,Ip (mA)", *rows]) + "\n"
    columns = (
        ColumnChoice("Ip (mA)", None),
        ColumnChoice("spare", Column.PLATE_CURRENT, MILLIAMPERE),
    )
    same_family(read(text, choices=ReadingChoices(columns=columns)).sweeps[0])


def test_a_wrongly_stated_unit_is_put_right_without_a_question(read, readings, same_family):
    text = table("Vp (V),Vg (V),Ip (A)", readings)
    with pytest.raises(AmbiguousFileError, match="which no tube on a bench passes"):
        read(text)
    columns = (ColumnChoice("Ip (A)", Column.PLATE_CURRENT, MILLIAMPERE),)
    same_family(read(text, choices=ReadingChoices(columns=columns)).sweeps[0])


def test_a_unit_that_cannot_be_told_is_taken_as_chosen(read, readings):
    text = table("Vp,Vg,Ip", readings, scale=0.01)
    with pytest.raises(AmbiguousFileError):
        read(text)
    columns = (ColumnChoice("Ip", Column.PLATE_CURRENT, AMPERE),)
    found = read(text, choices=ReadingChoices(columns=columns))
    assert found.sweeps[0].readings.plate_current.max() == pytest.approx(
        0.01 * max(ip for _, _, ip in readings)
    )


def test_columns_without_a_heading_are_chosen_by_number(read, readings, same_family):
    rows = [f"{ip},{vp},{vg},7" for vp, vg, ip in readings]
    columns = (
        ColumnChoice("column 1", Column.PLATE_CURRENT, MILLIAMPERE),
        ColumnChoice("column 2", Column.PLATE_VOLTAGE, VOLT),
        ColumnChoice("column 3", Column.GRID_VOLTAGE, VOLT),
    )
    same_family(read("\n".join(rows) + "\n", choices=ReadingChoices(columns=columns)).sweeps[0])


def test_the_unit_under_the_steps_of_a_wide_table(read):
    text = "Vp (V),-2 V,-4 V\n100,0.261,0.068\n150,0.593,0.271\n200,1.0,0.5\n"
    with pytest.raises(AmbiguousFileError):
        read(text)
    found = read(text, choices=ReadingChoices(step_unit=MILLIAMPERE))
    assert found.sweeps[0].readings.plate_current.max() == pytest.approx(1e-3)
    stated = text.replace("Vp (V)", "Vp (V) / Ip (µA)")
    own = read(stated, choices=ReadingChoices(step_unit=MILLIAMPERE))
    assert own.sweeps[0].readings.plate_current.max() == pytest.approx(1e-6)


@pytest.mark.parametrize(("chosen", "sign"), [("NEGATIVE", -1.0), ("AS_WRITTEN", 1.0)])
def test_grid_volts_have_the_sign_that_was_chosen(read, readings, chosen, sign):
    positive = [(vp, -vg, ip) for vp, vg, ip in readings]
    text = table("Vp (V),Vg (V),Ip (mA)", positive)
    found = read(text, choices=ReadingChoices(grid_volts=GridVoltsSign[chosen]))
    grid = found.sweeps[0].readings.grid_voltage
    assert sorted(set(grid.tolist())) == sorted({sign * vg for _, vg, _ in positive})
    assert not [item for item in found.remarks if item.guessed]


def test_negative_grid_volts_are_never_turned(read, readings, same_family):
    text = table("Vp (V),Vg (V),Ip (mA)", readings)
    same_family(read(text, choices=ReadingChoices(grid_volts=GridVoltsSign.NEGATIVE)).sweeps[0])


def with_grid_current(readings, stated: str = "") -> str:
    rows = [f"{vp},{vg},{ip},{0.01 * ip:.6f}" for vp, vg, ip in readings]
    return "\n".join([*filter(None, [stated]), "Vp (V),Vg (V),Ip (mA),Ig (uA)", *rows]) + "\n"


def test_grid_current_has_the_sign_that_was_chosen_unless_the_file_says_another(read, readings):
    reverse = ReadingChoices(name="back room", grid_current=GridCurrentSign.REVERSE)
    found = read(with_grid_current(readings), choices=reverse)
    assert found.sweeps[0].readings.grid_current.max() <= 0
    (said,) = remarks(found, RemarkCode.GRID_CURRENT_SIGN)
    assert not said.guessed and "'back room'" in said.text
    stated = with_grid_current(readings, "# grid current sign: electrons positive")
    assert read(stated, choices=reverse).sweeps[0].readings.grid_current.min() >= 0
    person = ReadingChoices().corrected(grid_current=GridCurrentSign.REVERSE)
    assert read(stated, choices=person).sweeps[0].readings.grid_current.max() <= 0


def test_type_and_connection_are_stated_for_a_file_that_names_none(read, readings):
    choices = ReadingChoices(type_name="6J5", connection="triode-connected")
    text = table("Vp (V),Vg (V),Ip (mA)", readings)
    (sweep,) = read(text, choices=choices).sweeps
    assert (sweep.type_label, sweep.conditions.connection) == ("6J5", "triode-connected")
    (own,) = read("# type: 6SN7\n" + text, choices=choices).sweeps
    assert own.type_label == "6SN7"
    person = ReadingChoices().corrected(type_name="6J5")
    (overruled,) = read("# Tube type: 6SN7\n" + text, choices=person).sweeps
    assert overruled.type_label == "6J5"
    assert any("6J5: as you chose" in item.text for item in overruled.remarks)


def test_a_type_column_is_overruled_only_by_a_person(read, readings):
    rows = [f"{vp},{vg},{ip},6SN7" for vp, vg, ip in readings]
    text = "\n".join(["Vp (V),Vg (V),Ip (mA),type", *rows]) + "\n"
    assert read(text, choices=ReadingChoices(type_name="6J5")).sweeps[0].type_label == "6SN7"
    person = ReadingChoices().corrected(type_name="6J5")
    assert read(text, choices=person).sweeps[0].type_label == "6J5"


def test_the_encoding_is_the_one_chosen_unless_a_mark_says_another(read, readings):
    text = table("Vp (V),Vg (V),Ip (mA)", readings)
    content = ("# operator: Zoë\n" + text).encode("cp850")
    assert read(content).sweeps[0].metadata["operator"] != "Zoë"
    found = read(content, choices=ReadingChoices(encoding="cp850"))
    assert found.sweeps[0].metadata["operator"] == "Zoë"
    marked = ("# operator: Zoë\n" + text).encode("utf-8-sig")
    found = read(marked, choices=ReadingChoices(encoding="cp850"))
    assert found.sweeps[0].metadata["operator"] == "Zoë"


def test_the_decimal_mark_is_the_one_chosen(read):
    text = "Vp (V);Vg (V);Ip (mA)\n100;-2;1,234\n150;-2;2,345\n200;-2;3,456\n"
    guessed = read(text)
    assert any(item.weighs for item in remarks(guessed, RemarkCode.LAYOUT))
    chosen = read(text, choices=ReadingChoices(decimal=","))
    assert chosen.sweeps[0].readings.plate_current.max() == pytest.approx(3.456e-3)
    assert not [item for item in chosen.remarks if item.guessed]


@pytest.mark.parametrize(
    ("separator", "decimal", "wrong", "words"),
    [(",", ".", ",", "decimal points"), (";", ".", ",", "decimal points"),
     (";", ",", ".", "decimal commas")],
)  # fmt: skip
def test_a_benchs_decimal_mark_gives_way_to_cells_that_rule_it_out(
    read, separator, decimal, wrong, words
):
    rows = [("150.0", "-2", "2.345"), ("200.0", "-2", "3.456"), ("250.0", "-2", "4.567")]
    lines = [separator.join(row).replace(".", decimal) for row in rows]
    text = "\n".join([separator.join(("Vp (V)", "Vg (V)", "Ip (mA)")), *lines]) + "\n"
    found = read(text, choices=ReadingChoices(name="front room", decimal=wrong))
    (sweep,) = found.sweeps
    assert sweep.readings.plate_current.tolist() == pytest.approx([2.345e-3, 3.456e-3, 4.567e-3])
    (said,) = remarks(found, RemarkCode.CHOSEN)
    assert said.text.startswith(words)
    assert "'front room'" in said.text


def test_a_unit_chosen_for_one_heading_answers_nothing_of_another(read):
    rows = "".join(f"{vp},-2,{ip}\n" for vp, ip in ((150, 2345), (200, 3456), (250, 4567)))
    choices = ReadingChoices(columns=EXOTIC)
    with pytest.raises(AmbiguousFileError, match="which no tube on a bench passes"):
        read("Vp (V),Vg (V),Ip (mA)\n" + rows, choices=choices)
    (sweep,) = read("Chan A,Chan B,Chan C\n" + rows, choices=choices).sweeps
    assert sweep.readings.plate_current.max() == pytest.approx(4.567)


def test_a_file_of_the_project_s_own_form_reads_back_the_same_under_any_choice(
    read, readings, write
):
    (sweep,) = read(with_grid_current(readings)).sweeps
    text = write_sweep(sweep)
    choices = ReadingChoices(
        grid_volts=GridVoltsSign.NEGATIVE,
        grid_current=GridCurrentSign.REVERSE,
        type_name="6J5",
        columns=EXOTIC,
        step_unit=MICROAMPERE,
    )
    (again,) = read(text, choices=choices).sweeps
    for name in ("plate_voltage", "grid_voltage", "plate_current", "grid_current"):
        np.testing.assert_array_equal(getattr(again.readings, name), getattr(sweep.readings, name))


@pytest.mark.parametrize(
    ("heading", "weighs"), [("Vp (V),Vg (V),Ip (mA)", False), ("Vp,Vg,Ip", False)]
)
def test_the_trade_s_own_units_are_no_guess_that_weighs(read, readings, heading, weighs):
    found = read(table(heading, readings))
    assert any(item.weighs for item in found.remarks) is weighs


def test_amperes_without_a_unit_are_a_guess_that_weighs(read, readings):
    found = read(table("Vp,Vg,Ip", readings, scale=1e-3))
    assert any(item.weighs for item in found.remarks)
    assert found.units[Column.PLATE_CURRENT] == AMPERE
    assert Column.PLATE_CURRENT in found.guessed


def test_the_layout_names_unknown_columns_by_the_words_above_them(write, readings):
    layout = look_at(load(write(table("Chan A,Chan B,Chan C", readings))))
    assert [item.heading for item in layout.columns] == ["Chan A", "Chan B", "Chan C"]
    assert [item.column for item in layout.columns] == list(REQUIRED)  # by their values
    assert layout.columns[0].cells == ("50", "100", "150")
    many = [f"{vp},{vg},{ip},7" for vp, vg, ip in readings]
    layout = look_at(load(write("\n".join(["Chan A,Chan B,Chan C,Chan D", *many]))))
    assert [item.heading for item in layout.columns][3] == "Chan D"
    assert not any(item.column for item in layout.columns)
    seen = look_at(load(write(table("Vp (V),x,Ip (mA)", readings))))
    assert [(item.column, item.unit) for item in seen.columns] == [
        (Column.PLATE_VOLTAGE, VOLT),
        (None, None),
        (Column.PLATE_CURRENT, MILLIAMPERE),
    ]
