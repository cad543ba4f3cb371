"""Trying tubes in a class A stage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from curvelab.assessment.constant_courses import why_no_course
from curvelab.assessment.records import Assessment
from curvelab.stage.load_line import fixed_bias_point
from curvelab.stage.records import Stage
from curvelab.stage.single_ended import single_ended

__all__ = ["StageTried", "stages_of"]


@dataclass(frozen=True, slots=True, eq=False)
class StageTried:
    """A tube with its stage, or why it has none."""

    assessment: Assessment
    stage: Stage | None
    reason: str | None = None


def stages_of(
    assessments: Sequence[Assessment], load_resistance: float, signal_peak: float | None = None
) -> tuple[StageTried, ...]:
    """Return what each tube gives at its operating point into a load [ohm].

    Parameters
    ----------
    signal_peak : float or None
        Grid signal [V]; None for all that the bias allows.
    """
    return tuple(_stage(assessment, load_resistance, signal_peak) for assessment in assessments)


def _stage(assessment: Assessment, load_resistance: float, peak: float | None) -> StageTried:
    family, point = assessment.fit.family, assessment.operating_point
    reason = why_no_course(assessment)
    if reason is not None or family is None or point is None:
        reason = reason or assessment.fit.reason or "no family of curves could be fitted"
        return StageTried(assessment, None, reason)
    rest = fixed_bias_point(family, point.plate_voltage, point.grid_voltage)
    stage = single_ended(family, rest, load_resistance, peak, assessment.tube_type)
    return StageTried(assessment, stage, stage.reason)
