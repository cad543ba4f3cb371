"""Behaviour: the scorecard counts what it says it counts, on a box small enough for a test."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curvelab.assessment import assess
from curvelab.fitting.records import Constant
from curvelab.workbench.type_library import shipped_families
from scorecard.boxes import fault_box, healthy_box
from scorecard.measures import codes_found, score_constants
from scorecard.tables import alarm_lines, confusion_lines, coverage_lines

_TOP = Path(__file__).parents[2]


def test_errors_and_coverage_are_taken_against_the_truth() -> None:
    box = healthy_box(2, np.random.default_rng(1), ("6SN7GTB",))
    found = assess([item.record for item in box], shipped_families())
    point = found[0].operating_point
    assert point is not None
    truth = float(box[0].truth.tube.gm(point.plate_voltage, point.grid_voltage))
    wrong = replace(found[0].constants, transconductance=Constant(1.1 * truth, 0.05 * truth))
    scored = score_constants(box, [replace(found[0], constants=wrong), found[1]])["gm"]
    assert scored.error[0] == pytest.approx(0.1)
    assert scored.width[0] == pytest.approx(0.05)
    assert not scored.covered[0]
    assert scored.missing == 0


def test_boxes_come_again_with_their_seed() -> None:
    first, second = (fault_box("gas", 1, np.random.default_rng(2), ("2A3",)) for _ in range(2))
    assert np.array_equal(
        first[0].record.readings.plate_current, second[0].record.readings.plate_current
    )


def test_tables_count_found_alone_and_false_alarms() -> None:
    box = fault_box("gas", 2, np.random.default_rng(3), ("12AU7",))
    gassy = assess([item.record for item in box], shipped_families())
    silent = [replace(item, findings=()) for item in gassy]
    assert all("gas" in codes_found(item) for item in gassy)
    seen = list(confusion_lines({"gas": (box, gassy)}))[1].split()
    unseen = list(confusion_lines({"gas": (box, silent)}))[1].split()
    assert seen[:3] == ["gas", "2", "100.0"]
    assert unseen[:4] == ["gas", "2", "0.0", "0.0"]
    assert "100.0 % of 2" in next(iter(alarm_lines(gassy)))
    assert "0.0 % of 2" in next(iter(alarm_lines(silent)))


def test_coverage_outside_the_goal_is_marked() -> None:
    box = healthy_box(2, np.random.default_rng(4), ("12AU7",))
    found = assess([item.record for item in box], shipped_families())
    scores = score_constants(box, found)
    lines = {
        name: next(line for line in coverage_lines(changed) if line.startswith("all"))
        for name, changed in {
            "as is": scores,
            "none": {
                key: replace(item, covered=np.zeros(2, dtype=bool)) for key, item in scores.items()
            },
        }.items()
    }
    assert lines["none"].count("!") == 4
    assert lines["none"].count("0.0!") == 4


def test_command_prints_every_part() -> None:
    asked = ["--each", "2", "--faults", "1", "--types", "12AU7", "--seed", "5"]
    ran = subprocess.run(
        [sys.executable, "-m", "tests.scorecard", *asked],
        cwd=_TOP,
        check=True,
        capture_output=True,
        text=True,
    )
    for title in (
        "Constants: 2 good",
        "by hand",
        "Faults of moderate",
        "Eight readings a curve",
        "Behaviour of 8 logs",
        "Published curves",
    ):
        assert title in ran.stdout
    assert ran.stdout.count("D1-6SN7GT-triode") == 3
