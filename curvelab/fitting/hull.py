"""The part of the (Vp, Vg) plane that readings cover: their convex hull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["Hull", "convex_hull"]

# A grid supply set to -8 V reads -7.99: a point this share of the range outside the hull
# is still on its edge.
_EDGE = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Hull:
    """A convex polygon in voltages scaled by their ranges; it may be a line or a point.

    Attributes
    ----------
    origin, span : ndarray, shape (2,)
        Smallest voltage and range of (Vp, Vg) [V]; a range of zero is kept as zero.
    corners : ndarray, shape (c, 2)
        Counter-clockwise, scaled to 0..1.
    """

    origin: FloatArray
    span: FloatArray
    corners: FloatArray

    @property
    def is_plane(self) -> bool:
        """Whether the readings span an area."""
        return len(self.corners) >= 3

    def contains(self, plate_voltage: FloatArray, grid_voltage: FloatArray) -> BoolArray:
        """Tell which points lie inside, edges included.

        For readings on one line (a single grid step, a single plate voltage) a point is
        covered when it lies on that line between its ends.
        """
        safe = np.where(self.span > 0, self.span, 1.0)
        x = (np.asarray(plate_voltage, dtype=float) - self.origin[0]) / safe[0]
        y = (np.asarray(grid_voltage, dtype=float) - self.origin[1]) / safe[1]
        if not self.is_plane:
            return np.asarray(self._near_line(x, y))
        inside = np.ones(np.broadcast(x, y).shape, dtype=bool)
        following = np.roll(self.corners, -1, axis=0)
        for (ax, ay), (bx, by) in zip(self.corners, following, strict=True):
            length = max(float(np.hypot(bx - ax, by - ay)), 1e-12)
            distance = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / length
            inside &= distance >= -_EDGE
        return inside

    def _near_line(self, x: FloatArray, y: FloatArray) -> BoolArray:
        low, high = self.corners.min(axis=0), self.corners.max(axis=0)
        # Off the line nothing is covered, however long the line is: 0.05 V is the most a
        # supply wanders around its set-point.
        slack = np.where(self.span > 0, _EDGE, 0.05)
        along_x = (x >= low[0] - slack[0]) & (x <= high[0] + slack[0])
        return np.asarray(along_x & (y >= low[1] - slack[1]) & (y <= high[1] + slack[1]))


def convex_hull(plate_voltage: FloatArray, grid_voltage: FloatArray) -> Hull:
    """Return the convex hull of readings, by Andrew's monotone chain (1979).

    Parameters
    ----------
    plate_voltage, grid_voltage : ndarray, shape (n,)
        [V]; n is at least 1.
    """
    points = np.column_stack([plate_voltage, grid_voltage])
    origin = points.min(axis=0)
    span = points.max(axis=0) - origin
    scaled = (points - origin) / np.where(span > 0, span, 1.0)
    ordered = scaled[np.lexsort((scaled[:, 1], scaled[:, 0]))]
    # Of points with one x only the lowest and the highest can be corners.
    new = np.diff(ordered[:, 0]) > 0
    first, last = np.append(True, new), np.append(new, True)
    extremes = ordered[first | last].tolist()
    lower, upper = _chain(extremes), _chain(extremes[::-1])
    corners = lower[:-1] + upper[:-1] or lower
    return Hull(origin=origin, span=span, corners=np.array(corners))


def _chain(points: list[list[float]]) -> list[list[float]]:
    chain: list[list[float]] = []
    for point in points:
        while len(chain) >= 2 and _turn(chain[-2], chain[-1], point) <= 1e-12:
            chain.pop()
        chain.append(point)
    return chain


def _turn(a: list[float], b: list[float], c: list[float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
