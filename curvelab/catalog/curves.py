"""A fitted family sampled on a grid, so that tubes are compared without fitting again."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from curvelab.errors import SweepShapeError
from curvelab.fitting.records import FitResult
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["CurveGrid", "sample_curves"]

_PLATE_STEPS, _GRID_STEPS = 16, 12  # at least so many; rounding the step gives up to 2.5 times
_ROUND = (5.0, 2.0, 1.0)
_NEARLY = 1.02  # a sweep of 7.99 V is one of 8 V
# The three-halves law (Child 1911, Langmuir 1913): its two-thirds power is nearly a plane,
# which straight lines between nodes follow well.
_STRAIGHT = 2.0 / 3.0


@dataclass(frozen=True, slots=True, eq=False)
class CurveGrid:
    """Plate current over the working region of one tube.

    Nodes are multiples of a step of 1, 2 or 5 times a power of ten, so that tubes swept
    alike share them.

    Attributes
    ----------
    plate_voltage : ndarray, shape (p,)
        Ascending [V].
    grid_voltage : ndarray, shape (g,)
        Ascending [V].
    plate_current : ndarray, shape (g, p)
        [A]; the fitted family everywhere, where ``covered`` is false an extrapolation.
    covered : ndarray of bool, shape (g, p)
        Whether readings stand behind it.

    Raises
    ------
    SweepShapeError
        If the arrays do not belong together or hold what is not finite.
    """

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray
    covered: BoolArray

    def __post_init__(self) -> None:
        for item in fields(self):
            dtype = np.bool_ if item.name == "covered" else np.float64
            array: np.ndarray = np.array(getattr(self, item.name), dtype=dtype)
            array.setflags(write=False)
            object.__setattr__(self, item.name, array)
        shape = (self.grid_voltage.size, self.plate_voltage.size)
        if self.plate_current.shape != shape or self.covered.shape != shape:
            raise SweepShapeError(f"the grid has {shape} nodes, its current another number")
        for axis in (self.plate_voltage, self.grid_voltage):
            if axis.ndim != 1 or axis.size < 2 or not bool((np.diff(axis) > 0).all()):
                raise SweepShapeError("each axis of a grid must ascend over at least two nodes")
        if not np.isfinite(self.plate_current).all():
            raise SweepShapeError("the plate current of a grid must be finite")

    def current_at(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> FloatArray:
        """Return the plate current [A] between the nodes; NaN where a corner is not covered.

        Bilinear in the two-thirds power of the current. Arguments [V] broadcast together.
        """
        plate, grid = np.broadcast_arrays(
            np.asarray(plate_voltage, dtype=float), np.asarray(grid_voltage, dtype=float)
        )
        column, along = _place(self.plate_voltage, plate)
        row, across = _place(self.grid_voltage, grid)
        straight = np.maximum(self.plate_current, 0.0) ** _STRAIGHT
        total = np.zeros(plate.shape)
        backed = (along >= 0) & (along <= 1) & (across >= 0) & (across <= 1)
        for down, share_down in ((0, 1 - across), (1, across)):
            for right, share_right in ((0, 1 - along), (1, along)):
                share = share_down * share_right
                total += share * straight[row + down, column + right]
                backed &= self.covered[row + down, column + right] | (share == 0)
        with np.errstate(invalid="ignore"):
            return np.where(backed, np.maximum(total, 0.0) ** (1 / _STRAIGHT), np.nan)


def _place(axis: FloatArray, value: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Return the node below each value and the share of the way to the next."""
    below = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, axis.size - 2)
    share = (value - axis[below]) / (axis[below + 1] - axis[below])
    near = np.round(share)  # a node is a node in spite of the dust of decimals
    return below, np.where(np.abs(share - near) < 1e-9, near, share)


def sample_curves(fit: FitResult) -> CurveGrid | None:
    """Return the fitted family over what its readings cover; None where there is none."""
    family, hull = fit.family, fit.hull
    if family is None or hull is None or not hull.is_plane:
        return None
    plate = _nodes(float(hull.origin[0]), float(hull.span[0]), _PLATE_STEPS)
    grid = _nodes(float(hull.origin[1]), float(hull.span[1]), _GRID_STEPS)
    points = np.meshgrid(plate, grid)
    current = np.asarray(family.current(points[0], points[1]))
    if not np.isfinite(current).all():
        return None
    return CurveGrid(plate, grid, current, family.covers(points[0], points[1]))


def _nodes(low: float, span: float, steps: int) -> FloatArray:
    """Return the round voltages from ``low`` on; the ends are those just within the range."""
    decade = 10.0 ** math.floor(math.log10(span / steps * _NEARLY))
    factor = next(factor for factor in _ROUND if factor * decade <= span / steps * _NEARLY)
    step = factor * decade
    slack = 0.02 * step  # a supply set to -8 V reads -7.99
    first, last = math.ceil((low - slack) / step), math.floor((low + span + slack) / step)
    return np.round(np.arange(first, last + 1) * step, 9)
