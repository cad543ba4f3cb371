"""The trend of plate current at fixed bias: constant, plateau, creep or growth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.drift_screen import ScreenedLog, correlation_length, screen_log
from curvelab.fitting.drift_shapes import Shape, shape_slope, shape_value
from curvelab.fitting.drift_trials import TrendModel, Trial, fit_trials
from curvelab.sweep.records import FloatArray

__all__ = ["FEWEST_READINGS", "DriftFit", "Shape", "Term", "TrendModel", "fit_drift"]

FEWEST_READINGS = 5
# By how much AICc must favour a more elaborate behaviour over every plainer one, and growth
# over all else: what a tube is rejected for has to stand out (a difference of 4 or 6 makes
# the other model 7 or 20 times less likely: Burnham and Anderson, Model Selection and
# Multimodel Inference, 2nd ed., 2002, on the relative likelihood exp(-difference / 2)).
_EVIDENCE = 4.0
_GROWTH_EVIDENCE = 6.0
# Readings a log is worth at least: no shape is exact, and what a precise meter sees of a
# trend's misfit must not pass for noise that hides the trend.
_LEAST_WORTH = 12.0
_FINEST = 1e-9  # of the current: rounding of the numbers themselves


@dataclass(frozen=True, slots=True)
class Term:
    """One term of a trend: ``coefficient`` [A] times its shape at ``scale`` [1]."""

    shape: Shape
    scale: float
    coefficient: float


@dataclass(frozen=True, slots=True, eq=False)
class DriftFit:
    """The trend of a log.

    Attributes
    ----------
    start, length : float
        Of the part that was fitted [s].
    level : float
        Current that the terms add to; the plateau, where every term dies out [A].
    terms : tuple of Term
    covariance : ndarray, shape (k, k)
        Of the level, then each term's coefficient, then each term's scale.
    noise : float
        Standard deviation of one reading about the trend [A].
    effective_readings : float
        How many independent readings the log is worth.
    aicc : mapping of TrendModel to float
        The best of each family; smaller is better.
    used : ndarray of bool, shape (n,)
        Readings that took part.
    """

    model: TrendModel
    start: float
    length: float
    level: float
    terms: tuple[Term, ...]
    covariance: FloatArray
    noise: float
    effective_readings: float
    aicc: Mapping[TrendModel, float]
    used: NDArray[np.bool_]

    def current(self, time: FloatArray) -> FloatArray:
        """Return the trend [A] at ``time`` [s], also past the end of the log."""
        return self._sum(self.terms, time)

    def settled_current(self, time: FloatArray) -> FloatArray:
        """Return the trend [A] without its decaying terms, as if they had died out."""
        lasting = tuple(term for term in self.terms if term.shape is not Shape.DECAY)
        return self._sum(lasting, time)

    def _sum(self, terms: tuple[Term, ...], time: FloatArray) -> FloatArray:
        x = (np.asarray(time, dtype=float) - self.start) / self.length
        total = np.full(x.shape, self.level)
        for term in terms:
            total = total + term.coefficient * shape_value(term.shape, term.scale, x)
        return total

    def slope(self, time: FloatArray) -> FloatArray:
        """Return the trend's rate of change [A/s] at ``time`` [s]."""
        x = (np.asarray(time, dtype=float) - self.start) / self.length
        total = np.zeros(x.shape)
        for term in self.terms:
            total = total + term.coefficient * shape_slope(term.shape, term.scale, x)
        return total / self.length

    @property
    def end(self) -> float:
        """Time of the last reading fitted [s]."""
        return self.start + self.length

    @property
    def decays(self) -> tuple[Term, ...]:
        """The terms that die out from the start on."""
        return tuple(term for term in self.terms if term.shape is Shape.DECAY)

    def transient(self) -> tuple[float, float]:
        """Return what the decaying terms moved [A], with its standard uncertainty.

        Of their sum and each alone (two of opposite sign may cancel), what stands out most.
        """
        places = [i for i, term in enumerate(self.terms) if term.shape is Shape.DECAY]
        found: list[tuple[float, float]] = [(0.0, 0.0)]
        for group in [places, *([place] for place in places)]:
            mask = np.zeros(self.covariance.shape[0])
            mask[[1 + place for place in group]] = 1.0
            moved = sum(self.terms[place].coefficient for place in group)
            found.append((moved, max(float(mask @ self.covariance @ mask), 0.0) ** 0.5))
        return max(found, key=lambda pair: abs(pair[0]) / (pair[1] or np.inf))


def fit_drift(time: FloatArray, current: FloatArray) -> DriftFit | None:
    """Fit the trends to a log at fixed bias and choose one by AICc.

    Parameters
    ----------
    time, current : ndarray, shape (n,)
        [s], [A]; unevenly spaced, with gaps, NaN, dropouts and spikes as they come.

    Returns
    -------
    DriftFit or None
        None where fewer than five readings remain, or they span no time.

    Notes
    -----
    AICc (Hurvich and Tsai, Biometrika 76, 1989) with the number of independent readings:
    the residuals of the best-fitting candidate tell how strongly neighbours are
    correlated. The variance is never taken below what the meter's step leaves, q^2/12.
    """
    log = screen_log(np.asarray(time, dtype=float), np.asarray(current, dtype=float))
    if log.time.size < FEWEST_READINGS or log.time[-1] <= log.time[0]:
        return None
    start, length = float(log.time[0]), float(log.time[-1] - log.time[0])
    x = (log.time - start) / length
    offset = float(log.current.mean())
    scale = float(np.abs(log.current - offset).max()) or 1.0
    y = (log.current - offset) / scale
    floor = max(log.quantum / scale, _FINEST * abs(offset) / scale) ** 2 / 12
    trials = fit_trials(x, y)
    worth = _independent(x, y, trials)
    scores = [_aicc(trial, worth, x.size, floor) for trial in trials]
    best, aicc = _choose(trials, scores)
    return _result(best, _Frame(log, x, y, offset, scale, start, length, worth, floor), aicc)


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """A log in units that suit the arithmetic, and how to come back from them."""

    log: ScreenedLog
    x: FloatArray
    y: FloatArray
    offset: float
    scale: float
    start: float
    length: float
    worth: float
    floor: float


def _independent(x: FloatArray, y: FloatArray, trials: list[Trial]) -> float:
    """Return how many independent readings the log holds."""
    closest = min(trials, key=lambda trial: trial.rss)
    worth = x.size / correlation_length(y - closest.trend(x))
    return max(worth, min(_LEAST_WORTH, float(x.size)))


def _aicc(trial: Trial, worth: float, size: int, floor: float) -> float:
    k = trial.candidate.parameters
    if worth <= k + 1:
        return math.inf
    variance = max(trial.rss, 0.0) / size + floor
    return worth * math.log(variance) + 2 * k + 2 * k * (k + 1) / (worth - k - 1)


def _choose(trials: list[Trial], scores: list[float]) -> tuple[Trial, Mapping[TrendModel, float]]:
    """Return the plainest trial that no more elaborate one beats clearly."""
    aicc: dict[TrendModel, float] = {}
    tiers: dict[int, tuple[float, int]] = {}
    for index, (trial, score) in enumerate(zip(trials, scores, strict=True)):
        model, tier = trial.candidate.model, trial.candidate.tier
        aicc[model] = min(score, aicc.get(model, math.inf))
        tiers[tier] = min(tiers.get(tier, (math.inf, index)), (score, index))
    least, chosen = math.inf, 0
    for _, (score, index) in sorted(tiers.items()):
        grows = trials[index].candidate.model is TrendModel.GROWTH
        if score < least - (_GROWTH_EVIDENCE if grows else _EVIDENCE):
            chosen = index
        least = min(least, score)
    return trials[chosen], MappingProxyType(aicc)


def _result(trial: Trial, frame: _Frame, aicc: Mapping[TrendModel, float]) -> DriftFit:
    x, shapes = frame.x, trial.candidate.shapes
    values = [shape_value(s, c, x) for s, c in zip(shapes, trial.scales, strict=True)]
    level = -sum(c * float(v.mean()) for c, v in zip(trial.coefficients, values, strict=True))
    bends = []
    for shape, scale, coefficient in zip(shapes, trial.scales, trial.coefficients, strict=True):
        if shape is Shape.CREEP:
            continue
        step = 1e-4 * scale
        bend = shape_value(shape, scale + step, x) - shape_value(shape, scale - step, x)
        bends.append(coefficient * bend / (2 * step))
    jacobian = np.stack([np.ones(x.size), *values, *bends], axis=1)
    residual = frame.y - trial.trend(x)
    freedom = max(x.size - jacobian.shape[1], 1)
    variance = float(residual @ residual) / freedom + frame.floor
    # Correlated readings tell less than their number: the variance grows in proportion.
    inflated = variance * x.size / frame.worth
    covariance = inflated * np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-14, hermitian=True)
    unit = np.array([frame.scale] * (1 + len(shapes)) + [1.0] * len(bends))
    return DriftFit(
        model=trial.candidate.model,
        start=frame.start,
        length=frame.length,
        level=frame.offset + frame.scale * level,
        terms=tuple(
            Term(shape, scale, frame.scale * coefficient)
            for shape, scale, coefficient in zip(
                shapes, trial.scales, trial.coefficients, strict=True
            )
        ),
        covariance=covariance * np.outer(unit, unit),
        noise=frame.scale * float(np.sqrt(variance)),
        effective_readings=frame.worth,
        aicc=aicc,
        used=frame.log.used,
    )
