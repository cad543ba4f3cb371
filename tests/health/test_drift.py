"""Behaviour, round trip and refusal: what is said of logs whose course is known.

Currents, ratings and courses are invented; the rules are those of `curvelab.health.drift`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.health.drift import DRIFT_BAND, drift_findings, drift_report
from curvelab.health.limits import HOUSE_RULE
from curvelab.health.records import DriftBehaviour, FindingCode, Severity
from curvelab.health.set_points import split_at_set_points
from curvelab.reference.records import Figure, Rating, Status, TubeType
from curvelab.sweep.records import Readings, SourceFile, Sweep, SweepKind
from simulator.bench import Bench
from simulator.drift import DriftKind, random_log
from simulator.records import as_sweep
from simulator.tubes import healthy_tube

STEADY, SETTLES = DriftBehaviour.STEADY, DriftBehaviour.SETTLES
DRIFTS, RUNS_AWAY = DriftBehaviour.DRIFTS, DriftBehaviour.RUNS_AWAY
SHEET = "Invented sheet, first edition"
_TIME = np.arange(0.0, 903.0, 3.0)
_X = _TIME / _TIME[-1]


def make_log(current, time=_TIME, kind=SweepKind.DRIFT_LOG, **columns):
    size = np.size(time)
    given = {
        "plate_voltage": np.full(size, 250.0),
        "grid_voltage": np.full(size, -45.0),
        "plate_current": np.broadcast_to(current, size),
        "line": np.arange(2, size + 2),
        "time": time,
    }
    return Sweep("SOAK-1", None, None, kind, Readings(**{**given, **columns}),
                 SourceFile("soak.csv", "soak.csv", "0" * 64, b""))  # fmt: skip


def make_type(status=Status.VERIFIED, **limits):
    figures = {name: Figure(value, SHEET, status) for name, value in limits.items()}
    return TubeType("T", (), "triode", "direct", None, (), (), (Rating("design centre", figures),),
                    (), (), (), ())  # fmt: skip


def noisy(course, seed=1, noise=0.002):
    course = np.broadcast_to(course, _TIME.shape)
    return 0.06 * course * (1 + np.random.default_rng(seed).normal(0, noise, _TIME.size))


def growth(amount, scale, x=_X):
    return amount * np.expm1(x / scale) / np.expm1(1 / scale)


RUNAWAY = 1 + growth(0.3, 0.3)


# --- behaviour over many seeds: courses that are not all of the fitted shapes -------------


def _steady(rng, x):
    return 0 * x


def _inside(rng, x):
    return rng.choice((-1, 1)) * rng.uniform(0.002, 0.01) * x


def _settling(rng, x):
    return rng.choice((-1, 1)) * rng.uniform(0.03, 0.15) * np.exp(-x / rng.uniform(0.03, 0.3))


def _stretched(rng, x):
    return (
        rng.choice((-1, 1))
        * rng.uniform(0.03, 0.15)
        * np.exp(-((x / rng.uniform(0.05, 0.15)) ** rng.uniform(0.5, 0.8)))
    )


def _hyperbolic(rng, x):
    return rng.choice((-1, 1)) * rng.uniform(0.03, 0.15) / (1 + x / rng.uniform(0.02, 0.1))


def _creeping(rng, x):
    return rng.choice((-1, 1)) * rng.uniform(0.03, 0.1) * x


def _creeping_after_warm_up(rng, x):
    warm_up = rng.choice((-1, 1)) * rng.uniform(0.02, 0.08) * np.exp(-x / rng.uniform(0.03, 0.12))
    return warm_up + _creeping(rng, x)


def _falling_faster(rng, x):
    return -rng.uniform(0.04, 0.15) * x ** rng.uniform(1, 2)


def _growing(rng, x):
    return growth(rng.uniform(0.1, 0.6), rng.uniform(0.2, 0.7), x)


def _growing_by_power(rng, x):
    return rng.uniform(0.1, 0.6) * x ** rng.uniform(2, 4)


def _growing_after_warm_up(rng, x):
    warm_up = rng.choice((-1, 1)) * rng.uniform(0.02, 0.08) * np.exp(-x / rng.uniform(0.03, 0.12))
    return warm_up + _growing(rng, x)


def _blowing_up(rng, x):
    pole = rng.uniform(0.05, 0.4)
    return rng.uniform(0.1, 0.6) * pole * x / (1 + pole - x)


@pytest.mark.parametrize(
    ("course", "behaviour"),
    [
        (_steady, STEADY),
        (_inside, STEADY),
        (_settling, SETTLES),
        (_stretched, SETTLES),
        (_hyperbolic, SETTLES),
        (_creeping, DRIFTS),
        (_creeping_after_warm_up, DRIFTS),
        (_falling_faster, DRIFTS),
        (_growing, RUNS_AWAY),
        (_growing_by_power, RUNS_AWAY),
        (_growing_after_warm_up, RUNS_AWAY),
        (_blowing_up, RUNS_AWAY),
    ],
)
def test_behaviour_is_right_in_at_least_95_of_100_logs(course, behaviour):
    """5 to 30 min, a reading each 1 to 10 s, 0.1 to 0.5 % noise."""
    right = 0
    for seed in range(100):
        rng = np.random.default_rng([3, seed])
        length = rng.uniform(300, 1800)
        time = np.arange(0, length, rng.uniform(1, 10))
        noise = rng.normal(0, rng.uniform(0.001, 0.005), time.size)
        current = 10 ** rng.uniform(-3, -0.8) * (1 + course(rng, time / length)) * (1 + noise)
        right += drift_report(make_log(current, time), None).behaviour is behaviour
    assert right >= 95


@pytest.mark.parametrize("kind", DriftKind)
def test_the_simulators_logs_are_told_apart(kind):
    right = 0
    for seed in range(60):
        rng = np.random.default_rng([5, seed])
        log = random_log(healthy_tube("2A3", rng), kind, Bench(), rng)
        report = drift_report(as_sweep(log.sweep, kind=SweepKind.DRIFT_LOG), None)
        right += report.behaviour.value == kind.value
    assert right >= 57


# --- near misses ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("course", "behaviour"),
    [
        pytest.param(1 + 0.01 * _X, STEADY, id="creep inside the band"),
        pytest.param(1 - 0.03 * _X, DRIFTS, id="creep out of the band"),
        pytest.param(1 + growth(0.01, 0.3), STEADY, id="growth inside the band"),
        pytest.param(1 + growth(0.04, 0.3), RUNS_AWAY, id="growth out of the band"),
        pytest.param(1 + 0.1 * np.exp(-_X / 0.02), SETTLES, id="settled in the first minute"),
        pytest.param(1 - 0.1 * np.exp(-_X / 0.4), SETTLES, id="slow plateau in sight"),
        pytest.param(1 - 0.15 * np.exp(-_X / 1.0), DRIFTS, id="plateau not in sight"),
        pytest.param(1 - growth(0.2, 0.3), DRIFTS, id="falling ever faster"),
        pytest.param(np.where(_X < 0.5, 1.0, 1.06), DRIFTS, id="jump to another level"),
        pytest.param(1 + 0.06 / (1 + np.exp(-(_X - 0.5) / 0.05)), DRIFTS, id="slow change"),
    ],
)
def test_near_misses(course, behaviour):
    reports = [drift_report(make_log(noisy(course, seed)), None) for seed in range(10)]
    assert sum(report.behaviour is behaviour for report in reports) >= 9


def test_the_band_is_editable():
    log = make_log(noisy(1 - 0.05 * _X))
    wide = replace(DRIFT_BAND, printed=8.0)
    assert drift_report(log, None).behaviour is DRIFTS
    assert drift_report(log, None, wide).behaviour is STEADY
    narrow = replace(DRIFT_BAND, printed=0.5)
    assert drift_report(make_log(noisy(1 - 0.01 * _X)), None, narrow).behaviour is DRIFTS


# --- the figures of the report -------------------------------------------------------------


def test_slope_and_final_value_of_a_creep():
    report = drift_report(make_log(0.06 * (1 - 0.06 * _X)), None)
    start = 1 - 0.06 * 0.05  # warm-up ends after a twentieth of the log
    assert report.after_warm_up == pytest.approx(0.06 * start, rel=1e-6)
    assert report.slope_per_minute == pytest.approx(-0.06 / 15 / start, rel=1e-6)
    assert report.final == pytest.approx(0.94 / start - 1, rel=1e-6)
    assert report.model == "creep"


def test_final_value_of_a_plateau_is_the_plateau():
    course = 1 - 0.1 * np.exp(-_X / 0.35)
    report = drift_report(make_log(0.06 * course), None)
    start = 1 - 0.1 * np.exp(-0.05 / 0.35)
    assert report.final == pytest.approx(1 / start - 1, abs=5e-4)
    assert report.behaviour is SETTLES


def test_final_value_of_a_steady_tube_is_where_it_stands():
    report = drift_report(make_log(np.full(_TIME.size, 0.06)), None)
    assert (report.behaviour, report.model) == (STEADY, "constant")
    assert report.final == pytest.approx(0.0, abs=1e-12)
    assert report.slope_per_minute == 0


def test_the_fitted_behaviour_is_projected_past_the_end():
    report = drift_report(make_log(noisy(RUNAWAY)), None)
    time, fitted = np.array(report.time), np.array(report.fitted)
    assert time[-1] > _TIME[-1]
    assert (np.diff(time) > 0).all()
    inside = time <= _TIME[-1]
    np.testing.assert_allclose(
        fitted[inside], 0.06 * np.interp(time[inside], _TIME, RUNAWAY), rtol=0.004
    )


# --- the time to a limit -------------------------------------------------------------------


def _crossing(current):
    """Seconds past the log's end at which the exact runaway reaches a current."""
    x = 0.3 * np.log1p((current / 0.06 - 1) / 0.3 * np.expm1(1 / 0.3))
    return (x - 1) * _TIME[-1]


def test_dissipation_comes_first():
    report = drift_report(
        make_log(noisy(RUNAWAY)), make_type(plate_dissipation=22.5, plate_current=0.1)
    )
    assert report.seconds_to_limit == pytest.approx(_crossing(0.09), rel=0.1)
    assert report.limit == f"maximum plate dissipation 22.5 W at 250 V ({SHEET})"


def test_current_comes_first():
    report = drift_report(
        make_log(noisy(RUNAWAY)), make_type(plate_dissipation=40.0, cathode_current=0.085)
    )
    assert report.seconds_to_limit == pytest.approx(_crossing(0.085), rel=0.1)
    assert "cathode current 85 mA" in report.limit


def test_a_rising_creep_has_a_time_too():
    report = drift_report(
        make_log(0.06 * (1 + 0.05 * _X)), make_type(Status.FROM_MEMORY, plate_current=0.066)
    )
    assert report.seconds_to_limit == pytest.approx(_TIME[-1], rel=1e-3)  # 5 % more, as long
    assert report.limit.endswith("(from memory)")


def test_beyond_the_limit_no_time_is_left():
    report = drift_report(make_log(noisy(RUNAWAY)), make_type(plate_current=0.07))
    assert report.seconds_to_limit == 0
    (finding,) = drift_findings(make_log(noisy(RUNAWAY)), report)
    assert "already beyond the maximum plate current 70 mA" in finding.evidence


@pytest.mark.parametrize(
    ("course", "limits"),
    [
        pytest.param(RUNAWAY, {}, id="no limit on record"),
        pytest.param(1 - 0.06 * _X, {"plate_current": 0.07}, id="falling"),
        pytest.param(1 + 0 * _X, {"plate_current": 0.07}, id="steady"),
        pytest.param(1 - 0.1 * np.exp(-_X / 0.2), {"plate_current": 0.07}, id="plateau below"),
    ],
)
def test_where_no_limit_is_ahead_there_is_no_time(course, limits):
    report = drift_report(make_log(noisy(course)), make_type(**limits))
    assert (report.seconds_to_limit, report.limit) == (None, None)


# --- set-points ----------------------------------------------------------------------------


def _stepped(late_course, seed=1):
    """Plate voltage stepped up after 6 min; the bench's supply wanders by 0.1 %."""
    late = _TIME >= 360
    supply = np.random.default_rng(seed).normal(0, 0.25, _TIME.size)
    x = np.clip((_TIME - 360) / (_TIME[-1] - 360), 0, 1)
    current = noisy(np.where(late, 1.25 * late_course(x), 1 + 0.02 * np.exp(-_TIME / 40)), seed)
    return make_log(current, plate_voltage=np.where(late, 300.0, 250.0) + supply)


def test_a_runaway_after_a_step_of_dissipation_is_a_runaway():
    log = _stepped(lambda x: 1 + growth(0.3, 0.3, x))
    report = drift_report(log, make_type(plate_dissipation=32.0))
    assert report.behaviour is RUNS_AWAY
    assert report.readings[0] == 120
    assert "at 300 V" in report.limit
    (finding,) = drift_findings(log, report)
    assert "the set-points changed in the log, and 6.0 min to 15 min was judged" in finding.evidence
    assert min(finding.readings) > 120


def test_a_step_itself_is_no_drift():
    log = _stepped(lambda x: 1 - 0.03 * np.exp(-x / 0.1))
    report = drift_report(log, None)
    assert report.behaviour is SETTLES
    assert report.readings[0] == 120  # of two that settle, the last
    assert drift_findings(log, report) == ()


def test_a_step_down_does_not_hide_what_came_before():
    late = _TIME >= 600
    current = noisy(np.where(late, 0.5, 1 + growth(0.4, 0.2, _TIME / 600)))
    log = make_log(current, plate_voltage=np.where(late, 150.0, 250.0))
    report = drift_report(log, None)
    assert report.behaviour is RUNS_AWAY
    assert report.readings[-1] < 200


def test_stretches_are_split_at_steps_and_not_at_noise():
    grid = np.where(_TIME < 300, -45.0, -43.0)
    grid[50] = 0.0  # one misread voltage
    parts = split_at_set_points(make_log(0.06, grid_voltage=grid).readings)
    assert [part[0] for part in parts] == [0, 100]
    wander = 250 + np.random.default_rng(4).normal(0, 1.0, _TIME.size)
    assert len(split_at_set_points(make_log(0.06, plate_voltage=wander).readings)) == 1
    heater = np.where(_TIME < 600, 6.3, 5.7)
    heater[10] = np.nan
    parts = split_at_set_points(make_log(0.06, heater_voltage=heater).readings)
    assert [part[0] for part in parts] == [0, 200]


# --- findings ------------------------------------------------------------------------------


@pytest.mark.parametrize("course", [1 + 0 * _X, 1 - 0.1 * np.exp(-_X / 0.15), 1 + 0.01 * _X])
def test_steady_and_settling_tubes_raise_nothing(course):
    log = make_log(noisy(course))
    assert drift_findings(log, drift_report(log, None)) == ()


def test_runaway_is_a_reject_with_its_evidence():
    log = make_log(
        noisy(RUNAWAY),
        grid_current=-4e-7 - 2e-6 * (RUNAWAY - 1)
        + np.random.default_rng(6).normal(0, 2e-8, _TIME.size),
    )  # fmt: skip
    (finding,) = drift_findings(log, drift_report(log, make_type(plate_dissipation=22.5)))
    assert (finding.code, finding.severity) == (FindingCode.RUNAWAY, Severity.REJECT)
    slope = 100 * 0.3 / 0.3 / -np.expm1(-1 / 0.3) / 15
    assert finding.value == pytest.approx(slope, rel=0.1)
    assert finding.unit == "%/min"
    assert "rises ever faster" in finding.evidence
    assert "reverse grid current rose from 0.4" in finding.evidence
    exact = RUNAWAY / np.interp(45.0, _TIME, RUNAWAY) - 1
    assert finding.readings == tuple(range(min(finding.readings), _TIME.size))
    assert exact[min(finding.readings)] == pytest.approx(0.02, abs=0.004)


def test_bias_drift_is_a_caution_with_the_house_rule():
    log = make_log(noisy(1 - 0.06 * _X))
    (finding,) = drift_findings(log, drift_report(log, None))
    assert (finding.code, finding.severity) == (FindingCode.BIAS_DRIFT, Severity.CAUTION)
    assert finding.value == pytest.approx(-5.7, abs=0.2)
    assert (finding.unit, finding.limit, finding.limit_source) == ("%", 2.0, HOUSE_RULE)
    assert "fell from" in finding.evidence
    assert "grid current" not in finding.evidence
    assert "supply" not in finding.evidence


def test_a_warm_up_before_the_drift_is_not_its_evidence():
    course = 1 + 0.08 * np.exp(-_X / 0.04) - 0.06 * _X
    log = make_log(noisy(course))
    (finding,) = drift_findings(log, drift_report(log, None))
    assert finding.code is FindingCode.BIAS_DRIFT
    assert min(finding.readings) > 60


def test_a_moving_supply_is_said():
    log = make_log(noisy(1 - 0.06 * _X), plate_voltage=250 * (1 - 0.03 * _X))
    (finding,) = drift_findings(log, drift_report(log, None))
    assert "the plate supply itself moved by -2.4 %" in finding.evidence


# --- refusal -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "log",
    [
        pytest.param(make_log(0.06, np.arange(4.0)), id="four readings"),
        pytest.param(make_log(0.0), id="no current"),
        pytest.param(make_log(-1e-6), id="negative current"),
        pytest.param(make_log(0.06, np.full(_TIME.size, np.nan)), id="no time"),
        pytest.param(make_log(0.06, np.zeros(_TIME.size)), id="no time passes"),
        pytest.param(
            make_log([0.05, 0.07, 0.054, 0.066, 0.06, 0.071], np.arange(6.0)),
            id="scatter wider than the band",
        ),
    ],
)
def test_what_cannot_be_told_is_said(log):
    assert drift_report(log, None) is None
    (finding,) = drift_findings(log, None)
    assert (finding.code, finding.severity) == (FindingCode.NOT_COVERED, Severity.CAUTION)


def test_a_sweep_of_curves_is_no_log():
    sweep = make_log(noisy(RUNAWAY), kind=SweepKind.CURVES)
    assert drift_report(sweep, None) is None
    assert drift_findings(sweep, None) == ()


def test_faulty_readings_change_nothing():
    current, time = noisy(RUNAWAY), _TIME.copy()
    current[[30, 31, 100]] = 0.0
    current[200] = 0.2
    time[150] = np.nan
    report = drift_report(make_log(current, time), None)
    assert report.behaviour is RUNS_AWAY
    assert not {30, 31, 100, 150, 200} & set(report.readings)
