"""Behaviour: corrections and the bench in force reach the files they are meant for, and stay."""

from __future__ import annotations

from pathlib import Path

import pytest

from curvelab.errors import BenchDescriptionError
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.intake import Intake
from curvelab.workbench.kept_benches import keep_choices
from curvelab.workbench.session import Session, Wish


@pytest.fixture
def sweep(tmp_path) -> Path:
    path = tmp_path / "a.csv"
    rows = [f"{vp},{vg},{max(vg + vp / 20, 0) ** 1.5:.4f}" for vg in (-2, -4) for vp in (100, 200)]
    path.write_text("\n".join(["Vp (V),Vg (V),Ip (mA)", *rows]) + "\n", encoding="utf-8")
    return path


def opened(intake: Intake, *paths: Path):
    request = intake.prepared(Request(paths))
    batch = characterize(request)
    intake.note(request, batch)
    return batch


def test_the_bench_in_force_reads_what_is_opened_next(sweep):
    intake = Intake()
    intake.use_bench(keep_choices("b", ReadingChoices(type_name="6J5")))
    assert opened(intake, sweep).assessments[0].sweep.type_label == "6J5"
    intake.use_bench(None)
    assert opened(intake, sweep).assessments[0].sweep.type_label is None


def test_a_tube_is_judged_anew_with_the_bench_it_was_read_with(sweep):
    intake, session = Intake(), Session()
    bench = keep_choices("b", ReadingChoices(type_name="6J5"))
    intake.use_bench(bench)
    (key,) = session.take_in(opened(intake, sweep))
    intake.use_bench(keep_choices("c", ReadingChoices(type_name="6SN7GTB")))
    sweep.unlink()
    request = intake.prepared_again(session.request_for([key], Wish()))
    assert request.bench == bench
    batch = characterize(request)
    assert not batch.errors
    assert batch.assessments[0].sweep.type_label == "6J5"
    session.replace([key], batch, Wish())
    assert session.readings[str(sweep)].name == "b"


def test_a_correction_goes_before_any_bench_and_outlives_a_bad_file(sweep):
    intake = Intake()
    mine = NOTHING_CHOSEN.corrected(type_name="6J5")
    intake.correct(str(sweep), mine)
    good = sweep.read_bytes()
    sweep.write_bytes(b"\x00\x01")
    assert opened(intake, sweep).errors
    intake.use_bench(keep_choices("b", ReadingChoices(type_name="6SN7GTB")))
    sweep.write_bytes(good)
    assert opened(intake, sweep).assessments[0].sweep.type_label == "6J5"
    assert intake.choices_of(str(sweep)) == mine and intake.is_corrected(str(sweep))


def test_a_description_that_cannot_be_read_leaves_the_one_in_force(tmp_path):
    intake = Intake()
    bench = keep_choices("b", ReadingChoices())
    intake.use_bench(bench)
    with pytest.raises(BenchDescriptionError):
        intake.use_bench(tmp_path / "gone.toml")
    assert intake.bench == bench


def test_an_answer_is_kept_beside_the_other_choices(sweep):
    intake = Intake()
    intake.correct(str(sweep), NOTHING_CHOSEN.corrected(type_name="6J5"))
    intake.answer(str(sweep), "plate current in mA")
    found = intake.choices_of(str(sweep))
    assert (found.type_name, found.answers) == ("6J5", ("plate current in mA",))
