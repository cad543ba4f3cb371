"""The blossom inequalities that a fractional solution of pairs breaks, all of them found.

A group of an odd number of tubes is broken when less than one leaves it: the pairs that cross
its border and what its tubes leave unused. The least such border over all odd groups is among
the cuts of a cut tree (Padberg and Rao, "Odd minimum cut-sets and b-matchings", Math. Oper.
Res. 7 (1982) 67); the tree takes one maximum flow a tube (Gusfield, "Very simple methods for
all pairs network flow analysis", SIAM J. Comput. 19 (1990) 143).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["odd_groups"]

_UNITS = 1_000_000  # of capacity: the flow is computed in whole numbers
_BROKEN_BY = 1e-4


def odd_groups(pairs: IntArray, weight: FloatArray, count: int) -> list[list[int]]:
    """Return odd groups whose inequality is broken.

    Parameters
    ----------
    pairs : ndarray of int, shape (m, 2)
        Those taken in part.
    weight : ndarray, shape (m,)
    count : int
        Tubes in all.
    """
    from scipy.sparse import coo_matrix  # noqa: PLC0415 (scipy is not needed to start)
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    one, other = pairs.T
    graph = coo_matrix((weight, (one, other)), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    found = []
    for group in np.unique(label[one]):
        tubes = np.flatnonzero(label == group)
        inside = label[one] == group
        local = np.searchsorted(tubes, pairs[inside])
        found += [tubes[side].tolist() for side in _broken(local, weight[inside], tubes.size)]
    return found


def _broken(pairs: IntArray, weight: FloatArray, count: int) -> Iterator[BoolArray]:
    """Yield broken odd groups of one connected piece, as masks of its tubes."""
    capacity = np.zeros((count + 1, count + 1), dtype=np.int64)
    whole = np.rint(weight * _UNITS).astype(np.int64)
    capacity[pairs[:, 0], pairs[:, 1]] = whole
    capacity += capacity.T
    # What a tube leaves unused goes to one place outside.
    capacity[count, :count] = np.maximum(_UNITS - capacity[:count, :count].sum(axis=1), 0)
    capacity[:count, count] = capacity[count, :count]
    for side in _tree_sides(capacity):
        group = ~side if side[count] else side
        if group.sum() % 2 == 1:
            border = capacity[group][:, ~group].sum()
            if border < (1 - _BROKEN_BY) * _UNITS:
                yield group[:count]


def _tree_sides(capacity: IntArray) -> Iterator[BoolArray]:
    """Yield one side of each cut of a cut tree."""
    size = len(capacity)
    parent = np.zeros(size, dtype=int)
    for source in range(1, size):
        target = int(parent[source])
        side = _least_cut(capacity, source, target)
        moved = side & (parent == target)
        moved[source] = False
        parent[moved] = source
        if side[parent[target]]:
            parent[source], parent[target] = parent[target], source
    for node in range(size):
        if parent[node] != node:
            yield _below(parent, node)


def _below(parent: IntArray, node: int) -> BoolArray:
    """Return which nodes hang on ``node``."""
    below = np.zeros(len(parent), dtype=bool)
    below[node] = True
    while (wider := below | below[parent]).sum() > below.sum():
        below = wider
        below[parent == np.arange(len(parent))] = False
    return below


def _least_cut(capacity: IntArray, source: int, target: int) -> BoolArray:
    """Return the source's side of a least cut."""
    from scipy.sparse import csr_matrix  # noqa: PLC0415
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow  # noqa: PLC0415

    flow = maximum_flow(csr_matrix(capacity, dtype=np.int32), source, target).flow
    left = csr_matrix(capacity - flow.toarray())
    left.eliminate_zeros()
    reached = breadth_first_order(left, source, return_predecessors=False)
    side = np.zeros(len(capacity), dtype=bool)
    side[reached] = True
    return side
