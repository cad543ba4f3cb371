"""Closed form and behaviour: what a log at fixed bias says of a tube."""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.assessment import Settings, assess
from curvelab.fitting.records import Outcome
from curvelab.health.records import DriftBehaviour, FindingCode, Verdict
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.sweep.records import Readings, SourceFile, Sweep, SweepKind

SECONDS = np.arange(0.0, 900.0, 10.0)
NOISE = 2e-4


@pytest.fixture(scope="module")
def library():
    return family_library(load_library())


def log(course, *, size: int = SECONDS.size, type_label: str | None = "6SN7GTB") -> Sweep:
    """Return a log at 250 V, -8 V whose current is 9 mA times ``course`` of the time [s]."""
    time = SECONDS[:size]
    noise = 1 + NOISE * np.random.default_rng(5).standard_normal(size)
    readings = Readings(
        np.full(size, 250.0), np.full(size, -8.0), 9e-3 * course(time) * noise,
        np.arange(2, size + 2), time=time,
    )  # fmt: skip
    source = SourceFile("D1.csv", "D1.csv", "0" * 64, b"")
    return Sweep("D1", None, type_label, SweepKind.DRIFT_LOG, readings, source)


def judged(library, course, **fields):
    return assess([log(course, **fields)], library)[0]


def test_the_current_is_the_mean_of_the_last_tenth_with_students_factor(library):
    """Nine readings at the end: u95 is 2.306 s / 3 (Student's t for 8 degrees of freedom)."""
    found = judged(library, np.ones_like)
    last = log(np.ones_like).readings.plate_current[-9:]
    assert found.constants.plate_current.value == pytest.approx(last.mean())
    assert found.constants.plate_current.u95 == pytest.approx(
        2.306 * last.std(ddof=1) / 3, rel=1e-3
    )


def test_slopes_are_not_covered_by_a_log(library):
    constants = judged(library, np.ones_like).constants
    for constant in (
        constants.transconductance, constants.plate_resistance, constants.amplification_factor
    ):  # fmt: skip
        assert (constant.value, constant.outcome) == (None, Outcome.NOT_COVERED)


@pytest.mark.parametrize(
    ("course", "behaviour", "verdict"),
    [
        (np.ones_like, DriftBehaviour.STEADY, Verdict.ACCEPT),
        (lambda s: 1 - 0.05 * np.exp(-s / 100), DriftBehaviour.SETTLES, Verdict.ACCEPT),
        (lambda s: 1 - 0.08 * s / 900, DriftBehaviour.DRIFTS, Verdict.HOLD),
        (lambda s: 1 + 0.01 * np.expm1(s / 250), DriftBehaviour.RUNS_AWAY, Verdict.REJECT),
    ],
)
def test_behaviour_and_verdict(library, course, behaviour, verdict):
    found = judged(library, course)
    assert found.drift.behaviour is behaviour
    assert found.verdict is verdict
    assert found.comparison is None


def test_a_log_of_an_unknown_type_has_a_behaviour_and_no_limit(library):
    found = judged(library, lambda s: 1 + 0.01 * np.expm1(s / 250), type_label=None)
    assert found.drift.behaviour is DriftBehaviour.RUNS_AWAY
    assert found.drift.seconds_to_limit is None


def test_a_log_without_current_has_none(library):
    found = judged(library, lambda s: np.zeros_like(s))
    assert found.constants.plate_current.value is None
    assert found.constants.plate_current.outcome is Outcome.NO_CURRENT
    assert found.drift is None
    assert found.verdict is not Verdict.ACCEPT


@pytest.mark.parametrize("size", [1, 2])
def test_a_log_of_two_readings_has_too_few(library, size):
    found = judged(library, np.ones_like, size=size)
    assert found.constants.plate_current.outcome is Outcome.TOO_FEW
    assert FindingCode.NOT_COVERED in {item.code for item in found.findings}
    assert found.verdict is Verdict.HOLD


def test_the_band_is_the_houses(library):
    creep = lambda s: 1 - 0.03 * s / 900  # noqa: E731
    found = assess([log(creep)], library)[0]
    assert found.verdict is Verdict.HOLD
    wide = Settings(limits=Settings().limits.from_mapping({"drift_band": 5.0}))
    assert assess([log(creep)], library, wide)[0].verdict is Verdict.ACCEPT
