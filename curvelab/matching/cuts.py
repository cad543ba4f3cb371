"""Inequalities that every whole-numbered matching keeps and the linear program breaks.

Of an odd number 2 h + 1 of tubes, whatever the sets are, at most h times can two of them be in
one set. For pairs these are the blossom inequalities (Edmonds, "Maximum matching and a
polyhedron with 0,1-vertices", J. Res. NBS 69B (1965) 125); for larger sets the subset-row
inequalities (Jepsen, Petersen, Spoorendonk and Pisinger, "Subset-row inequalities applied to
the vehicle-routing problem with time windows", Oper. Res. 56 (2008) 497).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from curvelab.matching.odd_cuts import odd_groups
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["broken_cuts", "coefficients"]

_THRESHOLDS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.45)
_BROKEN_BY = 0.01
_MOST_TRIPLES = 30  # a round
_WHOLE = 1e-6
_FEW = 5  # cuts found the quick way, below which it is worth looking for all


def coefficients(held: BoolArray, sets: IntArray) -> IntArray:
    """Return how often each set counts in each cut: half of the tubes it shares, rounded down.

    Parameters
    ----------
    held : ndarray of bool, shape (c, n)
    sets : ndarray of int, shape (m, size)

    Returns
    -------
    ndarray of int, shape (c, m)
    """
    shared: IntArray = held[:, sets].sum(axis=2)
    return shared // 2


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
    chosen, weight = sets[partial], share[partial]
    if sets.shape[1] == 2:
        groups = _odd_components(chosen, weight, count)
        if len(groups) < _FEW:
            groups += odd_groups(chosen, weight, count)
    else:
        groups = _triples(chosen, weight, count)
    found = {frozenset(group) for group in groups}
    held = np.zeros((len(found), count), dtype=bool)
    for row, group in enumerate(sorted(found, key=sorted)):
        held[row, list(group)] = True
    return held


def _odd_components(pairs: IntArray, weight: FloatArray, count: int) -> list[list[int]]:
    """Return odd groups of tubes linked by pairs of at least some weight, where broken."""
    from scipy.sparse import coo_matrix  # noqa: PLC0415 (scipy is not needed to start)
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    found = []
    for threshold in _THRESHOLDS:
        strong = weight > threshold
        one, other = pairs[strong].T
        graph = coo_matrix((np.ones(one.size), (one, other)), shape=(count, count))
        _, label = connected_components(graph, directed=False)
        inside = label[pairs[:, 0]] == label[pairs[:, 1]]
        total = np.bincount(label[pairs[inside, 0]], weight[inside], minlength=count)
        size = np.bincount(label, minlength=count)
        for group in np.flatnonzero((size % 2 == 1) & (total > size // 2 + _BROKEN_BY)):
            found.append(np.flatnonzero(label == group).tolist())
    return found


def _triples(sets: IntArray, weight: FloatArray, count: int) -> list[list[int]]:
    """Return the triples of tubes that are broken most."""
    tubes = np.unique(sets)
    member = np.zeros((len(sets), count), dtype=bool)
    member[np.arange(len(sets))[:, None], sets] = True
    member = member[:, tubes]
    together = (member * weight[:, None]).T @ member
    triple = np.array(list(combinations(range(len(tubes)), 3)))
    if not triple.size:
        return []
    a, b, c = triple.T
    total = together[a, b] + together[a, c] + together[b, c]
    likely = total > 1 + _BROKEN_BY
    triple, total = triple[likely], total[likely]
    all_three = member[:, triple].all(axis=2)
    total = total - 2 * (weight @ all_three)
    worst = np.argsort(-total, kind="stable")[:_MOST_TRIPLES]
    return [tubes[triple[row]].tolist() for row in worst if total[row] > 1 + _BROKEN_BY]
