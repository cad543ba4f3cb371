"""Behaviour: what a person is shown of a file, and which files are put before them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curvelab.ingest.choices import ColumnChoice, GridVoltsSign, ReadingChoices
from curvelab.ingest.headings import Column
from curvelab.quantities import MILLIAMPERE
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.import_preview import preview_file, preview_files, settled, to_look_at
from helpers.bad_files import REFUSED, write_bad_files
from helpers.sweeps import write_sweep


def rows(scale: float = 1.0, sign: float = 1.0) -> list[str]:
    return [
        f"{vp},{sign * vg},{scale * max(vg + vp / 20, 0) ** 1.5:.6f}"
        for vg in (-2.0, -4.0, -6.0)
        for vp in (100, 150, 200, 250)
    ]


@pytest.fixture
def write(tmp_path):
    def made(name: str, heading: str, lines: list[str]) -> Path:
        path = tmp_path / name
        path.write_text("\n".join([heading, *lines]) + "\n", encoding="utf-8")
        return path

    return made


def test_a_clean_file_needs_nobody(tmp_path):
    path = tmp_path / "good.csv"
    write_sweep(path)
    seen = preview_file(path)
    assert not seen.needs_a_person
    assert seen.layout.encoding == "UTF-8"
    assert [item.column for item in seen.layout.columns][:3] == [
        Column.PLATE_VOLTAGE,
        Column.GRID_VOLTAGE,
        Column.PLATE_CURRENT,
    ]
    assert len(seen.reading.sweeps) == 1


def test_a_guess_that_changes_the_figures_needs_a_person_until_it_is_settled(write):
    path = write("positive.csv", "Vp (V),Vg (V),Ip", rows(sign=-1.0))
    seen = preview_file(path)
    assert [remark.code for remark in seen.weighty] == ["grid-sign"]
    (batch_file,) = to_look_at(characterize(Request((path,))))
    assert batch_file.path == str(path)
    settled = preview_file(path, ReadingChoices().corrected(grid_volts=GridVoltsSign.NEGATIVE))
    assert not settled.needs_a_person


def test_a_question_is_put_and_can_be_answered_by_a_unit(write):
    path = write("small.csv", "Vp (V),Vg (V),Ip", rows(scale=0.02))
    seen = preview_file(path)
    assert seen.reading is None and seen.needs_a_person
    assert "plate current in mA" in seen.ways
    assert to_look_at(characterize(Request((path,)))) == (path,)
    choice = ColumnChoice("Ip", Column.PLATE_CURRENT, MILLIAMPERE)
    assert preview_file(path, seen.choices.with_column(choice)).reading is not None


def test_rows_set_aside_are_shown_with_their_line_and_text(write):
    path = write("rows.csv", "Vp (V),Vg (V),Ip (mA)", [*rows(), "oops,-2,3", "150,-2,OL"])
    seen = preview_file(path)
    assert [(row.line, row.text) for row in seen.reading.set_aside] == [
        (14, "oops,-2,3"),
        (15, "150,-2,OL"),
    ]
    assert not seen.needs_a_person


def test_no_file_is_too_bad_to_be_shown(tmp_path):
    write_bad_files(tmp_path)
    paths = sorted(tmp_path.glob("*.csv"))
    told: list[int] = []
    found = preview_files(
        [(path, ReadingChoices()) for path in paths], lambda done, *_: told.append(done)
    )
    assert told == list(range(1, len(paths) + 1))
    refused = {Path(item.path).stem for item in found if item.reading is None}
    assert set(REFUSED) <= refused
    assert all(item.reason for item in found if item.reading is None)


def test_a_stop_keeps_what_was_done(write):
    files = [(write(f"{at}.csv", "Vp (V),Vg (V),Ip (mA)", rows()), ReadingChoices()) for at in "ab"]
    assert len(preview_files(files, should_stop=lambda: True)) == 1


def test_a_bad_choice_never_loses_the_others(write):
    path = write("a.csv", "Vp (V),Vg (V),Ip", rows())
    choices = ReadingChoices().corrected(type_name="6J5", decimal=",")
    bad = choices.with_column(ColumnChoice("Ip", None))
    seen = preview_file(path, bad)
    assert seen.reading is None and seen.choices == bad
    assert preview_file(path, bad.with_column(ColumnChoice("Ip", Column.PLATE_CURRENT))).reading


@pytest.mark.parametrize(
    ("heading", "scale", "sign"),
    [
        ("Vp,Vg,Ip", 1.0, 1.0),
        ("Vp,Vg,Ip", 1e-3, 1.0),
        ("Vp (V),Vg (V),Ip", 1.0, -1.0),
        ("chan 1,chan 2,chan 3", 1.0, 1.0),
        ("Vg (V),Vp (V),Ip (mA)", 1.0, 1.0),
    ],
    ids=["no units", "amperes", "positive grid", "strange headings", "exchanged"],
)
def test_what_was_guessed_and_is_then_chosen_gives_the_same_figures(write, heading, scale, sign):
    path = write("a.csv", heading, rows(scale, sign))
    guessed = preview_file(path)
    chosen = preview_file(path, settled(guessed))
    assert any(remark.guessed for remark in guessed.reading.remarks)
    assert not any(remark.guessed for remark in chosen.reading.remarks)
    for name in ("plate_voltage", "grid_voltage", "plate_current"):
        np.testing.assert_array_equal(
            getattr(chosen.reading.sweeps[0].readings, name),
            getattr(guessed.reading.sweeps[0].readings, name),
        )


def test_a_wide_table_and_a_grid_current_are_settled_too(write):
    steps = (-2, -4, -6)
    wide = [
        ",".join([f"{vp}", *(f"{max(vg + vp / 20, 0) ** 1.5:.3f}" for vg in steps)])
        for vp in (100, 150, 200, 250)
    ]
    path = write("wide.csv", "Vp (V),-2 V,-4 V,-6 V", wide)
    chosen = preview_file(path, settled(preview_file(path)))
    assert not any(remark.guessed for remark in chosen.reading.remarks)
    many = [(vp, vg) for vg in (-3.0, -4.0, -5.0, -6.0) for vp in (100, 150, 200, 250)]
    currents = [(vp, vg, max(vg + vp / 20, 0) ** 1.5) for vp, vg in many]
    logged = [f"{vp},{vg},{ip:.4f},{0.01 * ip:.6f}" for vp, vg, ip in currents]
    path = write("ig.csv", "Vp (V),Vg (V),Ip (mA),Ig (uA)", logged)
    guessed = preview_file(path)
    assert [remark.code for remark in guessed.weighty] == ["grid-current-sign"]
    chosen = preview_file(path, settled(guessed))
    assert not chosen.weighty
    assert chosen.reading.sweeps[0].readings.grid_current.max() <= 0
