"""How far one family lies from another over the plane of plate and grid volts, in percent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.records import PlateFamily
from curvelab.quantities import GRID_VOLTAGE, PLATE_VOLTAGE
from curvelab.sheets.reference_used import reference_used
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.records import BoolArray, FloatArray, SweepKind

__all__ = ["PlanePicture", "deviation_picture", "difference_picture"]

_CELLS = (36, 27)  # plate by grid volts
# Below this share of the largest current of the plane a deviation in percent says nothing.
_FLOWING = 0.02
# The scale ends at one of these [%]; what lies beyond has the colour of the end.
_ENDS = (5.0, 10.0, 20.0, 50.0, 100.0)
_WITHIN = 0.8  # of the cells lie inside the scale: toward cut-off percents grow without end


@dataclass(frozen=True, slots=True, eq=False)
class PlanePicture:
    """Percent over the plane.

    Attributes
    ----------
    percent : ndarray, shape (columns, rows)
        At the middle of each cell, from the lowest plate and grid volts up; NaN where no
        readings or no current stand behind it.
    plate_edges, grid_edges : ndarray, shapes (columns + 1,), (rows + 1,)
        [V].
    extrapolated : ndarray of bool, shape (columns, rows)
        Where the family compared with is not backed by its published figures.
    end : float
        Where the scale of colours ends, on both sides of zero [%].
    readings : ndarray, shape (n, 2)
        (Vp, Vg) of the readings [V].
    title, zero : str
        What is compared, and what zero percent means.
    reason : str or None
        Why there is no picture; then the arrays are empty.
    """

    title: str
    x: Axis
    y: Axis
    percent: FloatArray
    plate_edges: FloatArray
    grid_edges: FloatArray
    extrapolated: BoolArray
    end: float
    readings: FloatArray
    zero: str
    reason: str | None = None

    @property
    def middle(self) -> float | None:
        """The middle one of the cells [%]; None without any."""
        known = self.percent[np.isfinite(self.percent)]
        return float(np.median(known)) if known.size else None

    @property
    def note(self) -> str:
        """What the colours and marks mean, in one line."""
        if self.middle is None:
            return ""
        said = f"{self.title} against {self.zero}: {self.middle:+.1f} % in the middle"
        said += "; dots: readings"
        if self.extrapolated.any():
            said += "; hatched: no published figure near"
        blank = "; blank: no readings around it, or next to no current"
        return said + blank if np.isnan(self.percent).any() else said

    def at(self, plate_voltage: float, grid_voltage: float) -> float | None:
        """Return the percent of the cell at a point [V], None outside what is covered."""
        column = int(np.searchsorted(self.plate_edges, plate_voltage, side="right")) - 1
        row = int(np.searchsorted(self.grid_edges, grid_voltage, side="right")) - 1
        columns, rows = self.percent.shape
        if not (0 <= column < columns and 0 <= row < rows):
            return None
        value = float(self.percent[column, row])
        return value if np.isfinite(value) else None


def deviation_picture(assessment: Assessment) -> PlanePicture:
    """Return how far the plate current of a tube lies from its reference family's, in percent.

    Only where the readings cover the plane; zero is the handbook's family.
    """
    title, reference = assessment.sweep.title, assessment.reference
    reason = _why_no_family(assessment)
    if reason is None and reference is None:
        reason = "no reference family is known for this tube"
    if reason is not None or reference is None or assessment.fit.family is None:
        return _empty(title, reason or "no family")
    used = reference_used(assessment)
    zero = f"the family of {reference.type_name}"
    if used is not None and used.why == "stand-in":
        zero += " as a stand-in"
    return _picture(title, (assessment,), reference, zero)


def difference_picture(first: Assessment, second: Assessment) -> PlanePicture:
    """Return how far the plate current of one tube lies from another's, in percent.

    Where the readings of both cover the plane; zero is where ``second`` equals ``first``.
    """
    title = second.sweep.title
    for one in (first, second):
        reason = _why_no_family(one)
        if reason is not None:
            return _empty(title, f"{one.sweep.title}, {reason}")
    assert first.fit.family is not None
    return _picture(title, (second, first), first.fit.family, first.sweep.title)


def _why_no_family(assessment: Assessment) -> str | None:
    if assessment.sweep.kind is SweepKind.DRIFT_LOG:
        return "a drift log stays at one point of the plane"
    if assessment.fit.family is None:
        return assessment.fit.reason or "the readings make no family of curves"
    return None


def _empty(title: str, reason: str) -> PlanePicture:
    x, y = (round_axis(q.axis_label, 0.0, 1.0) for q in (PLATE_VOLTAGE, GRID_VOLTAGE))
    nothing = np.empty((0, 0))
    return PlanePicture(
        title, x, y, nothing, np.empty(0), np.empty(0), nothing.astype(bool), _ENDS[0],
        np.empty((0, 2)), "", reason,
    )  # fmt: skip


def _picture(
    title: str, tubes: Sequence[Assessment], zero_family: PlateFamily, zero: str
) -> PlanePicture:
    """Compare the first of ``tubes`` with a family where the readings of all cover the plane."""
    tube = tubes[0]
    family, ends = tube.fit.family, _common_ends(tubes)
    assert family is not None
    if ends is None:
        return _empty(title, "the two sweeps have no voltages in common")
    (left, right), (low, high) = ends
    plate_edges: FloatArray = np.linspace(left, right, _CELLS[0] + 1)
    grid_edges: FloatArray = np.linspace(low, high, _CELLS[1] + 1)
    middles = [(edges[:-1] + edges[1:]) / 2 for edges in (plate_edges, grid_edges)]
    plate, grid = np.meshgrid(*middles, indexing="ij")
    covered = np.ones(plate.shape, dtype=bool)
    for one in tubes:
        assert one.fit.family is not None
        covered &= one.fit.family.covers(plate, grid)
    against = zero_family.current(plate, grid)
    largest = float(np.max(against, initial=0.0, where=covered & np.isfinite(against)))
    known = covered & (against > _FLOWING * largest)
    with np.errstate(divide="ignore", invalid="ignore"):
        percent = np.where(known, 100 * (family.current(plate, grid) / against - 1), np.nan)
    readings = tube.sweep.readings
    if not np.isfinite(percent).any():
        return _empty(title, "no plate current flows where the readings cover the plane")
    return PlanePicture(
        title=title,
        x=round_axis(PLATE_VOLTAGE.axis_label, left, right),
        y=round_axis(GRID_VOLTAGE.axis_label, low, high),
        percent=percent,
        plate_edges=plate_edges,
        grid_edges=grid_edges,
        extrapolated=known & ~zero_family.covers(plate, grid),
        end=_end(percent),
        readings=np.column_stack([readings.plate_voltage, readings.grid_voltage]),
        zero=zero,
    )


def _common_ends(
    tubes: Sequence[Assessment],
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the least and the most of plate and of grid volts that every tube was swept over."""
    ends = []
    for name in ("plate_voltage", "grid_voltage"):
        values = [getattr(tube.sweep.readings, name) for tube in tubes]
        low, high = max(float(v.min()) for v in values), min(float(v.max()) for v in values)
        if not high > low:
            return None
        ends.append((low, high))
    return ends[0], ends[1]


def _end(percent: FloatArray) -> float:
    """Return the least end of the scale that holds nearly all cells."""
    most = float(np.quantile(np.abs(percent[np.isfinite(percent)]), _WITHIN))
    return next((end for end in _ENDS if most <= end), _ENDS[-1])
