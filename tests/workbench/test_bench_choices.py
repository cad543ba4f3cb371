"""Round trip and refusal: how a bench writes its files, kept in its description."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curvelab.catalog.listing import list_tubes, tube_history
from curvelab.catalog.lot_file import open_lot
from curvelab.errors import BenchDescriptionError
from curvelab.ingest.choices import (
    CONNECTIONS,
    NOTHING_CHOSEN,
    ColumnChoice,
    GridCurrentSign,
    GridVoltsSign,
    ReadingChoices,
)
from curvelab.ingest.decode import ENCODINGS
from curvelab.ingest.headings import Column
from curvelab.paths import user_data_folder
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, VOLT
from curvelab.workbench.bench_choices import (
    choices_of_stored,
    choices_text,
    read_choices,
    stored_choices,
    with_choices,
)
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.kept_benches import bench_folder, keep_choices, kept_benches
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot

WORDS = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), max_size=30)
TEXTS = WORDS.map(str.strip).filter(bool)
UNITS = {"voltage": VOLT, "current": MILLIAMPERE}
COLUMNS = st.builds(
    lambda heading, column, with_unit: ColumnChoice(
        heading,
        column,
        UNITS.get(str(column.dimension)) if column is not None and with_unit else None,
    ),
    TEXTS,
    st.one_of(st.none(), st.sampled_from(list(Column))),
    st.booleans(),
)
CHOICES = st.builds(
    ReadingChoices,
    name=st.just("b"),
    encoding=st.one_of(st.none(), st.sampled_from(list(ENCODINGS))),
    decimal=st.sampled_from([None, ".", ","]),
    columns=st.lists(COLUMNS, max_size=4).map(tuple),
    step_unit=st.sampled_from([None, MILLIAMPERE, MICROAMPERE]),
    grid_volts=st.sampled_from([None, *GridVoltsSign]),
    grid_current=st.sampled_from([None, *GridCurrentSign]),
    type_name=st.one_of(st.none(), TEXTS),
    connection=st.sampled_from([None, *CONNECTIONS]),
    answers=st.lists(TEXTS, max_size=2).map(tuple),
)
METERS = """\
name = "back room"  # by the window

[plate_current]
gain_pct = 0.5
"""


@given(CHOICES)
def test_what_is_written_is_read_back_the_same(choices):
    table = tomllib.loads(choices_text(choices))["reading"]
    assert read_choices("b", table) == choices


@given(CHOICES, CHOICES)
def test_meters_and_comments_outlive_any_change_of_the_choices(first, second):
    text = with_choices(with_choices(METERS, first), second)
    assert text.startswith(METERS.strip())
    content = tomllib.loads(text)
    assert content["plate_current"] == {"gain_pct": 0.5}
    assert read_choices("b", content["reading"]) == second


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("reading = 3", "must be a table"),
        ("[reading]\ncolour = 1", "no key 'colour'"),
        ('[reading]\nencoding = "cp999"', "wanted one of: UTF-8"),
        ('[reading]\ndecimal = ";"', "reading.decimal"),
        ('[reading]\nstep_unit = "V"', "a unit of current"),
        ('[reading]\ngrid_volts = "odd"', "as written"),
        ("[reading]\ngrid_current = 1", "reverse positive"),
        ('[reading]\ntype = ""', "must be a text"),
        ('[reading]\nanswers = "x"', "a list of texts"),
        ('[reading]\ncolumns = ["x"]', "must be tables"),
        ('[[reading.columns]]\nheading = "x"\nholds = "tea"', "plate voltage"),
        ('[[reading.columns]]\nholds = "time"', "columns.heading"),
        ('[[reading.columns]]\nheading = "x"\nholds = "time"\nunit = "V"', "a unit of time"),
        ('[[reading.columns]]\nheading = "x"\nholds = "nothing"\nunit = "V"', "of nothing"),
        ('[[reading.columns]]\nheading = "x"\nholds = "time"\ncolour = 1', "no key 'colour'"),
    ],
)
def test_a_description_that_cannot_be_is_refused_with_file_and_key(tmp_path, text, said):
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BenchDescriptionError, match=said) as caught:
        load_description(path)
    assert str(path) in str(caught.value)


def test_a_description_without_meters_states_no_accuracy(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text('name = "b"\n[reading]\ndecimal = ","\n', encoding="utf-8")
    found = load_description(path)
    assert (found.bench.name, found.bench.assumed) == ("b", True)
    path.write_text(METERS + "[reading]\n", encoding="utf-8")
    found = load_description(path)
    assert not found.bench.assumed
    assert found.choices == ReadingChoices(name="back room")
    assert load_description(None).choices == NOTHING_CHOSEN


def test_a_kept_description_is_found_by_its_name_and_reads_files(tmp_path):
    columns = (
        ColumnChoice("A", Column.PLATE_VOLTAGE, VOLT),
        ColumnChoice("B", Column.GRID_VOLTAGE, VOLT),
        ColumnChoice("C", Column.PLATE_CURRENT, MILLIAMPERE),
    )
    path = keep_choices("Back room / left", ReadingChoices().corrected(columns=columns))
    assert path.parent == bench_folder() == user_data_folder() / "benches"
    (kept,) = kept_benches()
    assert (kept.name, kept.path, kept.problem) == ("Back room / left", path, None)
    assert not load_description(path).choices.overrules
    sweep = tmp_path / "odd.csv"
    readings = [(vp, vg, max(vg + vp / 20, 0) ** 1.5) for vg in (-2, -4) for vp in (100, 200)]
    rows = [f"{vp},{vg},{ip:.4f},7" for vp, vg, ip in readings]
    sweep.write_text("\n".join(["A,B,C,D", *rows]) + "\n", encoding="utf-8")
    assert characterize(Request((sweep,))).errors
    batch = characterize(Request((sweep,), bench=path))
    assert not batch.errors
    (assessment,) = batch.assessments
    assert assessment.sweep.readings.plate_current.max() == pytest.approx(0.0226, rel=0.01)
    assert (assessment.bench.name, assessment.bench.assumed) == ("Back room / left", True)


def test_the_choices_of_one_file_go_before_the_bench_s(tmp_path):
    path = keep_choices("b", ReadingChoices(type_name="6J5"))
    sweep = tmp_path / "a.csv"
    rows = [f"{vp},-2,{vp / 20:.3f}" for vp in (100, 150, 200, 250)]
    sweep.write_text("\n".join(["Vp (V),Vg (V),Ip (mA)", *rows]) + "\n", encoding="utf-8")
    own = ((str(sweep), ReadingChoices().corrected(type_name="6SN7GTB")),)
    types = [
        characterize(request).assessments[0].sweep.type_label
        for request in (Request((sweep,), bench=path), Request((sweep,), bench=path, read_as=own))
    ]
    assert types == ["6J5", "6SN7GTB"]


def test_the_same_name_keeps_its_file_and_another_gets_its_own():
    first = keep_choices("a b", ReadingChoices(decimal=","))
    assert keep_choices("A B", ReadingChoices(decimal=".")) == first
    assert load_description(first).choices.decimal == "."
    assert keep_choices("a-b", ReadingChoices()) != first
    assert [item.name for item in kept_benches()] == ["a b", "a-b"]


def test_a_damaged_description_is_listed_with_its_reason_and_never_written_over():
    path = keep_choices("mine", ReadingChoices(decimal=","))
    path.write_text("name = [", encoding="utf-8")
    (kept,) = kept_benches()
    assert kept.name == "mine" and "not a TOML file" in kept.problem
    with pytest.raises(BenchDescriptionError, match="not a TOML file"):
        keep_choices("mine", ReadingChoices())
    assert path.read_text(encoding="utf-8") == "name = ["


@pytest.mark.parametrize("name", ["", "  ", "x" * 61, "a\nb"])
def test_a_name_that_is_none_is_refused(name):
    with pytest.raises(BenchDescriptionError, match="cannot be a bench's name"):
        keep_choices(name, ReadingChoices())
    assert not bench_folder().exists()


@given(CHOICES)
def test_choices_are_kept_in_a_lot_file_as_they_are(choices):
    person = choices.corrected(type_name="6J5", decimal=None)
    for one in (choices, person):
        assert choices_of_stored(json.loads(json.dumps(stored_choices(one)))) == one


def test_a_lot_file_keeps_how_each_file_was_read(tmp_path):
    lot = tmp_path / "box.lot"
    create_lot(lot)
    rows = [f"{vp},-2,{vp / 20:.3f}" for vp in (100, 150, 200, 250)]
    paths = [tmp_path / "a.csv", tmp_path / "b.csv"]
    for at, path in enumerate(paths):
        path.write_text(
            "\n".join(["Vp (V),Vg (V),Ip (mA)", *rows, f"# note: {at}"]) + "\n", encoding="utf-8"
        )
    own = ((str(paths[1]), ReadingChoices().corrected(type_name="6SN7GTB")),)
    bench = keep_choices("b", ReadingChoices(type_name="6J5"))
    added = add_to_lot(lot, Addition(Request(tuple(paths), bench=bench, read_as=own)))
    assert not added.batch.errors
    with open_lot(lot, write=False) as opened:
        settings = {
            tube.identity.serial: json.loads(first.settings)["reading"]
            for tube in list_tubes(opened)
            for first in tube_history(opened, tube.key).measurements[0].characterisations
        }
    assert settings["a"] == {"name": "b", "overrules": [], "type": "6J5"}
    assert settings["b"] == {"name": "", "overrules": ["type_name"], "type": "6SN7GTB"}
