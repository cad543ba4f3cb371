"""The plot of a log at fixed bias: plate current against time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.health.records import DriftReport
from curvelab.quantities import MILLIAMPERE, PLATE_CURRENT
from curvelab.sheets.plot_parts import marks_of, points_of, rating_label
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import trimmed
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.records import FloatArray

__all__ = ["drift_picture"]

_RATING_REACH = 1.25  # a limit this far above the log is still shown
_LEAST_SPAN = 0.02  # of the current: a flat log must look flat
_MINUTES_FROM = 180.0


def drift_picture(assessment: Assessment) -> CurvePicture:
    """Return the plate current of a log against time, with its fitted behaviour."""
    readings, report = assessment.sweep.readings, assessment.drift
    current = readings.plate_current / MILLIAMPERE.si
    seconds = readings.time if readings.time is not None else np.full(len(readings), np.nan)
    last = float(np.nanmax(seconds, initial=0.0)) if np.isfinite(seconds).any() else 0.0
    scale, unit = (60.0, "min") if last >= _MINUTES_FROM else (1.0, "s")
    time = seconds / scale
    lines = [] if report is None else list(_behaviour(report, last, scale))
    end = max([last / scale, *(float(line.x.max()) for line in lines)])
    lines.extend(_dissipation_level(assessment, lines, end))
    return CurvePicture(
        title=assessment.sweep.title,
        x=round_axis(f"time ({unit})", 0.0, end),
        y=_spanning_axis([current, *(line.y for line in lines)]),
        series=(*lines, *points_of(time, current, _not_judged(assessment), "")),
        marks=marks_of(assessment.findings, time, current),
        step_count=1,
    )


def _behaviour(report: DriftReport, last: float, scale: float) -> Iterator[Series]:
    """Yield the fit as far as the log goes, and from there the projection."""
    time, fitted = np.asarray(report.time), np.asarray(report.fitted) / MILLIAMPERE.si
    inside = int(np.searchsorted(time, last, side="right"))
    for role, part in (
        (Role.FITTED, slice(0, inside)),
        (Role.PROJECTED, slice(max(inside - 1, 0), None)),
    ):
        if time[part].size > 1:
            yield Series(role, str(role), time[part] / scale, fitted[part])


def _not_judged(assessment: Assessment) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    count = len(assessment.sweep.readings)
    if assessment.drift is None or not assessment.drift.readings:
        return np.zeros(count, dtype=np.bool_)
    return ~np.isin(np.arange(count), assessment.drift.readings)


def _dissipation_level(
    assessment: Assessment, lines: Sequence[Series], end: float
) -> Iterator[Series]:
    """Yield the current at the dissipation limit, where the log comes anywhere near it."""
    limit = assessment.tube_type.rating("plate_dissipation") if assessment.tube_type else None
    readings = assessment.sweep.readings
    if limit is None or not len(readings) or np.median(readings.plate_voltage) <= 0:
        return
    level = limit.value / float(np.median(readings.plate_voltage)) / MILLIAMPERE.si
    highest = float(readings.plate_current.max()) / MILLIAMPERE.si
    if level <= _RATING_REACH * max([highest, *(float(line.y.max()) for line in lines)]):
        label = rating_label(f"{trimmed(limit.value)} W", limit)
        yield Series(Role.DISSIPATION, label, np.array([0.0, end]), np.array([level, level]))


def _spanning_axis(currents: Sequence[FloatArray]) -> Axis:
    """Return a current axis that shows a small drift without making much of noise."""
    every = np.concatenate(currents)
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    middle, half = (low + high) / 2, max((high - low) / 2, _LEAST_SPAN * abs(high), 1e-6)
    return round_axis(PLATE_CURRENT.axis_label, middle - 1.1 * half, middle + 1.1 * half)
