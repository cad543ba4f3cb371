"""Where the program stands, on simulated tubes whose truth is known.

    python -m tests.scorecard [--seed N] [--each N] [--types A,B] [--only PART,PART]

Run from the top folder. Prints errors against the goals, coverage of the 95 % uncertainty,
the confusion table of the findings, false alarms, the behaviours of logs, and how published
curves fare.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

# The simulator is found as the tests find it: from the folder that holds both.
sys.path.insert(0, str(Path(__file__).parents[1]))

from curvelab.assessment import Assessment, assess
from curvelab.workbench.type_library import shipped_families

from .boxes import (
    BOX_TYPES,
    FAULTS,
    PAIRED,
    SPARSE_FAULTS,
    Boxed,
    fault_box,
    hand_box,
    healthy_box,
    log_box,
    sparse_box,
)
from .measures import score_constants
from .outside import outside_lines
from .tables import (
    alarm_lines,
    confusion_lines,
    constant_lines,
    coverage_lines,
    log_lines,
)

_PARTS = ("healthy", "hand", "faults", "sparse", "logs", "outside")


def _say(title: str, lines: Iterable[str]) -> None:
    sys.stdout.write(f"\n{title}\n" + "".join(f"  {line}\n" for line in lines))
    sys.stdout.flush()


def _judge(box: Sequence[Boxed]) -> Sequence[Assessment]:
    return assess([item.record for item in box], shipped_families())


def _healthy(each: int, seed: int, types: tuple[str, ...]) -> None:
    box = healthy_box(each, np.random.default_rng([seed, 1]), types)
    started = time.perf_counter()
    found = _judge(box)
    spent = 1e3 * (time.perf_counter() - started) / len(box)
    scores = score_constants(box, found)
    _say(f"Constants: {len(box)} good tubes, {spent:.0f} ms each", constant_lines(scores))
    _say("Coverage of the 95 % uncertainty, %", coverage_lines(scores))
    _say("False alarms", alarm_lines(found))


def _hand(each: int, seed: int, types: tuple[str, ...]) -> None:
    box = hand_box(each, np.random.default_rng([seed, 2]), types)
    found = _judge(box)
    scores = score_constants(box, found)
    title = f"Constants: {len(box)} good tubes by hand, 3 grid steps of 6 readings"
    _say(title, constant_lines(scores, targets=False))
    _say("Coverage, %", coverage_lines(scores))
    _say("False alarms", alarm_lines(found))


def _faults(each: int, seed: int, types: tuple[str, ...]) -> None:
    boxes = {}
    for number, fault in enumerate([*FAULTS, "section-imbalance", *PAIRED]):
        box = fault_box(fault, each, np.random.default_rng([seed, 3, number]), types)
        boxes[fault] = (box, _judge(box)) if box else ([], [])
    _say("Faults of moderate size", confusion_lines({k: v for k, v in boxes.items() if v[0]}))


def _sparse(each: int, seed: int, types: tuple[str, ...]) -> None:
    boxes = {}
    for number, fault in enumerate(SPARSE_FAULTS):
        box = sparse_box(fault, each, np.random.default_rng([seed, 5, number]), types)
        boxes[fault] = (box, _judge(box))
    _say("Eight readings a curve", confusion_lines(boxes))


def _outside(_each: int, _seed: int, _types: tuple[str, ...]) -> None:
    _say("Published curves", outside_lines())


def _logs(each: int, seed: int, types: tuple[str, ...]) -> None:
    box = log_box(each, np.random.default_rng([seed, 4]), types)
    _say(f"Behaviour of {len(box)} logs", log_lines(box, _judge(box)))


def main() -> None:
    """Print the scorecard."""
    parser = argparse.ArgumentParser(prog="python -m tests.scorecard", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--each", type=int, default=25, help="good tubes of each type")
    parser.add_argument("--faults", type=int, default=6, help="tubes of each type and fault")
    parser.add_argument("--types", default=",".join(BOX_TYPES))
    parser.add_argument("--only", default=",".join(_PARTS), help="parts: " + ", ".join(_PARTS))
    asked = parser.parse_args()
    types, parts = tuple(asked.types.split(",")), asked.only.split(",")
    _say(f"seed {asked.seed}, types {', '.join(types)}", ())
    for part, run, each in (
        ("healthy", _healthy, asked.each),
        ("hand", _hand, max(1, asked.each // 3)),
        ("faults", _faults, asked.faults),
        ("sparse", _sparse, asked.faults),
        ("logs", _logs, asked.faults),
        ("outside", _outside, 0),
    ):
        if part in parts:
            run(each, asked.seed, types)


if __name__ == "__main__":
    main()
