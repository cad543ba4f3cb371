"""What every plot of a tube has: its points, its findings' marks, the reference's name."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from curvelab.assessment.records import Assessment
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import PlateFamily
from curvelab.health.records import Finding
from curvelab.quantities import MILLIAMPERE
from curvelab.reference.records import Figure
from curvelab.sheets.plot_records import Mark, Role, Series, Shape
from curvelab.sheets.text import volts
from curvelab.sweep.records import FloatArray, IntArray

__all__ = [
    "LINE_POINTS",
    "MOST_POINTS",
    "at_shown_screen",
    "backed_runs",
    "family_milliamperes",
    "marks_of",
    "points_of",
    "rating_label",
    "reference_name",
    "screen_words",
    "thinned",
]

_SAME_SCREEN = 0.02
LINE_POINTS = 61
MOST_POINTS = 3000  # more readings than this are thinned: a page cannot show them


def reference_name(assessment: Assessment) -> str | None:
    """Return whose family the quiet lines are."""
    return assessment.reference.type_name if assessment.reference else None


def family_milliamperes(family: PlateFamily, plate: FloatArray, grid: FloatArray) -> FloatArray:
    """Return a family's current [mA]; arguments [V] broadcast together."""
    return np.asarray(family.current(plate, grid), dtype=np.float64) / MILLIAMPERE.si


def backed_runs(backed: NDArray[np.bool_]) -> Iterator[tuple[slice, bool]]:
    """Yield the runs of a line that something backs, and those that nothing does, in turn.

    Each begins where the one before ends, so that the line has no gap.
    """
    ends = [0, *(np.flatnonzero(np.diff(backed)) + 1).tolist(), backed.size]
    for begin, end in itertools.pairwise(ends):
        yield slice(max(begin - 1, 0), end), bool(backed[begin])


def points_of(
    x: FloatArray, y: FloatArray, left_out: NDArray[np.bool_], label: str
) -> Iterator[Series]:
    """Yield the measured readings and those left out, where ``x`` is known."""
    for role, part in ((Role.MEASURED, ~left_out), (Role.LEFT_OUT, left_out)):
        known = np.flatnonzero(np.isfinite(x) & part)
        if known.size:
            at = known[thinned(known.size, MOST_POINTS)]
            yield Series(role, label, x[at], y[at], readings=at)


def at_shown_screen(assessment: Assessment) -> NDArray[np.bool_]:
    """Tell which readings belong to a plot: those at the screen voltage of its families."""
    readings, family = assessment.sweep.readings, assessment.fit.family
    if readings.screen_voltage is None or not isinstance(family, PentodeFamily):
        return np.ones(len(readings), dtype=bool)
    screen = family.screen_voltage
    return np.abs(readings.screen_voltage - screen) <= _SAME_SCREEN * screen


def screen_words(assessment: Assessment) -> str:
    """Return what an axis adds for a tube with a screen grid, such as ``Vs 250 V``; or nothing."""
    family = assessment.fit.family
    if not isinstance(family, PentodeFamily):
        return ""
    return f"Vs {volts(round(family.screen_voltage, 1))} V"


def rating_label(text: str, rating: Figure) -> str:
    """Return what stands beside a rating's line, marked where nobody saw it printed."""
    return text if rating.verified else f"{text} (from memory)"


def thinned(size: int, most: int) -> IntArray:
    """Return at most ``most`` positions of ``size``, the first and last among them."""
    if size <= most:
        return np.arange(size)
    return np.unique(np.linspace(0, size - 1, most).astype(np.int64))


def marks_of(findings: tuple[Finding, ...], x: FloatArray, y: FloatArray) -> tuple[Mark, ...]:
    """Return the readings of each finding at their place ``x``, ``y`` in the plot.

    Readings whose ``x`` is not finite have no place in it.
    """
    shapes = list(Shape)
    marks: list[Mark] = []
    for position, finding in enumerate(findings):
        at = np.array([i for i in finding.readings if 0 <= i < x.size], dtype=np.int64)
        at = at[np.isfinite(x[at])]
        if at.size:
            shape = shapes[len(marks) % len(shapes)]
            code, severity = finding.code.value, finding.severity
            marks.append(Mark(position, code, severity, shape, x[at], y[at]))
    return tuple(marks)
