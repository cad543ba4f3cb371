"""More and tighter sets out of good ones: what lies close together is put together anew."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curvelab.matching.lot import Lot
from curvelab.matching.patience import Patience, StoppedError
from curvelab.sweep.records import IntArray

__all__ = ["improved"]

_TUBES = 20  # about so many in sets are put together anew
_LOOSE = 10  # with so many in none
_SLACK = 1e-9


def improved(
    lot: Lot, sets: IntArray, best: Callable[[Lot], IntArray], patience: Patience
) -> IntArray:
    """Return more or tighter disjoint sets than these, as far as that goes part by part.

    Parameters
    ----------
    sets : ndarray of int, shape (s, size)
    best : callable
        Returns the best sets of a small lot.
    """
    settled: set[tuple[int, ...]] = set()
    while True:
        spread = lot.spread(sets)
        left = [row for row, one in enumerate(sets.tolist()) if tuple(one) not in settled]
        try:
            patience.check()
        except StoppedError:
            return sets
        if not left:
            return sets
        row = max(left, key=lambda one: float(spread[one]))
        settled.add(tuple(sets[row].tolist()))
        sets = _renewed(lot, sets, row, best)


def _renewed(lot: Lot, sets: IntArray, row: int, best: Callable[[Lot], IntArray]) -> IntArray:
    """Return the sets with one of them, and those around it, put together anew."""
    away = lot.distance[sets[row]].min(axis=0)
    nearness = away[sets].min(axis=1)
    nearness[row] = -1.0
    around = np.argsort(nearness, kind="stable")[: max(2, _TUBES // lot.size)]
    loose = np.setdiff1d(np.flatnonzero(np.isfinite(away)), sets)
    loose = loose[np.argsort(away[loose], kind="stable")[:_LOOSE]]
    tubes = np.concatenate([sets[around].ravel(), loose])
    found = best(lot.of(tubes))
    old, new = lot.spread(sets[around]).sum(), lot.spread(tubes[found]).sum()
    if (-len(found), new) >= (-len(around), old - _SLACK):
        return sets
    return np.concatenate([np.delete(sets, around, axis=0), np.sort(tubes[found], axis=1)])
