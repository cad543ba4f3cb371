"""Histograms of shares of the bogey figure, told apart by verdict."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from curvelab.health.records import Verdict

__all__ = ["Histogram", "HistogramBin", "histogram_of"]

_WIDTHS = (2, 5, 10, 20, 50)  # [%]
_MOST_BINS = 16
_LEAST_BINS = 8  # fewer make bars that say nothing of the spread


@dataclass(frozen=True, slots=True)
class HistogramBin:
    """From ``low`` up to but not including ``high`` [%], and how many of each verdict."""

    low: float
    high: float
    accept: int
    hold: int
    reject: int

    @property
    def total(self) -> int:
        """How many in all."""
        return self.accept + self.hold + self.reject


@dataclass(frozen=True, slots=True)
class Histogram:
    """Counts over equal bins.

    Attributes
    ----------
    without : int
        How many have no figure, and so stand in no bin.
    """

    title: str
    axis_label: str
    bins: tuple[HistogramBin, ...]
    without: int = 0


def histogram_of(
    title: str, axis_label: str, shares: Iterable[tuple[float | None, Verdict]]
) -> Histogram:
    """Return the histogram of shares of the bogey figure.

    Parameters
    ----------
    shares : iterable of (float or None, Verdict)
        Fraction of the bogey figure, or None where there is none.
    """
    given = list(shares)
    known = [(100 * share, verdict) for share, verdict in given if share is not None]
    if not known:
        return Histogram(title, axis_label, (), len(given))
    values = [value for value, _ in known]
    width = _bin_width(min(values), max(values))
    first, last = _padded(_bin(min(values), width), _bin(max(values), width))
    counts = {(place, verdict): 0 for place in range(first, last + 1) for verdict in Verdict}
    for value, verdict in known:
        counts[_bin(value, width), verdict] += 1
    bins = tuple(
        HistogramBin(
            low=float(place * width),
            high=float((place + 1) * width),
            accept=counts[place, Verdict.ACCEPT],
            hold=counts[place, Verdict.HOLD],
            reject=counts[place, Verdict.REJECT],
        )
        for place in range(first, last + 1)
    )
    return Histogram(title, axis_label, bins, len(given) - len(known))


def _padded(first: int, last: int) -> tuple[int, int]:
    """Return a range of bins that is wide enough, grown on both sides alike."""
    lacking = max(0, _LEAST_BINS - (last - first + 1))
    return first - lacking // 2, last + (lacking + 1) // 2


def _bin(value: float, width: int) -> int:
    # A share that is 100 % but for the dust of its division belongs above the edge.
    return math.floor(value / width + 1e-9)


def _bin_width(low: float, high: float) -> int:
    """Return the finest width of 2, 5, 10, 20, 50 times a power of ten with few enough bins."""
    factor = 1
    while True:
        for width in _WIDTHS:
            if _bin(high, factor * width) - _bin(low, factor * width) < _MOST_BINS:
                return factor * width
        factor *= 10
