"""Tubes that differ in one figure only: best sets in one pass."""

from __future__ import annotations

import numpy as np

from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["pack_line"]


def pack_line(position: FloatArray, size: int, reach: float) -> IntArray:
    """Return most sets, then tightest, of tubes along a line; shape (s, size).

    Two sets that overlap on the line can be exchanged for two neighbouring ones that are
    together no wider, each no wider than the wider of the two; a tube within a set that is
    not of it can take an end's place. So some best matching consists of runs of neighbours,
    and going through the tubes in order finds it.

    Parameters
    ----------
    position : ndarray, shape (n,)
        Spread is the difference of positions, so they are logarithms of the figure.
    reach : float
        The widest a set may be.
    """
    order = np.argsort(position, kind="stable")
    along = position[order]
    best: list[tuple[int, float]] = [(0, 0.0)]  # minus the number of sets, total spread
    taken = [False]
    for end in range(1, len(along) + 1):
        best.append(best[end - 1])
        taken.append(False)
        if end < size:
            continue
        width = float(along[end - 1] - along[end - size])
        fewer, total = best[end - size]
        if width <= reach and (fewer - 1, total + width) < best[end]:
            best[end], taken[end] = (fewer - 1, total + width), True
    runs = []
    end = len(along)
    while end > 0:
        if taken[end]:
            runs.append(order[end - size : end])
            end -= size
        else:
            end -= 1
    return np.array(runs[::-1], dtype=np.int64).reshape(-1, size)
