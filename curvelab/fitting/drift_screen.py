"""Which readings of a log at fixed bias a trend may be fitted to, and how noisy they are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from curvelab.sweep.records import FloatArray

__all__ = ["ScreenedLog", "correlation_length", "screen_log"]

_MAD_TO_SIGMA = 1.4826  # of a normal distribution
_WINDOW = 7
# A spike stands this many noise deviations off its neighbours' median, and this many
# times their own inner spread (so that the last readings of a steep rise are no spikes).
_SPIKE_SIGMAS = 6.0
_SPIKE_SPREADS = 4.0
_COLD = 0.5  # of the median current: below it a cathode is still heating up
_LOST = 0.4  # of the median current: below it a contact was lost
_LOST_SHARE = 0.2  # of the readings: more of them are the tube's own behaviour
_CUT_OFF = 0.05  # of the median current: below it the plate supply was cut
_CEILING_RUN = 4  # equal readings at the top that make a meter's ceiling
_BLOCKS = 400  # a longer log is averaged down to this many readings


@dataclass(frozen=True, slots=True, eq=False)
class ScreenedLog:
    """The readings of a log that a trend is fitted to.

    Attributes
    ----------
    time, current : ndarray, shape (m,)
        In order of time, at most some hundreds: a longer log is averaged in blocks.
    used : ndarray of bool, shape (n,)
        Which of the readings given took part.
    noise : float
        Standard deviation of one reading, from second differences [A].
    quantum : float
        Step of the meter where readings repeat, else 0 [A].
    """

    time: FloatArray
    current: FloatArray
    used: NDArray[np.bool_]
    noise: float
    quantum: float


def screen_log(time: FloatArray, current: FloatArray) -> ScreenedLog:
    """Leave out of a log what is not the tube's behaviour at fixed bias.

    Left out are readings that are not finite, the first ones while the cathode is cold
    (below half the median), the last ones after the supply was cut or at the meter's
    ceiling, dropouts (below 0.4 of the median, if at most a fifth), and spikes.

    Parameters
    ----------
    time, current : ndarray, shape (n,)
        [s] in any order, [A]; NaN where missing.
    """
    order = np.argsort(time, kind="stable")
    order = order[np.isfinite(time[order]) & np.isfinite(current[order])]
    order = order[_hot_part(current[order])]
    quantum = _meter_quantum(current[order])
    order = order[: _before_ceiling(current[order], quantum)]
    noise = _difference_noise(current[order], quantum)
    order = order[~_spikes(current[order], noise)]
    used = np.zeros(time.size, dtype=bool)
    used[order] = True
    block_time, block_current = time[order], current[order]
    if order.size > 2 * _BLOCKS:
        edges = np.linspace(0, order.size, _BLOCKS + 1).astype(np.int64)[:-1]
        size = np.diff(np.append(edges, order.size))
        block_time = np.add.reduceat(block_time, edges) / size
        block_current = np.add.reduceat(block_current, edges) / size
    return ScreenedLog(block_time, block_current, used, noise, quantum)


def correlation_length(residual: FloatArray) -> float:
    """Return how many successive residuals carry the worth of one independent reading.

    The integrated autocorrelation 1 + 2 sum(r_k), summed until it has fallen into its own
    noise 1/sqrt(n) (Priestley, Spectral Analysis and Time Series, 1981).
    """
    size = residual.size
    power = float(residual @ residual)
    if power <= 0:
        return 1.0
    lags = np.correlate(residual, residual, mode="full")[size - 1 :] / power
    lost = np.flatnonzero(lags < 1 / np.sqrt(size))
    return 1 + 2 * float(lags[1 : lost[0] if lost.size else size].sum())


def _hot_part(current: FloatArray) -> NDArray[np.int64]:
    """Return positions between a cold start and a cut supply, without dropouts."""
    typical = float(np.median(current[current > 0])) if (current > 0).any() else 0.0
    alive = np.flatnonzero(current > _CUT_OFF * typical)
    hot = np.flatnonzero(current > _COLD * typical)
    if typical <= 0 or not hot.size:
        return np.empty(0, dtype=np.int64)
    kept = np.arange(hot[0], alive[-1] + 1)
    lost = current[kept] < _LOST * typical
    return kept[~lost] if lost.mean() <= _LOST_SHARE else kept


def _meter_quantum(current: FloatArray) -> float:
    """Return the meter's step where a third of the readings repeat the one before."""
    if current.size < 3 or np.mean(np.diff(current) == 0) < 1 / 3:
        return 0.0
    gaps = np.diff(np.unique(current))
    gaps = gaps[gaps > 1e-9 * np.abs(current).max()]  # decimal text read twice is one value
    return float(gaps.min()) if gaps.size else 0.0


def _before_ceiling(current: FloatArray, quantum: float) -> int:
    """Return how many readings come before the meter stuck at its ceiling."""
    if quantum > 0 or current.size <= _CEILING_RUN:
        return current.size
    below = np.flatnonzero(current < current.max())
    run = current.size - (int(below[-1]) + 1 if below.size else 0)
    return current.size - run + 1 if below.size and run >= _CEILING_RUN else current.size


def _difference_noise(current: FloatArray, quantum: float) -> float:
    """Return the noise of one reading from second differences, which no trend inflates."""
    if current.size < 4:
        return 0.0
    second = np.diff(current, 2)
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(second))) / math.sqrt(6.0)
    return max(spread, quantum / math.sqrt(12.0))


def _spikes(current: FloatArray, noise: float) -> NDArray[np.bool_]:
    """Mark single readings far off the median of the seven around them."""
    if current.size < _WINDOW:
        return np.zeros(current.size, dtype=bool)
    windows = np.sort(sliding_window_view(current, _WINDOW), axis=1)
    window = np.clip(np.arange(current.size) - _WINDOW // 2, 0, windows.shape[0] - 1)
    middle = windows[window, _WINDOW // 2]
    inner = windows[window, _WINDOW // 2 + 1] - windows[window, _WINDOW // 2 - 1]
    limit = np.maximum(_SPIKE_SIGMAS * noise, _SPIKE_SPREADS * inner)
    far: NDArray[np.bool_] = np.abs(current - middle) > limit
    far[: _WINDOW // 2] = False  # a log taken by hand may show its warm-up in one reading
    return far
