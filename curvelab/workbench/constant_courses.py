"""Working out constants as functions for the tubes of a batch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from curvelab.assessment.constant_courses import (
    constants_along_current,
    constants_over_plane,
    usual_plate_voltage,
    why_no_course,
)
from curvelab.assessment.records import Assessment
from curvelab.sheets.constant_courses import Courses
from curvelab.sweep.bench import UNSTATED_BENCH, Bench

__all__ = ["CoursesWanted", "courses_of"]


@dataclass(frozen=True, slots=True)
class CoursesWanted:
    """Which constants are wanted.

    Attributes
    ----------
    plate_voltages : tuple of float
        [V]; where there is none, that of each tube's own operating point.
    plane : bool
        Whether the whole plane is wanted too.
    bench : Bench
        Whose accuracy enters the uncertainties.
    """

    plate_voltages: tuple[float, ...] = ()
    plane: bool = False
    bench: Bench = UNSTATED_BENCH


def courses_of(
    assessments: Sequence[Assessment],
    wanted: CoursesWanted = CoursesWanted(),
    progress: Callable[[int, int, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Courses, ...]:
    """Return each tube's constants as functions."""
    found: list[Courses] = []
    for done, assessment in enumerate(assessments, start=1):
        if should_stop is not None and should_stop():
            break
        found.append(_courses(assessment, wanted))
        if progress is not None:
            progress(done, len(assessments), assessment.sweep.title)
    return tuple(found)


def _courses(assessment: Assessment, wanted: CoursesWanted) -> Courses:
    reason, usual = why_no_course(assessment), usual_plate_voltage(assessment)
    if reason is not None:
        return Courses(assessment, reason=reason)
    voltages = wanted.plate_voltages or (() if usual is None else (usual,))
    return Courses(
        assessment,
        tuple(constants_along_current(assessment, volts, wanted.bench) for volts in voltages),
        constants_over_plane(assessment, wanted.bench) if wanted.plane else None,
    )
