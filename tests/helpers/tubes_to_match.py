"""Invented lots of tubes for matching, and the best sets by trying all."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np

from curvelab.matching.records import Candidate, Measured, Section, WorkingCurve

AT = (250.0, -8.0)
POINTS = np.array([(150.0, -4.0), (200.0, -6.0), (250.0, -8.0), (250.0, -6.0), (300.0, -10.0)])


def figure(value: float, u95: float | None = 0.005, bench: float = 0.0) -> Measured:
    """Return a figure with relative uncertainties."""
    return Measured(value, None if u95 is None else u95 * value, bench * value)


def section(
    current: float = 9e-3, gm: float = 2.6e-3, name: str | None = None, u95: float | None = 0.005
) -> Section:
    """Return a section whose curve follows its figures."""
    scale = current / 9e-3 * (1 + (gm / 2.6e-3 - 1) * np.linspace(-0.5, 0.5, len(POINTS)))
    size = len(POINTS)
    curve = WorkingCurve(
        POINTS[:, 0], POINTS[:, 1], 6e-3 * scale, np.full(size, u95 or 0.0), np.zeros(size)
    )
    return Section(name, AT, figure(current, u95), figure(gm, u95), curve)


def tube(key: str, current: float = 9e-3, gm: float = 2.6e-3, **fields: object) -> Candidate:
    """Return a tube with one section on the usual bench."""
    given: dict = {"type_class": "6SN7GTB", "sections": (section(current, gm),), "bench": "bench"}
    return Candidate(key, **{**given, **fields})


def lot(count: int, seed: int, scatter: float = 0.10, **fields: object) -> list[Candidate]:
    """Return tubes whose current and transconductance scatter together."""
    rng = np.random.default_rng(seed)
    current = rng.normal(0, scatter, count)
    gm = 0.6 * current + rng.normal(0, 0.6 * scatter, count)
    return [
        tube(f"PIT-{k:03d}", 9e-3 * np.exp(current[k]), 2.6e-3 * np.exp(gm[k]), **fields)
        for k in range(count)
    ]


def best_by_trying(
    distance: np.ndarray, within: np.ndarray, size: int, lots: np.ndarray | None = None
) -> tuple[int, float]:
    """Return the most sets and their least sum of largest distances, by trying every choice.

    With ``lots``, every set holds tubes of both.
    """

    @cache
    def best(free: frozenset[int]) -> tuple[int, float]:
        if len(free) < size:
            return 0, 0.0
        first = min(free)
        options = [best(free - {first})]
        for others in combinations(sorted(free - {first}), size - 1):
            pairs = list(combinations((first, *others), 2))
            mixed = lots is None or len(set(lots[[first, *others]].tolist())) == 2
            if mixed and all(within[pair] for pair in pairs):
                count, total = best(free - {first, *others})
                width = max(distance[pair] for pair in pairs)
                options.append((count - 1, total + width))
        return min(options)

    minus, total = best(frozenset(range(len(distance))))
    return -minus, total
