"""Behaviour and published: one tube, one grade, the reason, and what uncertainty does to it.

The decision keeps the whole uncertainty on the right side of a limit (JCGM 106:2012, clause
8.3.2, guard band of U). Printed limits: Philips E88CC / 6922 special-quality tube data, December
1968 (initial and end-of-life limits in a circuit), read from the type library.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.grading.bounds import Keeping
from curvelab.grading.conditions import figures_at
from curvelab.grading.grade import grade, worst
from curvelab.health.records import Finding, FindingCode, Severity, Verdict
from curvelab.reference.records import PrintedLimit, Status
from curvelab.sweep.bench import UNSTATED_BENCH, Bench, MeterAccuracy
from curvelab.sweep.records import Conditions
from curvelab.workbench.grading import load_grade_rules
from curvelab.workbench.type_library import shipped_families
from helpers.assessments import constants, drifting, healthy, without_constants
from simulator.bench import Bench as Meters
from simulator.bench import run_sweep, usual_plan
from simulator.records import as_sweep
from simulator.tubes import bogey_tube

RULES = load_grade_rules()


def tube(current: float, slope: float, u95: float = 0.01, **changes: object):
    """Return an assessment of so much of bogey in current and gm, ``u95`` a share of each."""
    base = healthy()
    figures = replace(
        constants(),
        plate_current=Constant(1.2e-3 * current, 1.2e-3 * current * u95),
        transconductance=Constant(1.6e-3 * slope, 1.6e-3 * slope * u95),
    )
    shares = {"plate_current": current, "transconductance": slope}
    comparison = replace(base.comparison, of_bogey=shares)
    return replace(base, constants=figures, comparison=comparison, **changes)


def with_limit(assessment, **limit: object):
    """Return the assessment with one printed limit of its type."""
    given = {
        "quantity": "plate_current",
        "stage": "new",
        "low": None,
        "high": None,
        "source": "Invented sheet",
        "status": Status.VERIFIED,
        "condition": "250 V on the plate, -2 V on the grid",
        "plate_voltage": 250.0,
        "grid_voltage": -2.0,
    }
    printed = (*assessment.tube_type.printed_limits, PrintedLimit(**(given | limit)))
    return replace(assessment, tube_type=replace(assessment.tube_type, printed_limits=printed))


@pytest.mark.parametrize(
    ("current", "slope", "word"),
    [
        (1.0, 1.0, "fresh"),
        (0.77, 0.82, "fresh"),
        (0.74, 1.0, "sound"),
        (1.0, 0.75, "sound"),
        (1.3, 1.0, "sound"),
        (0.5, 0.65, "worked"),
        (0.40, 0.7, "spent"),
        (0.7, 0.5, "spent"),
        (1.8, 1.2, "stray"),
    ],
)
def test_the_grade_follows_the_weaker_figure(current, slope, word):
    found = grade(tube(current, slope), RULES)
    assert found.word == word
    assert found.decided
    assert found.reasons
    assert found.rules == RULES.title


def test_a_grade_says_what_decided_and_where_the_limit_comes_from():
    found = grade(tube(0.66, 1.0), RULES)
    assert found.word == "sound"
    text = " ".join(found.reasons)
    assert "Not fresh: plate current 66.00 ± 0.66 % of bogey, wanted above 75" in text
    assert "house rule, editable" in text
    assert "common practice, no source" in " ".join(grade(tube(0.5, 0.65), RULES).reasons)


def test_an_uncertainty_that_straddles_a_limit_grades_down_and_says_so():
    sure, unsure = grade(tube(0.77, 1.0, 0.01), RULES), grade(tube(0.77, 1.0, 0.05), RULES)
    assert (sure.word, unsure.word) == ("fresh", "sound")
    assert "Graded down from fresh, as its uncertainty straddles" in unsure.reasons[0]
    assert any(bound.keeping is Keeping.STRADDLES for bound in unsure.bounds)


@pytest.mark.parametrize("share", [0.595, 0.605])
def test_on_the_last_limit_it_is_undecided(share):
    found = grade(tube(0.9, share, 0.03), RULES)
    assert (found.word, found.decided) == ("undecided", False)
    assert "Measure it again" in found.reasons[0]


def test_a_wider_uncertainty_never_makes_a_better_grade():
    order = RULES.order[:3]
    rank = {word: place for place, word in enumerate(order)}
    for share in np.linspace(0.5, 1.55, 22):
        ranks = [
            rank.get(grade(tube(share, share, u95), RULES).word, 3)
            for u95 in (1e-4, 0.02, 0.06, 0.15)
        ]
        assert ranks == sorted(ranks), share


def test_a_reject_is_barred_whatever_its_figures():
    short = Finding(FindingCode.SHORT, Severity.REJECT, "Grid to cathode.")
    found = grade(tube(1, 1, findings=(short,), verdict=Verdict.REJECT), RULES)
    assert found.word == "barred"
    assert found.reasons == ("short, reject: Grid to cathode.",)


def test_on_hold_it_is_sound_at_best():
    caution = Finding(FindingCode.GAS, Severity.CAUTION, "Some gas.")
    held = {"findings": (caution,), "verdict": Verdict.HOLD}
    found = grade(tube(1, 1, **held), RULES)
    assert found.word == "sound"
    assert "on hold" in found.reasons[0]
    assert "Some gas." in found.reasons[1]
    assert grade(tube(0.5, 0.65, **held), RULES).word == "worked"


def test_what_was_not_measured_has_no_grade():
    for assessment in (without_constants(), replace(tube(1, 1), comparison=None)):
        found = grade(assessment, RULES)
        assert (found.word, found.decided) == ("ungraded", False)
        assert found.reasons
    assert grade(drifting(), RULES).word == "barred"
    missing = Constants.missing(Outcome.NOT_COVERED, "the readings do not surround it")
    assert "do not surround" in grade(replace(tube(1, 1), constants=missing), RULES).reasons[0]


def test_a_printed_limit_goes_before_the_house_on_its_side():
    wide = with_limit(tube(0.6, 1.0), low=0.5 * 1.2e-3)
    found = grade(wide, RULES)
    assert found.word == "fresh"
    assert "Invented sheet, new, at 250 V" in " ".join(found.reasons)
    high = grade(with_limit(tube(1.3, 1.0), low=0.5 * 1.2e-3), RULES)
    assert high.word == "sound"  # the other side is still the house's


def test_a_printed_end_of_life_is_a_floor_under_every_better_grade():
    found = grade(with_limit(tube(0.7, 1.0), stage="end of life", low=0.8 * 1.2e-3), RULES)
    assert found.word == "spent"
    assert "end of life" in found.reasons[0]


def test_from_memory_and_a_stand_in_are_said():
    memory = with_limit(tube(1, 1), low=0.5e-3, status=Status.FROM_MEMORY)
    assert "from memory" in " ".join(grade(memory, RULES).reasons)
    base = tube(1, 1)
    stand_in = replace(base, comparison=replace(base.comparison, why="stand-in"))
    assert "stands in" in " ".join(grade(stand_in, RULES).reasons)


def test_a_limit_printed_for_a_pentode_does_not_judge_it_as_a_triode():
    base = with_limit(tube(0.77, 1.0), low=1.0 * 1.2e-3)
    assert grade(base, RULES).word == "sound"
    sweep = replace(base.sweep, conditions=Conditions(connection="triode-connected"))
    assert grade(replace(base, sweep=sweep), RULES).word == "fresh"


def test_a_condition_that_no_sweep_has_leaves_the_house_rule():
    far = with_limit(tube(1, 1), low=5e-3, plate_voltage=900.0, grid_voltage=-2.0)
    assert grade(far, RULES).word == "fresh"
    fixed = with_limit(tube(1, 1), low=5e-3, plate_voltage=150.0, grid_voltage=None)
    assert grade(fixed, RULES).word == "fresh"


def simulated_6922(scale: float, seed: int = 3):
    """Return the assessment of a bogey 6922 whose perveance is scaled."""
    kind = bogey_tube("6922")
    law = replace(kind.law, perveance=kind.law.perveance * scale)
    one = replace(kind, law=law)
    swept = run_sweep(one, usual_plan(one), Meters(), np.random.default_rng(seed))
    (found,) = assess([as_sweep(swept)], shipped_families())
    return one, found


def test_a_circuit_is_solved_for_the_point_the_tube_finds_itself():
    one, found = simulated_6922(0.8)
    limit = next(
        item
        for item in found.tube_type.printed_limits
        if item.stage == "end of life" and item.quantity == "plate_current"
    )
    assert (limit.supply_voltage, limit.grid_supply_voltage, limit.cathode_resistance) == (
        100.0, 9.0, 680.0,
    )  # fmt: skip
    figures = figures_at(found, limit, UNSTATED_BENCH)
    flows = figures.plate_current.value
    truth = float(one.current(100 - 680 * flows, 9 - 680 * flows))
    assert flows == pytest.approx(truth, rel=0.01)
    # A fifth of the perveance off moves the circuit's current by far less than a fifth.
    assert 0.93 < flows / 15e-3 < 0.99
    plain = found.constants.plate_current
    assert figures.plate_current.u95 / flows < 0.3 * plain.u95 / plain.value


@pytest.mark.parametrize(("scale", "word"), [(1.0, "fresh"), (0.74, "sound"), (0.5, "spent")])
def test_the_printed_limits_of_a_6922_decide(scale, word):
    # 14.2 to 15.8 mA and 10.5 to 15 mA/V when new; 13.5 mA and 9 mA/V at the end of life.
    _, found = simulated_6922(scale)
    graded = grade(found, RULES)
    assert graded.word == word, graded.reasons
    assert "December 1968" in " ".join(bound.source for bound in graded.bounds)


def test_the_benchs_accuracy_enters_the_figure_at_the_printed_condition():
    _, found = simulated_6922(1.0)
    limit = found.tube_type.printed_limits[1]
    coarse = Bench("b", False, plate_current=MeterAccuracy(gain=0.05))
    assert limit.quantity == "plate_current"
    narrow = figures_at(found, limit, UNSTATED_BENCH).plate_current.u95
    assert figures_at(found, limit, coarse).plate_current.u95 > 3 * narrow


def test_the_worst_section_is_the_tube():
    grades = [grade(tube(share, 1.0), RULES) for share in (1.0, 0.5, 0.7)]
    assert worst(grades, RULES).word == "worked"
