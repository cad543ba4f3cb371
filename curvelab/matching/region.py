"""The working region: the points at which whole curves are compared.

A rectangle of plate and grid voltages around the operating point, of which those points are
kept that a working tube visits: the grid not positive, no rating exceeded, the middle tube's
current neither near cut-off, where ratios say nothing, nor far above its current at the
operating point. The tubes' sweeps decide the rest: tubes that cover less than half of these
points are set aside, and the region is what all others cover.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.records import PlateFamily
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["WorkingRegion", "choose_region"]

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
        Which of the families cover all of them.
    words : str
        One sentence for people: what the region is, or why there is none.
    """

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    covered: BoolArray
    words: str


def choose_region(
    families: Sequence[PlateFamily],
    at: tuple[float, float],
    ratings: Mapping[str, float],
) -> WorkingRegion:
    """Return the common working region of tubes of one type.

    Parameters
    ----------
    families : sequence of PlateFamily, length n
    at : tuple of float
        Operating point (Vp, Vg) [V].
    ratings : mapping of str to float
        Of the type, where known: ``plate_voltage`` [V], ``plate_dissipation`` [W].
    """
    plate, grid = _visited(families, at, ratings)
    if not plate.size:
        return _none(len(families), "no point around the operating point carries enough current")
    covers = np.array([family.covers(plate, grid) for family in families])
    enough = covers.mean(axis=1) >= _LEAST_COVERED
    common = covers[enough].all(axis=0) if enough.any() else np.zeros(plate.size, dtype=bool)
    if common.sum() < _LEAST_POINTS:
        return _none(
            len(families), f"the sweeps share {common.sum()} points around the operating point only"
        )
    plate, grid = plate[common], grid[common]
    return WorkingRegion(plate, grid, enough, _words(plate, grid, at, int(enough.sum())))


def _visited(
    families: Sequence[PlateFamily], at: tuple[float, float], ratings: Mapping[str, float]
) -> tuple[FloatArray, FloatArray]:
    """Return the points around the operating point where a tube of the lot works."""
    volts = at[0] * _PLATE
    # Around a point without bias only the plate voltage is varied.
    bias = 0.0 - _GRID * abs(at[1]) if at[1] < 0 else np.zeros(1)
    plate, grid = (axis.ravel() for axis in np.meshgrid(volts, bias))
    currents = np.array([family.current(plate, grid) for family in families])
    middle = np.median(currents, axis=0)
    own = np.median([family.current(np.array(at[0]), np.array(at[1])) for family in families])
    kept = (middle >= _LEAST_CURRENT * own) & (middle <= _MOST_CURRENT * own)
    kept &= (currents > 0).all(axis=0)
    if "plate_voltage" in ratings:
        kept &= plate <= ratings["plate_voltage"]
    if "plate_dissipation" in ratings:
        kept &= plate * middle <= ratings["plate_dissipation"]
    return plate[kept], grid[kept]


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
