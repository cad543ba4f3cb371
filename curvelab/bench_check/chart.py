"""Control chart for individuals and their moving ranges.

Centre and limits are Shewhart's, estimated from the mean moving range of two neighbours:
mean +- 2.66 MR for the individuals, 3.267 MR for the range (ISO 7870-2:2013, Control charts -
Part 2: Shewhart control charts; NIST/SEMATECH e-Handbook of Statistical Methods, section
6.3.2.2). The run rules are those of the Western Electric Statistical Quality Control
Handbook, 1956, as the e-Handbook lists them in section 6.3.2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.sweep.records import FloatArray

__all__ = ["D2", "D4", "E2", "ControlChart", "Signal", "individuals_chart"]

D2 = 1.128  # mean range of two over the standard deviation: 2 / sqrt(pi)
D4 = 3.267  # 1 + 3 d3 / d2 with d3 = sqrt(2 - 4 / pi)
E2 = 2.66  # 3 / d2

_BEYOND = "beyond the three-sigma limit"
_RANGE = "moved from the one before by more than the limit of the range"
# Of so many points in a row, so many beyond so many sigma, all on one side.
_RUNS = (
    (3, 2, 2.0, "two of three in a row beyond two sigma on one side"),
    (5, 4, 1.0, "four of five in a row beyond one sigma on one side"),
    (8, 8, 0.0, "eight in a row on one side of the mean"),
)


@dataclass(frozen=True, slots=True)
class Signal:
    """A rule of the chart that a point breaks; ``position`` is that of the point."""

    position: int
    rule: str


@dataclass(frozen=True, slots=True)
class ControlChart:
    """A chart of individuals.

    Attributes
    ----------
    values : tuple of float
        Those that make the limits, then those that are only judged by them.
    baseline : int
        How many of them make the limits.
    sigma : float
        Mean moving range over d2.
    range_upper : float
        Upper limit of a moving range; its lower limit is 0.
    """

    values: tuple[float, ...]
    baseline: int
    centre: float
    sigma: float
    lower: float
    upper: float
    mean_range: float
    range_upper: float
    signals: tuple[Signal, ...]

    @property
    def at_the_end(self) -> tuple[Signal, ...]:
        """The signals of the last point."""
        last = len(self.values) - 1
        return tuple(signal for signal in self.signals if signal.position == last)


def individuals_chart(baseline: FloatArray, later: FloatArray) -> ControlChart | None:
    """Return the chart of a history and what came after it.

    Parameters
    ----------
    baseline : ndarray, shape (n,)
        In order of time; these make the limits.
    later : ndarray, shape (m,)
        Judged by the limits, without changing them.

    Returns
    -------
    ControlChart or None
        None where two values do not make a moving range, or all are one value.
    """
    if baseline.size < 2:
        return None
    mean_range = float(np.abs(np.diff(baseline)).mean())
    if mean_range == 0.0:
        return None
    centre = float(baseline.mean())
    values = np.concatenate((baseline, later))
    sigma = mean_range / D2
    range_upper = D4 * mean_range
    return ControlChart(
        values=tuple(values.tolist()),
        baseline=baseline.size,
        centre=centre,
        sigma=sigma,
        lower=centre - E2 * mean_range,
        upper=centre + E2 * mean_range,
        mean_range=mean_range,
        range_upper=range_upper,
        signals=_signals(values, centre, mean_range),
    )


def _signals(values: FloatArray, centre: float, mean_range: float) -> tuple[Signal, ...]:
    away = (values - centre) / (mean_range / D2)
    found = [
        Signal(int(at), _BEYOND) for at in np.flatnonzero(np.abs(values - centre) > E2 * mean_range)
    ]
    jumps = np.flatnonzero(np.abs(np.diff(values)) > D4 * mean_range) + 1
    found += [Signal(int(at), _RANGE) for at in jumps]
    for length, needed, beyond, rule in _RUNS:
        for end in range(length, values.size + 1):
            stretch = away[end - length : end]
            # The last point itself must be one of those beyond: it is it that breaks the rule.
            side = float(np.sign(stretch[-1]))
            if side * stretch[-1] > beyond and (side * stretch > beyond).sum() >= needed:
                found.append(Signal(end - 1, rule))
    return tuple(sorted(found, key=lambda signal: signal.position))
