"""Keeping the labels at the ends of curves apart."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["spread"]


def spread(wanted: Sequence[float], distance: float, low: float, high: float) -> list[float]:
    """Move positions as little as possible so that they stand ``distance`` apart.

    Parameters
    ----------
    wanted : sequence of float
        Where each would like to be, ascending.
    low, high : float
        All positions stay inside, as far as there is room.

    Returns
    -------
    list of float
        In the same order, the least-squares choice (isotonic regression of ``wanted``
        less the distances, by pooling adjacent violators).
    """
    pools: list[tuple[float, int]] = []  # mean and size of each pool of touching labels
    for number, position in enumerate(wanted):
        mean, size = position - number * distance, 1
        while pools and pools[-1][0] > mean:
            earlier, count = pools.pop()
            mean, size = (earlier * count + mean * size) / (count + size), count + size
        pools.append((mean, size))
    ceiling = high - (len(wanted) - 1) * distance
    level = [max(low, min(mean, ceiling)) for mean, size in pools for _ in range(size)]
    return [base + number * distance for number, base in enumerate(level)]
