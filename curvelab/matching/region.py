"""The working region: the points at which whole curves are compared.

A rectangle of plate and grid voltages around the operating point, of which those points are
kept that a working tube visits: the grid not positive, no rating exceeded, the middle tube's
current neither near cut-off, where ratios say nothing, nor far above its current at the
operating point. The tubes' sweeps decide the rest: tubes that cover less than half of these
points are set aside, and the region is what all others cover.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["CurrentAt", "WorkingRegion", "choose_region"]

# (Vp, Vg) [V] to Ip [A], NaN where no readings back it.
CurrentAt = Callable[[FloatArray, FloatArray], FloatArray]

# House rule: plate voltages from half to 1.25 times the operating point's, from no bias to
# twice its bias, a tenth to three times its current: what amplifiers use of a tube.
_PLATE = np.linspace(0.5, 1.25, 10)
_GRID = np.linspace(0.0, 2.0, 13)
_LEAST_CURRENT, _MOST_CURRENT = 0.1, 3.0
_LEAST_COVERED = 0.5
# Fewer points than this are a corner of a curve, not a region.
_LEAST_POINTS = 12


@dataclass(frozen=True, slots=True, eq=False)
class WorkingRegion:
    """The points, and how they were chosen.

    Attributes
    ----------
    plate_voltage, grid_voltage : ndarray, shape (p,)
        [V]; p is zero where there is no region.
    covered : ndarray of bool, shape (n,)
        Which of the tubes were swept at all of them.
    words : str
        One sentence for people: what the region is, or why there is none.
    """

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    covered: BoolArray
    words: str


def choose_region(
    curves: Sequence[CurrentAt],
    at: tuple[float, float],
    ratings: Mapping[str, float],
) -> WorkingRegion:
    """Return the common working region of tubes of one type.

    Parameters
    ----------
    curves : sequence of callable, length n
        Each tube's plate current [A] at points (Vp, Vg) [V], NaN where it was not swept.
    at : tuple of float
        Operating point (Vp, Vg) [V].
    ratings : mapping of str to float
        Of the type, where known: ``plate_voltage`` [V], ``plate_dissipation`` [W].
    """
    # Around a point without bias only the plate voltage is varied.
    bias = 0.0 - _GRID * abs(at[1]) if at[1] < 0 else np.zeros(1)
    plate, grid = (axis.ravel() for axis in np.meshgrid(at[0] * _PLATE, bias))
    currents = np.array([curve(plate, grid) for curve in curves]).reshape(-1, plate.size)
    own = np.array([float(curve(np.array(at[0]), np.array(at[1]))) for curve in curves])
    visited = _visited(plate, currents, own, ratings)
    if not visited.any():
        return _none(len(curves), "no point around the operating point carries enough current")
    plate, grid = plate[visited], grid[visited]
    covers = np.isfinite(currents[:, visited])
    enough = covers.mean(axis=1) >= _LEAST_COVERED
    common = covers[enough].all(axis=0) if enough.any() else np.zeros(plate.size, dtype=bool)
    if common.sum() < _LEAST_POINTS:
        return _none(
            len(curves), f"the sweeps share {common.sum()} points around the operating point only"
        )
    plate, grid = plate[common], grid[common]
    return WorkingRegion(plate, grid, enough, _words(plate, grid, at, int(enough.sum())))


def _visited(
    plate: FloatArray, currents: FloatArray, own: FloatArray, ratings: Mapping[str, float]
) -> BoolArray:
    """Tell at which points the middle tube of those swept there works."""
    if not np.isfinite(own).any():
        return np.zeros(plate.size, dtype=bool)
    swept = np.isfinite(currents).any(axis=0)
    middle = np.zeros(plate.size)
    middle[swept] = np.nanmedian(currents[:, swept], axis=0)
    usual = float(np.nanmedian(own))
    visited = (middle >= _LEAST_CURRENT * usual) & (middle <= _MOST_CURRENT * usual)
    visited &= middle > 0
    if "plate_voltage" in ratings:
        visited &= plate <= ratings["plate_voltage"]
    if "plate_dissipation" in ratings:
        visited &= plate * middle <= ratings["plate_dissipation"]
    return np.asarray(visited)


def _none(count: int, why: str) -> WorkingRegion:
    return WorkingRegion(np.empty(0), np.empty(0), np.zeros(count, dtype=bool), why)


def _words(plate: FloatArray, grid: FloatArray, at: tuple[float, float], tubes: int) -> str:
    volts = f"{plate.min():.0f} V to {plate.max():.0f} V"
    bias = f"{grid.min():.2f} V to {grid.max():.2f} V"
    current = f"{100 * _LEAST_CURRENT:.0f} % to {100 * _MOST_CURRENT:.0f} %"
    return (
        f"{plate.size} points from {volts} on the plate and {bias} on the grid, with {current} of "
        f"the middle tube's current at {at[0]:g} V, {at[1]:g} V, within the ratings, covered by "
        f"{tubes} sweeps (house rule)"
    )
