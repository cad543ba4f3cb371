"""Cutting lines at the edges of a plot, so that no painter needs to clip."""

from __future__ import annotations

import numpy as np

from curvelab.sweep.records import FloatArray

__all__ = ["inside_runs"]

Line = tuple[FloatArray, FloatArray]


def inside_runs(
    x: FloatArray, y: FloatArray, across: tuple[float, float], up: tuple[float, float]
) -> list[Line]:
    """Return the parts of a line inside a rectangle, with its crossings of the edges.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
    across, up : tuple of float
        Lowest and highest ``x``, and ``y``, of the rectangle.

    Returns
    -------
    list of (ndarray, ndarray)
        Each of two points or more.
    """
    runs = [(x, y)]
    for axis, bounds in ((0, across), (1, up)):
        for edge, sign in ((bounds[0], 1.0), (bounds[1], -1.0)):
            runs = [part for run in runs for part in _one_side(run, axis, edge, sign)]
    return runs


def _one_side(line: Line, axis: int, edge: float, sign: float) -> list[Line]:
    """Return the parts where ``sign * (coordinate - edge)`` is not negative."""
    above = sign * (line[axis] - edge)
    if (above >= 0).all():
        return [line] if above.size > 1 else []
    points = np.column_stack(line)
    crossing = np.flatnonzero((above[:-1] >= 0) != (above[1:] >= 0))
    share = above[crossing] / (above[crossing] - above[crossing + 1])
    added = points[crossing] + share[:, None] * (points[crossing + 1] - points[crossing])
    merged = np.insert(points, crossing + 1, added, axis=0)
    kept = np.insert(above, crossing + 1, 0.0) >= 0
    # A crossing belongs to the run on its inner side; runs are stretches of kept points.
    edges = np.flatnonzero(np.diff(np.concatenate(([0], kept.astype(np.int8), [0]))))
    return [
        (merged[start:stop, 0], merged[start:stop, 1])
        for start, stop in zip(edges[::2], edges[1::2], strict=True)
        if stop - start > 1
    ]
