"""Behaviour and identity: corrections of a meter, accepted by a person, applied to readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.bench_check.correction import (
    MeterCorrection,
    accept,
    apply_correction,
    bench_after,
    corrections_of,
)
from curvelab.errors import BenchCheckError
from curvelab.ingest import read_file
from curvelab.ingest.own_form import write_sweep
from curvelab.sweep.bench import UNSTATED_BENCH, Bench, MeterAccuracy
from curvelab.sweep.records import RemarkCode
from simulator.bench import Bench as Meters
from simulator.bench import run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

TUBE = healthy_tube("6SN7GTB", np.random.default_rng(4))
GAIN = MeterCorrection("plate_current", "back room", factor=0.98, factor_u95=0.004, reason="so")


def swept(**bench: float):
    plan = replace(usual_plan(TUBE), grid_current=True)
    return as_sweep(run_sweep(TUBE, plan, Meters(**bench), np.random.default_rng(8)))


def accepted(correction: MeterCorrection = GAIN):
    return accept(correction, "Ada", "2024-05-17")


def test_a_meter_that_was_off_reads_as_the_one_that_was_not():
    true = swept(noise=0, floor=0)
    off = swept(noise=0, floor=0, gain=0.03, offset=4e-5)
    found = apply_correction(
        off,
        accepted(MeterCorrection("plate_current", "b", factor=1 / 1.03, offset=4e-5)),
    )
    np.testing.assert_allclose(
        found.readings.plate_current, true.readings.plate_current, rtol=1e-9, atol=1e-12
    )
    assert found.readings.grid_current is not None
    np.testing.assert_array_equal(found.readings.grid_current, off.readings.grid_current)


def test_a_leaking_lead_is_taken_off_by_the_volts():
    found = apply_correction(
        swept(), accepted(MeterCorrection("plate_current", "b", conductance=1e-7))
    )
    np.testing.assert_allclose(
        found.readings.plate_current,
        swept().readings.plate_current - 1e-7 * swept().readings.plate_voltage,
    )


def test_the_original_stays_and_the_sweep_says_what_was_done():
    before = swept()
    found = apply_correction(before, accepted())
    assert found.source is before.source
    assert before.readings.plate_current[3] != found.readings.plate_current[3]
    assert found.has_remark(RemarkCode.CORRECTED)
    assert corrections_of(found) == (GAIN.identity,)
    assert "accepted by Ada, 2024-05-17" in found.remarks[-1].text


def test_the_same_correction_is_applied_once_and_another_of_its_meter_never():
    once = apply_correction(swept(), accepted())
    assert apply_correction(once, accepted()) is once
    with pytest.raises(BenchCheckError, match="corrected otherwise"):
        apply_correction(once, accepted(replace(GAIN, factor=0.97)))
    grid = accepted(MeterCorrection("grid_current", "back room", offset=1e-7))
    both = apply_correction(once, grid)
    np.testing.assert_allclose(
        both.readings.grid_current, once.readings.grid_current - 1e-7, atol=1e-15
    )


def test_an_exported_sweep_still_tells(tmp_path):
    path = tmp_path / "S.csv"
    corrected = apply_correction(swept(), accepted())
    path.write_text(write_sweep(corrected), encoding="utf-8")
    (again,) = read_file(path).sweeps
    assert corrections_of(again) == (GAIN.identity,)
    np.testing.assert_array_equal(again.readings.plate_current, corrected.readings.plate_current)
    with pytest.raises(BenchCheckError):
        apply_correction(again, accepted(replace(GAIN, factor=0.97)))


def test_the_drop_in_the_leads_is_taken_again(tmp_path):
    path = tmp_path / "R.csv"
    path.write_text(
        "# plate resistor: 1000 ohm\n# cathode resistor: 100 ohm\nplate_v,grid_v,plate_ma\n"
        "100,-1,5\n200,-1,10\n250,-1,12\n",
        encoding="utf-8",
    )
    (sweep,) = read_file(path).sweeps
    found = apply_correction(sweep, accepted()).readings
    true = np.array([5e-3, 10e-3, 12e-3]) * 0.98
    np.testing.assert_allclose(found.plate_voltage, [100, 200, 250] - 1100 * true)
    np.testing.assert_allclose(found.grid_voltage, -1 - 100 * true)


def test_a_sweep_without_that_meter_is_left_as_it_is():
    sweep = as_sweep(run_sweep(TUBE, usual_plan(TUBE), Meters(), np.random.default_rng(8)))
    grid = accepted(MeterCorrection("grid_current", "back room", offset=1e-7))
    assert apply_correction(sweep, grid) is sweep


def test_the_uncertainty_of_a_correction_joins_the_meters():
    bench = Bench("b", False, plate_current=MeterAccuracy(gain=0.005))
    found = bench_after(bench, accepted())
    # 0.4 % at 95 % is 0.2 % standard: a rectangle of half-width 0.2 % times root three.
    assert found.plate_current.gain == pytest.approx(np.hypot(0.005, 0.002 * 3**0.5))
    assert found.grid_current == bench.grid_current
    assert bench_after(UNSTATED_BENCH, accepted()).plate_current.gain > 0


def test_its_words_have_no_double_negative():
    assert replace(GAIN, offset=-9e-8, factor=1.0).words == "plate current plus 0.09000 µA"
    assert replace(GAIN, offset=2e-5, factor=1.0).words == "plate current less 20.00 µA"


def test_only_a_person_accepts():
    with pytest.raises(BenchCheckError, match="person"):
        accept(GAIN, "  ", "2024-05-17")
    with pytest.raises(BenchCheckError, match="ISO 8601"):
        accept(GAIN, "Ada", "May")


def test_an_identity_stands_for_the_numbers_and_not_for_the_words():
    assert GAIN.identity == replace(GAIN, reason="otherwise").identity
    assert GAIN.identity != replace(GAIN, factor=0.981).identity
    assert GAIN.identity != replace(GAIN, meter="grid_current").identity


@pytest.mark.parametrize(
    "wrong",
    [{"meter": "heater"}, {"factor": 0.1}, {"factor": 3.0}, {"offset": np.nan}],
)
def test_a_senseless_correction_is_refused(wrong):
    with pytest.raises(BenchCheckError):
        replace(GAIN, **wrong)
