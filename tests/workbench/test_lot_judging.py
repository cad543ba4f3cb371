"""Round trip: stored sweeps judged from their bytes come out as filed; refusal of other forms."""

from __future__ import annotations

import json

import pytest

from curvelab.assessment.assess import Settings
from curvelab.bench_check.correction import MeterCorrection, accept
from curvelab.catalog.records import TubeIdentity
from curvelab.errors import CatalogError, DocumentError
from curvelab.ingest.choices import NOTHING_CHOSEN
from curvelab.workbench.characterize import Request, settings_of
from curvelab.workbench.lot_file import Addition, add_to_lot, create_lot, list_lot, whole_lot
from curvelab.workbench.lot_judging import judge_stored, wishes_of
from curvelab.workbench.lot_records import settings_text
from curvelab.workbench.lot_rejudging import file_again, judge_filed_as, take_back_judging
from curvelab.workbench.session import Wish
from curvelab.workbench.stored_settings import request_of_settings
from helpers.sweeps import write_sweep

BENCH = """
name = "bench in the back room"
[plate_current]
gain_pct = 0.5
offset_ma = 0.02
resolution_ma = 0.01
"""
GAIN = MeterCorrection(
    "plate_current", "bench", factor=1.02, factor_u95=0.004, evidence=("a" * 64,)
)


@pytest.fixture
def bench(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH, encoding="utf-8")
    return path


@pytest.fixture
def lot(tmp_path):
    path = tmp_path / "spring.lot"
    create_lot(path)
    return path


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"type_name": "6J5", "at": (200.0, -6.0), "predict": ((220.0, -7.0),)},
        {"reference": "6J5"},
        {"corrections": (accept(GAIN, "Ada", "2031-03-20"),)},
    ],
)
def test_what_was_filed_comes_out_again(lot, bench, tmp_path, asked):
    request = Request((write_sweep(tmp_path / "A17.csv"),), bench=bench, **asked)
    filed = add_to_lot(lot, Addition(request)).batch.assessments[0]
    (again,) = judge_stored(lot, list_lot(lot).tubes).assessments
    for name in ("plate_current", "transconductance", "plate_resistance", "amplification_factor"):
        then, now = getattr(filed.constants, name), getattr(again.constants, name)
        assert now.value == pytest.approx(then.value, rel=1e-12)
        assert now.u95 == pytest.approx(then.u95, rel=1e-9)
    assert again.type_name == filed.type_name
    assert again.bench == filed.bench
    assert again.verdict is filed.verdict
    assert again.predictions == filed.predictions


def test_two_files_of_one_name_stay_two(lot, tmp_path):
    for number, folder in enumerate(("monday", "tuesday")):
        (tmp_path / folder).mkdir()
        path = write_sweep(tmp_path / folder / "A.csv", seed=number)
        text = path.read_text(encoding="utf-8").replace("# tube: A", f"# tube: A{number}")
        path.write_text(text, encoding="utf-8")
        add_to_lot(lot, Addition(Request((path,)), TubeIdentity("", lot=folder)))
    judged = judge_stored(lot, list_lot(lot).tubes).assessments
    assert len({item.sweep.source.path for item in judged}) == 2
    assert {item.sweep.source.name for item in judged} == {"A.csv"}


def test_how_it_was_judged_reads_back():
    request = Request((), type_name="2A3", answers=("current in A",), predict=((1.0, -2.0),),
                      corrections=(accept(GAIN, "Ada", "2031-03-20"),))  # fmt: skip
    settings = settings_of(request)
    read = request_of_settings(
        settings_text(settings, request, NOTHING_CHOSEN.corrected(decimal=","))
    )
    assert read.meters == settings.bench
    assert (read.type_name, read.answers, read.predict) == ("2A3", request.answers, request.predict)
    assert read.corrections == request.corrections


@pytest.mark.parametrize(
    "change",
    [
        {"bench": None},
        {"bench": {"name": "x", "assumed": True}},
        {"at": 3},
        {"corrections": [{"correction": {"meter": "plate_current"}}]},
        {"type": 5},
        {"reading": {"encoding": "cp999"}},
        {"reading": 3},
    ],
)
def test_settings_of_another_form_are_refused(change):
    text = settings_text(Settings(), Request(()), NOTHING_CHOSEN)
    with pytest.raises(DocumentError):
        request_of_settings(json.dumps({**json.loads(text), **change}))


def judgings(path) -> list[str]:
    return [
        judging.figures.type_name
        for tube in whole_lot(path).tubes
        for measurement in tube.measurements
        for judging in measurement.characterisations
    ]


def test_a_tube_judged_otherwise_keeps_bench_and_corrections_and_can_be_taken_back(
    lot, bench, tmp_path
):
    request = Request(
        (write_sweep(tmp_path / "A17.csv"),),
        bench=bench,
        corrections=(accept(GAIN, "Ada", "2031-03-20"),),
    )
    filed = add_to_lot(lot, Addition(request)).batch.assessments[0]
    done = judge_filed_as(lot, list_lot(lot).tubes, Wish(judged_as="6J5"))
    (again,) = done.assessments
    assert (again.type_name, again.bench) == ("6J5", filed.bench)
    assert again.constants.plate_current.value == pytest.approx(
        filed.constants.plate_current.value, rel=1e-9
    )
    assert judgings(lot) == ["6SN7GTB", "6J5"]
    (stored,) = judge_stored(lot, list_lot(lot).tubes).assessments
    assert stored.type_name == "6J5"
    assert set(wishes_of(lot, list_lot(lot).tubes).values()) == {Wish(judged_as="6J5")}
    take_back_judging(lot, done.filed)
    assert judgings(lot) == ["6SN7GTB"]
    file_again(lot, done.filed)
    later = judge_filed_as(lot, list_lot(lot).tubes, Wish(compared_with="6J5"))
    assert judgings(lot) == ["6SN7GTB", "6J5", "6SN7GTB"]
    with pytest.raises(CatalogError, match="judged again since"):
        take_back_judging(lot, done.filed)
    assert judgings(lot) == ["6SN7GTB", "6J5", "6SN7GTB"]
    assert later.filed


def test_a_judging_that_is_stopped_files_nothing(lot, tmp_path):
    paths = tuple(write_sweep(tmp_path / f"A{number}.csv", seed=number) for number in (17, 18))
    add_to_lot(lot, Addition(Request(paths)))
    done = judge_filed_as(lot, list_lot(lot).tubes, Wish(judged_as="6J5"), should_stop=lambda: True)
    assert done.stopped
    assert judgings(lot) == ["6SN7GTB", "6SN7GTB"]
