"""How well a bench repeats itself: within a session, and from one to the next.

One-way analysis of variance, as ISO 5725-2:2019 (clause 7.5) uses it for repeatability and
reproducibility: s_r^2 pooled within groups, s_L^2 = (MS_between - s_r^2) / n between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.errors import BenchCheckError
from curvelab.sweep.records import FloatArray

__all__ = ["Repeatability", "pooled_deviation", "repeatability"]


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Standard deviations, in the unit of the values.

    Attributes
    ----------
    within : float
        Pooled over the groups, with ``within_freedom`` degrees of freedom.
    between : float
        Of the groups' means beyond what the scatter within explains; 0 where it explains all.
    total : float
        Of a single value of a group of its own.
    between_mean_square : float
        With ``between_freedom`` degrees of freedom.
    """

    within: float
    within_freedom: int
    between: float
    between_freedom: int
    total: float
    between_mean_square: float


def pooled_deviation(groups: Sequence[FloatArray]) -> tuple[float, int]:
    """Return the pooled standard deviation of groups about their means, and its freedom.

    Raises
    ------
    BenchCheckError
        If no group holds two values.
    """
    freedom = sum(group.size - 1 for group in groups if group.size)
    if freedom < 1:
        raise BenchCheckError("a pooled standard deviation needs a group of two values")
    squares = sum(float(((group - group.mean()) ** 2).sum()) for group in groups if group.size)
    return (squares / freedom) ** 0.5, freedom


def repeatability(groups: Sequence[FloatArray]) -> Repeatability:
    """Part the scatter of one quantity into that within groups and that between them.

    Parameters
    ----------
    groups : sequence of ndarray
        The values of each session or each seating; their sizes may differ.

    Raises
    ------
    BenchCheckError
        If there are fewer than two groups, or none with two values.
    """
    groups = [group for group in groups if group.size]
    if len(groups) < 2:
        raise BenchCheckError("within and between need two groups")
    within, freedom = pooled_deviation(groups)
    sizes = np.array([group.size for group in groups], dtype=np.float64)
    means = np.array([group.mean() for group in groups])
    grand = float(sizes @ means / sizes.sum())
    between_freedom = len(groups) - 1
    mean_square = float(sizes @ (means - grand) ** 2) / between_freedom
    size = float((sizes.sum() - (sizes**2).sum() / sizes.sum()) / between_freedom)
    between = max(0.0, (mean_square - within**2) / size) ** 0.5
    return Repeatability(
        within=within,
        within_freedom=freedom,
        between=between,
        between_freedom=between_freedom,
        total=float(np.hypot(within, between)),
        between_mean_square=mean_square,
    )
