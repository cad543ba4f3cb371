"""What the boxes show: errors against the truth, coverage, and what was found of each fault."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.health.records import Severity

from .boxes import Boxed

__all__ = ["CONSTANTS", "Scored", "codes_found", "score_constants", "share_found"]

CONSTANTS = {
    "Ip": "plate_current",
    "gm": "transconductance",
    "rp": "plate_resistance",
    "mu": "amplification_factor",
}


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """One constant over a box.

    Attributes
    ----------
    error : ndarray
        Value over truth, minus one, where there is a value.
    covered : ndarray of bool
        Whether the 95 % uncertainty holds the truth.
    width : ndarray
        The uncertainty over the truth.
    type_name : ndarray of str
    missing : int
        Tubes without a value.
    """

    error: np.ndarray
    covered: np.ndarray
    width: np.ndarray
    type_name: np.ndarray
    missing: int


def _truth(item: Boxed, plate: float, grid: float) -> dict[str, float]:
    tube = item.truth.tube
    return {
        "Ip": float(tube.current(plate, grid)),
        "gm": float(tube.gm(plate, grid)),
        "rp": float(tube.rp(plate, grid)),
        "mu": float(tube.mu(plate, grid)),
    }


def score_constants(box: Sequence[Boxed], assessments: Sequence[Assessment]) -> dict[str, Scored]:
    """Compare the constants of a box with the truth at the operating points used."""
    rows: dict[str, list[tuple[float, float, str]]] = {name: [] for name in CONSTANTS}
    for item, assessment in zip(box, assessments, strict=True):
        point = assessment.operating_point
        if point is None:
            continue
        truth = _truth(item, point.plate_voltage, point.grid_voltage)
        for name, attribute in CONSTANTS.items():
            constant = getattr(assessment.constants, attribute)
            if constant.value is None:
                continue
            error = constant.value / truth[name] - 1.0
            rows[name].append((error, (constant.u95 or 0.0) / truth[name], item.type_name))
    return {name: _scored(found, len(box)) for name, found in rows.items()}


def _scored(rows: list[tuple[float, float, str]], size: int) -> Scored:
    error = np.array([row[0] for row in rows])
    width = np.array([row[1] for row in rows])
    names = np.array([row[2] for row in rows])
    return Scored(error, np.abs(error) <= width, width, names, size - len(rows))


def codes_found(assessment: Assessment, *, notes: bool = False) -> set[str]:
    """Return the finding codes raised at caution or worse, or at any severity."""
    return {
        item.code.value
        for item in assessment.findings
        if notes or item.severity is not Severity.NOTE
    }


def share_found(assessments: Sequence[Assessment], *, notes: bool = False) -> Counter[str]:
    """Count how many tubes of a box raise each code."""
    counter: Counter[str] = Counter()
    for assessment in assessments:
        counter.update(codes_found(assessment, notes=notes))
    return counter
