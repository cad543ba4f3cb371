"""Round trip and refusal: a simulated bench on many days, from files to the standing.

The tubes and the bench are invented and seeded; what the bench does wrong is known exactly.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.bench_check.correction import accept
from curvelab.bench_check.history import compare_golden
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.movers import Cause
from curvelab.bench_check.records import GoldenReading, Standing
from curvelab.bench_check.resistor import ResistorOutcome, ResistorStandard
from curvelab.bench_check.verdict import BenchStanding
from curvelab.errors import BenchCheckError, BenchDescriptionError
from curvelab.sheets.bench_check_json import agreement_records, bench_check_document
from curvelab.sheets.bench_check_text import bench_check_lines
from curvelab.sheets.bench_records import reading_from_record, reading_record
from curvelab.workbench.bench_check import (
    CheckRequest,
    CheckResult,
    check_bench,
    load_check_limits,
)
from curvelab.workbench.characterize import Request, characterize
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.files import long_text
from simulator.sockets import empty_socket_text, resistor_text
from simulator.tubes import healthy_tube

STANDARD = ResistorStandard(15e3, 0.001, 25.0)
TUBES = {
    name: healthy_tube("6SN7GTB", np.random.default_rng(seed))
    for seed, name in enumerate(("LAMP-1", "LAMP-2", "LAMP-3"), 40)
}
DAYS = 8


def sweep_file(folder: Path, name: str, seed: int, *, gain: float = 0.0, worn: float = 1.0) -> Path:
    """Write a golden tube's sweep as the bench takes it that day."""
    tube = TUBES[name]
    tube = replace(tube, law=replace(tube.law, perveance=tube.law.perveance * worn))
    plan = usual_plan(tube, plates=16, grids=6)
    rng = np.random.default_rng(seed)
    # From day to day the seat and the heater move a tube by a few parts in a thousand.
    bench = Bench(gain=(1 + gain) * (1 + rng.normal(0, 0.003)) - 1)
    path = folder / f"{name}.csv"
    text = long_text(run_sweep(tube, plan, bench, rng), tube=name)
    path.write_text(text, encoding="utf-8")
    return path


def day(folder: Path, number: int, history=(), names=tuple(TUBES), **wrong) -> CheckResult:
    """Measure the golden tubes on one day and check the bench by them."""
    here = folder / f"day-{number}"
    here.mkdir(exist_ok=True)
    worn = wrong.pop("worn", {})
    gain = wrong.pop("gain", 0.0)
    paths = tuple(
        sweep_file(here, name, 100 * number + place, gain=gain, worn=worn.get(name, 1.0))
        for place, name in enumerate(names)
    )
    return check_bench(
        CheckRequest(f"2024-03-{number:02d}", golden=paths, history=history, **wrong)
    )


@pytest.fixture(scope="module", name="history")
def fixture_history(tmp_path_factory) -> tuple[GoldenReading, ...]:
    """Return what eight quiet days leave in the history."""
    folder = tmp_path_factory.mktemp("days")
    kept: tuple[GoldenReading, ...] = ()
    for number in range(1, DAYS + 1):
        found = day(folder, number, kept).check
        assert found.golden.cause in (None, Cause.NOTHING)
        kept += found.golden.readings
    return kept


def test_quiet_days_count(history):
    assert len(history) == 3 * DAYS
    assert {reading.standing for reading in history} == {Standing.COUNTS}
    assert {reading.plate_voltage for reading in history} == {250.0}


def test_a_quiet_day_is_steady(history, tmp_path):
    result = day(tmp_path, 20, history)
    assert result.check.standing is BenchStanding.STEADY
    assert not result.errors
    assert not result.left_out


def test_a_shifted_ammeter_is_flagged_corrected_and_steady_again(history, tmp_path):
    shifted = day(tmp_path, 20, history, gain=0.04).check
    assert shifted.standing is BenchStanding.SHIFTED
    assert shifted.golden.cause is Cause.BENCH
    (suggested,) = shifted.suggestions
    assert abs(suggested.factor - 1 / 1.04) < suggested.factor_u95 + 0.003
    accepted = accept(suggested, "Ada", "2024-03-20")
    after = day(tmp_path, 20, history, gain=0.04, corrections=(accepted,)).check
    assert after.standing is BenchStanding.STEADY
    assert {reading.corrections for reading in after.golden.readings} == {(suggested.identity,)}


def test_a_batch_is_measured_through_an_accepted_correction(history, tmp_path):
    shifted = day(tmp_path, 20, history, gain=0.04).check
    accepted = accept(shifted.suggestions[0], "Ada", "2024-03-20")
    path = sweep_file(tmp_path, "LAMP-1", 7, gain=0.04)
    plain = characterize(Request((path,))).assessments[0]
    corrected = characterize(Request((path,), corrections=(accepted,))).assessments[0]
    ratio = corrected.constants.plate_current.value / plain.constants.plate_current.value
    assert ratio == pytest.approx(accepted.correction.factor, rel=2e-3)
    # The uncertainty of the correction is in that of the figure.
    before, after = (
        item.constants.plate_current.u95 / item.constants.plate_current.value
        for item in (plain, corrected)
    )
    own = accepted.correction.factor_u95 / accepted.correction.factor
    assert after == pytest.approx(np.hypot(before, own), rel=0.01)
    assert corrected.sweep.source.sha256 == plain.sweep.source.sha256
    assert any("corrected" in remark.text for remark in corrected.sweep.remarks)


def test_an_aged_tube_is_named_and_the_bench_stays_trusted(history, tmp_path):
    found = day(tmp_path, 20, history, worn={"LAMP-2": 0.92}).check
    assert found.golden.cause is Cause.TUBES
    assert found.golden.tubes == ("LAMP-2",)
    assert found.standing is BenchStanding.STEADY


def test_one_golden_tube_alone_cannot_tell(history, tmp_path):
    found = day(tmp_path, 20, history, names=("LAMP-1",), gain=0.04).check
    assert found.standing is BenchStanding.UNCLEAR
    assert "look the same" in " ".join(found.sentences)


def test_resistor_and_empty_socket_from_files(tmp_path):
    resistor, empty = tmp_path / "R.csv", tmp_path / "E.csv"
    rng = np.random.default_rng(2)
    resistor.write_text(resistor_text(15e3, rng, gain=1.02), encoding="utf-8")
    empty.write_text(empty_socket_text(rng, grid_zero=3e-7), encoding="utf-8")
    result = check_bench(
        CheckRequest("2024-03-20", resistor=resistor, standard=STANDARD, empty_socket=empty)
    )
    assert not result.errors
    assert result.check.resistor.outcome is ResistorOutcome.OFF
    assert result.check.empty_socket.clean is False
    plate, grid = result.check.suggestions
    assert plate.factor == pytest.approx(1 / 1.02, abs=0.002)
    assert grid.offset == pytest.approx(3e-7, abs=1e-8)
    corrections = tuple(accept(item, "Ada", "2024-03-20") for item in (plate, grid))
    after = check_bench(
        CheckRequest(
            "2024-03-20",
            resistor=resistor,
            standard=STANDARD,
            empty_socket=empty,
            corrections=corrections,
        )
    ).check
    assert after.resistor.outcome is ResistorOutcome.AGREES
    assert after.empty_socket.clean is True
    assert after.suggestions == ()


def test_a_resistor_file_without_units_is_read_by_what_the_resistor_is(tmp_path):
    path = tmp_path / "R.csv"
    rows = "".join(f"{volt},{volt / 15e3:.6f}\n" for volt in range(20, 301, 20))
    path.write_text("Vp,Ip\n" + rows, encoding="utf-8")
    check = check_bench(CheckRequest("2024-03-20", resistor=path, standard=STANDARD)).check
    assert check.resistor.gain.value == pytest.approx(1.0, abs=1e-3)


def test_a_rejected_golden_tube_takes_no_part_and_leaves_the_check_unclear(history, tmp_path):
    here = tmp_path / "shorted"
    here.mkdir()
    good = sweep_file(here, "LAMP-1", 1)
    bad = sweep_file(here, "LAMP-2", 2)
    bad.write_text("# shorts: grid to cathode\n" + bad.read_text("utf-8"), encoding="utf-8")
    result = check_bench(CheckRequest("2024-03-20", golden=(good, bad), history=history))
    assert result.left_out == ("LAMP-2: rejected: short",)
    assert result.check.standing is BenchStanding.UNCLEAR


def test_a_file_that_cannot_be_read_is_said_and_leaves_the_check_unclear(history, tmp_path):
    good = sweep_file(tmp_path, "LAMP-1", 1)
    missing = tmp_path / "missing.csv"
    result = check_bench(
        CheckRequest(
            "2024-03-20",
            golden=(good,),
            history=history,
            resistor=missing,
            standard=STANDARD,
        )
    )
    assert [error.file for error in result.errors] == [str(missing)]
    assert result.check.standing is BenchStanding.UNCLEAR
    assert any("missing.csv" in sentence for sentence in result.check.sentences)


def test_senseless_requests_are_refused(tmp_path):
    path = sweep_file(tmp_path, "LAMP-1", 1)
    with pytest.raises(BenchCheckError, match="go together"):
        check_bench(CheckRequest("2024-03-20", resistor=path))
    with pytest.raises(BenchCheckError, match="ISO 8601"):
        check_bench(CheckRequest("spring", golden=(path,)))


def test_two_benches_agree_or_not_by_their_golden_tubes(history, tmp_path):
    bench = tmp_path / "front.toml"
    bench.write_text('name = "front"\n[plate_current]\ngain_pct = 1.0\n', encoding="utf-8")
    same = day(tmp_path, 20, bench=bench).check.golden.readings
    off = day(tmp_path, 21, bench=bench, gain=0.08).check.golden.readings
    agreed = compare_golden(history, same, history, CheckLimits())
    assert len(agreed) == 6
    assert all(item.agree for item in agreed)
    currents = [
        item
        for item in compare_golden(history, off, history, CheckLimits())
        if item.quantity == "plate_current"
    ]
    assert [item.agree for item in currents] == [False] * 3
    assert {record["agree"] for record in agreement_records(agreed)} == {True}


def test_the_history_survives_its_records_to_the_last_digit(history):
    text = json.dumps([reading_record(reading) for reading in history])
    again = tuple(reading_from_record(record) for record in json.loads(text))
    for before, after in zip(history, again, strict=True):
        assert (
            replace(
                after,
                plate_current=before.plate_current,
                transconductance=before.transconductance,
            )
            == before
        )
        assert after.plate_current.value == pytest.approx(before.plate_current.value, rel=1e-14)


def test_the_document_is_json_and_says_what_the_check_says(history, tmp_path):
    resistor = tmp_path / "R.csv"
    resistor.write_text(resistor_text(15e3, np.random.default_rng(2)), encoding="utf-8")
    check = day(tmp_path, 20, history, gain=0.04, resistor=resistor, standard=STANDARD).check
    document = json.loads(json.dumps(bench_check_document(check), allow_nan=False))
    assert document["schema"] == "curvelab.bench-check/1"
    assert (document["standing"], document["trusted"]) == ("shifted", False)
    assert document["golden"]["cause"] == Cause.BENCH.value
    plate = document["golden"]["quantities"][0]
    assert plate["bench_shift_pct"] == pytest.approx(4.0, abs=1.0)
    assert len(plate["tubes"][0]["chart"]["values"]) == DAYS + 1
    assert document["resistor"]["gain"]["value"] == pytest.approx(1.0, abs=2e-3)
    text = "\n".join(bench_check_lines(check))
    for words in ("shifted", "the bench moved", "Do not trust", "lethal", "resistor"):
        assert words in text


def test_the_users_own_limits_go_first(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert load_check_limits().meter_gain.printed == 0.5
    own = tmp_path / "curvelab" / "bench_check.toml"
    own.parent.mkdir()
    own.write_text("meter_gain = 2.0\n", encoding="utf-8")
    assert load_check_limits().meter_gain.printed == 2.0
    assert load_check_limits().firm_history.printed == 20
    own.write_text("meter_gain = -1\n", encoding="utf-8")
    with pytest.raises(BenchDescriptionError, match="meter_gain must be above 0"):
        load_check_limits()
