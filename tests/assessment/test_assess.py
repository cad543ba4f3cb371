"""Behaviour: one tube from readings to verdict, on simulated sweeps and the shipped library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import Settings, assess
from curvelab.errors import UnknownTypeError
from curvelab.fitting.records import Outcome
from curvelab.health.records import FindingCode, Verdict
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.sweep.bench import Bench as Meters
from curvelab.sweep.bench import MeterAccuracy
from curvelab.sweep.records import Conditions, Sweep, SweepKind
from simulator.bench import Bench, run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import SimulatedTube, healthy_tube


@pytest.fixture(scope="module")
def library():
    return family_library(load_library())


def tube(name: str = "6SN7GTB", seed: int = 3) -> SimulatedTube:
    return healthy_tube(name, np.random.default_rng(seed))


def sweep(which: SimulatedTube, seed: int = 1, **fields: object) -> Sweep:
    swept = run_sweep(which, usual_plan(which), Bench(), np.random.default_rng(seed))
    return replace(as_sweep(swept), **fields)


@pytest.fixture(scope="module")
def healthy(library):
    return assess([sweep(tube())], library)[0]


def test_a_healthy_tube_has_all_and_passes(healthy):
    assert healthy.verdict is Verdict.ACCEPT
    assert healthy.operating_point.origin == "handbook"
    assert healthy.tube_type.name == healthy.type_name == "6SN7GTB"
    assert (healthy.comparison.type_name, healthy.comparison.why) == ("6SN7GTB", "same")
    assert healthy.drift is None
    assert healthy.family_constants.plate_current.value == pytest.approx(
        9e-3
    )  # as the handbook prints it


@pytest.mark.parametrize("name", ["6SN7GTB", "12AX7", "300B"])
def test_the_constants_are_the_simulated_tubes_own(library, name):
    which = tube(name)
    (found,) = assess([sweep(which)], library)
    at = (found.operating_point.plate_voltage, found.operating_point.grid_voltage)
    for constant, true, share in (
        (found.constants.plate_current, which.current(*at), 0.01),
        (found.constants.transconductance, which.gm(*at), 0.03),
        (found.constants.plate_resistance, which.rp(*at), 0.03),
        (found.constants.amplification_factor, which.mu(*at), 0.03),
    ):
        assert constant.value == pytest.approx(float(true), rel=share)


def test_a_type_the_library_does_not_hold_is_no_error_and_compares_with_nothing(library):
    (found,) = assess([sweep(tube(), type_label="ZZ99")], library)
    assert (found.tube_type, found.type_name) == (None, "ZZ99")
    assert found.reference is found.comparison is found.family_constants is None
    assert found.operating_point.origin == "sweep"
    assert found.constants.plate_current.value is not None


def test_a_stand_in_lends_its_family_and_keeps_the_tubes_own_type(library):
    (found,) = assess([sweep(tube())], library, Settings(reference="6J5"))
    assert found.tube_type.name == "6SN7GTB"
    assert (found.comparison.type_name, found.comparison.why) == ("6J5", "stand-in")
    (stranger,) = assess([sweep(tube(), type_label="ZZ99")], library, Settings(reference="6J5"))
    assert (stranger.tube_type, stranger.comparison.why) == (None, "stand-in")
    assert stranger.reference.type_name == "6J5"


def test_the_tubes_own_type_as_reference_is_no_stand_in(library):
    (found,) = assess([sweep(tube())], library, Settings(reference="6SN7GTB"))
    assert found.comparison.why == "same"


def test_the_type_asked_for_overrules_the_label(library):
    (found,) = assess([sweep(tube())], library, Settings(type_name="12AU7"))
    assert found.tube_type.name == "12AU7"
    assert found.sweep.type_label == "6SN7GTB"


@pytest.mark.parametrize("settings", [Settings(type_name="ZZ99"), Settings(reference="ZZ99")])
def test_an_unknown_type_that_is_asked_for_is_an_error(library, settings):
    with pytest.raises(UnknownTypeError, match="ZZ99"):
        assess([sweep(tube())], library, settings)


def test_a_point_outside_the_sweep_gives_nulls_with_reasons(library):
    (found,) = assess([sweep(tube())], library, Settings(at=(900.0, -40.0)))
    assert found.operating_point.origin == "given"
    for constant in (found.constants.plate_current, found.constants.amplification_factor):
        assert constant.value is None
        assert constant.reason


def test_predictions_say_where_they_extrapolate(library):
    which = tube()
    (found,) = assess([sweep(which)], library, Settings(predict=((200.0, -6.0), (600.0, -30.0))))
    inside, outside = found.predictions
    assert (inside.extrapolated, outside.extrapolated) == (False, True)
    assert inside.plate_current == pytest.approx(float(which.current(200.0, -6.0)), rel=0.02)


def test_a_described_bench_widens_the_uncertainty(library):
    accuracy = Meters("lab", False, plate_current=MeterAccuracy(gain=0.02))
    bare, known = (
        assess([sweep(tube())], library, settings)[0]
        for settings in (Settings(), Settings(bench=accuracy))
    )
    assert (bare.bench.assumed, known.bench.assumed, known.bench.name) == (True, False, "lab")
    current, wider = bare.constants.plate_current, known.constants.plate_current
    assert wider.value == current.value
    # 2 % as a rectangular limit is 1.15 % standard, about 2.3 % expanded.
    assert wider.u95 / wider.value == pytest.approx(2 * 0.02 / 3**0.5, rel=0.15)


def test_the_bench_that_a_file_names_is_told_unless_a_description_is_given(library):
    named = sweep(tube(), bench=Meters("back room", True))
    (found,) = assess([named], library)
    assert (found.bench.name, found.bench.assumed) == ("back room", True)
    (found,) = assess([named], library, Settings(bench=Meters("lab", False)))
    assert found.bench.name == "lab"
    stated = Meters("back room", False, plate_current=MeterAccuracy(gain=0.02))
    (wider,) = assess([replace(named, bench=stated)], library)
    assert (wider.bench.name, wider.bench.origin) == ("back room", "the file")
    assert wider.constants.plate_current.u95 > 3 * found.constants.plate_current.u95


def test_sections_of_one_tube_are_judged_together(library):
    weak = replace(tube(), law=replace(tube().law, perveance=0.5 * tube().law.perveance))
    pair = [sweep(tube(), section="1"), sweep(weak, 2, section="2")]
    for found in assess(pair, library):
        assert FindingCode.SECTION_IMBALANCE in {item.code for item in found.findings}
    apart = [replace(pair[0], tube="A"), replace(pair[1], tube="B")]
    for found in assess(apart, library):
        assert FindingCode.SECTION_IMBALANCE not in {item.code for item in found.findings}


def test_one_section_read_twice_is_no_pair(library):
    twice = [sweep(tube(), section="1"), sweep(tube(), 2, section="1")]
    for found in assess(twice, library):
        assert FindingCode.SECTION_IMBALANCE not in {item.code for item in found.findings}


def test_a_tube_wired_as_a_pentode_is_not_measured_by_a_triodes_law(library):
    wired = sweep(tube(), conditions=Conditions(connection="pentode"))
    (found,) = assess([wired], library)
    assert found.constants.plate_current.outcome is Outcome.NOT_MEASURED
    assert found.verdict is Verdict.HOLD


def test_a_sweep_without_a_reading_says_so(library):
    nothing = sweep(tube())
    nothing = replace(nothing, readings=nothing.readings.take(np.zeros(0, dtype=int)))
    (found,) = assess([nothing], library)
    assert found.operating_point is None
    assert found.constants.plate_current.value is None
    assert found.constants.plate_current.reason
    assert found.verdict is Verdict.HOLD


def test_each_sweep_keeps_its_place_and_judges_as_alone(library):
    lot = [sweep(tube(name), tube=name) for name in ("12AX7", "6SN7GTB", "300B")]
    together = assess(lot, library)
    assert [item.sweep.tube for item in together] == [item.tube for item in lot]
    for found, one in zip(together, lot, strict=True):
        (alone,) = assess([one], library)
        assert found.verdict is alone.verdict
        assert found.constants.plate_current.value == pytest.approx(
            alone.constants.plate_current.value, rel=1e-4
        )


def test_curves_have_no_drift(healthy):
    assert healthy.sweep.kind is SweepKind.CURVES
    assert healthy.drift is None
