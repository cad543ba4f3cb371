"""What may be put together, and what was."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["Lot", "Packing"]


@dataclass(frozen=True, slots=True, eq=False)
class Lot:
    """What may be put together.

    Attributes
    ----------
    distance : ndarray, shape (n, n)
        Between two tubes, in units of tolerance; infinite where they may not be in one set.
    size : int
        Tubes in a set.
    lots : ndarray of int, shape (n,), or None
        Where sets must hold tubes of both lots: the lot of each tube.
    """

    distance: FloatArray
    size: int
    lots: IntArray | None = None

    def of(self, tubes: IntArray) -> Lot:
        """Return some of the tubes as a lot of their own."""
        lots = None if self.lots is None else self.lots[tubes]
        return Lot(self.distance[np.ix_(tubes, tubes)], self.size, lots)

    def spread(self, sets: IntArray) -> FloatArray:
        """Return the largest distance within each set; ``sets`` has shape (m, size)."""
        worst = np.zeros(len(sets))
        for place in range(1, self.size):
            for other in range(place):
                np.maximum(worst, self.distance[sets[:, place], sets[:, other]], out=worst)
        return worst

    def admits(self, sets: IntArray) -> BoolArray:
        """Tell which sets hold tubes of both lots, where that is asked for."""
        if self.lots is None:
            return np.ones(len(sets), dtype=bool)
        lots = self.lots[sets]
        return np.asarray(lots.min(axis=1) != lots.max(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class Packing:
    """Disjoint sets, and how good they are known to be.

    Attributes
    ----------
    sets : ndarray of int, shape (s, size)
    spread : float
        Sum of the sets' spreads, in units of tolerance.
    most_sets : int
        No matching has more.
    least_spread : float
        No matching of ``most_sets`` sets has less.
    """

    sets: IntArray
    spread: float
    most_sets: int
    least_spread: float
