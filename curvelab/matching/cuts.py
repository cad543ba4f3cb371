"""Inequalities that every whole-numbered matching keeps and the linear program breaks.

Of three tubes, whatever the sets are, at most once can two of them be in one set: the subset-row
inequalities (Jepsen, Petersen, Spoorendonk and Pisinger, "Subset-row inequalities applied to
the vehicle-routing problem with time windows", Oper. Res. 56 (2008) 497).
"""

from __future__ import annotations

import numpy as np

from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["broken_cuts", "coefficients"]

_BROKEN_BY = 0.01
_MOST_TRIPLES = 100  # a round
_WHOLE = 1e-6


def coefficients(held: BoolArray, sets: IntArray) -> FloatArray:
    """Return how often each set counts in each cut: half of the tubes it shares, rounded down.

    Parameters
    ----------
    held : ndarray of bool, shape (c, n)
    sets : ndarray of int, shape (m, size)

    Returns
    -------
    ndarray, shape (c, m)
    """
    shared = np.zeros((len(held), len(sets)), dtype=np.int8)
    for place in range(sets.shape[1]):
        shared += held[:, sets[:, place]]
    counts: FloatArray = (shared // 2).astype(float)
    return counts


def broken_cuts(sets: IntArray, share: FloatArray, count: int) -> BoolArray:
    """Return cuts that a solution of the linear program breaks; shape (c, n), maybe c = 0.

    Parameters
    ----------
    sets : ndarray of int, shape (m, size)
    share : ndarray, shape (m,)
        How much of each set the solution takes.
    count : int
        Tubes, n.
    """
    partial = (share > _WHOLE) & (share < 1 - _WHOLE)
    if not partial.any():
        return np.zeros((0, count), dtype=bool)
    groups = _triples(sets[partial], share[partial], count)
    held = np.zeros((len(groups), count), dtype=bool)
    for row, group in enumerate(sorted(groups)):
        held[row, group] = True
    return held


def _triples(sets: IntArray, weight: FloatArray, count: int) -> list[list[int]]:
    """Return the triples of tubes that are broken most."""
    tubes = np.unique(sets)
    member = np.zeros((len(sets), count), dtype=bool)
    member[np.arange(len(sets))[:, None], sets] = True
    member = member[:, tubes]
    together = (member * weight[:, None]).T @ member
    found = []
    for first in range(len(tubes) - 2):
        rest = together[first, first + 1 :]
        sums = together[first + 1 :, first + 1 :] + rest + rest[:, None]
        second, third = np.nonzero(np.triu(sums, 1) > 1 + _BROKEN_BY)
        found.append(np.column_stack([np.full(second.size, -1), second, third]) + first + 1)
    triple = np.concatenate([np.zeros((0, 3), dtype=int), *found])
    a, b, c = triple.T
    total = together[a, b] + together[a, c] + together[b, c]
    all_three = member[:, triple].all(axis=2)
    total = total - 2 * (weight @ all_three)
    worst = np.argsort(-total, kind="stable")[:_MOST_TRIPLES]
    return [tubes[triple[row]].tolist() for row in worst if total[row] > 1 + _BROKEN_BY]
