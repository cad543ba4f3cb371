"""Every trend that a log may follow, each at the scales that suit the log best.

Every candidate is a level plus at most two terms, each a shape with one scale of its own:
linear in its coefficients, so that for each pair of scales on a logarithmic grid the best
coefficients are known in closed form (separable least squares; Golub and Pereyra, SIAM J.
Numer. Anal. 10, 1973). One matrix of inner products serves all candidates and scales.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.drift_shapes import Shape, shape_value
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["Candidate", "TrendModel", "Trial", "fit_trials"]

_COLLINEAR = 1e-8  # 1 - r^2 of two terms below which they are one
_DECAYS_APART = 2.0  # ratio of two decay scales below which they cancel, not add


class TrendModel(StrEnum):
    """The families of behaviour that are told apart."""

    CONSTANT = "constant"
    PLATEAU = "plateau"
    CREEP = "creep"
    GROWTH = "growth"


# A transient counts as a plateau in sight up to one length of the log; as a warm-up
# beside another trend only while it is short.
_WARM_UP_LONGEST = 0.2
_SCALES: Mapping[Shape, FloatArray] = MappingProxyType(
    {
        Shape.CREEP: np.ones(1),
        Shape.DECAY: np.geomspace(0.008, 1.0, 28),
        Shape.GROWTH: np.geomspace(0.06, 1.5, 18),
        Shape.BLOW_UP: np.geomspace(0.02, 0.5, 8),
        Shape.RAMP: np.linspace(0.35, 0.75, 7),
        Shape.JUMP: np.linspace(0.35, 0.95, 13),
    }
)
_REFINED = {Shape.DECAY, Shape.GROWTH, Shape.BLOW_UP}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A model with the shapes of its terms; ``warm_up`` limits the first one's scale."""

    model: TrendModel
    shapes: tuple[Shape, ...]
    warm_up: bool = False

    @property
    def parameters(self) -> int:
        """Level, noise, a coefficient a term, and a scale for each that has one."""
        return 2 + sum(1 if shape is Shape.CREEP else 2 for shape in self.shapes)

    @property
    def tier(self) -> int:
        """How elaborate the behaviour is: level, line, one bend, two terms, growth."""
        if self.model is TrendModel.GROWTH:
            return 4
        return 1 if self.shapes == (Shape.CREEP,) else len(self.shapes) + bool(self.shapes)


_CANDIDATES = (
    Candidate(TrendModel.CONSTANT, ()),
    Candidate(TrendModel.PLATEAU, (Shape.DECAY,)),
    Candidate(TrendModel.PLATEAU, (Shape.DECAY, Shape.DECAY)),
    Candidate(TrendModel.PLATEAU, (Shape.RAMP,)),
    Candidate(TrendModel.PLATEAU, (Shape.JUMP,)),
    Candidate(TrendModel.CREEP, (Shape.CREEP,)),
    Candidate(TrendModel.CREEP, (Shape.DECAY, Shape.CREEP), warm_up=True),
    Candidate(TrendModel.GROWTH, (Shape.GROWTH,)),
    Candidate(TrendModel.GROWTH, (Shape.BLOW_UP,)),
    Candidate(TrendModel.GROWTH, (Shape.CREEP, Shape.GROWTH)),
    Candidate(TrendModel.GROWTH, (Shape.DECAY, Shape.GROWTH), warm_up=True),
    Candidate(TrendModel.GROWTH, (Shape.DECAY, Shape.BLOW_UP), warm_up=True),
)


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A candidate at its best scales: coefficients of the centred terms, sum of squares."""

    candidate: Candidate
    scales: tuple[float, ...]
    coefficients: tuple[float, ...]
    rss: float

    def trend(self, x: FloatArray) -> FloatArray:
        """Return the trend over the log's own ``x``, its mean taken off."""
        total = np.zeros(x.size)
        for shape, scale, coefficient in self.terms:
            column = shape_value(shape, scale, x)
            total += coefficient * (column - column.mean())
        return total

    @property
    def terms(self) -> tuple[tuple[Shape, float, float], ...]:
        """Shape, scale and coefficient of each term."""
        return tuple(zip(self.candidate.shapes, self.scales, self.coefficients, strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class _Products:
    """Inner products of centred shapes at many scales, and where each shape's rows are."""

    scale: FloatArray
    gram: FloatArray
    projection: FloatArray
    rows: tuple[IntArray, ...]


def fit_trials(x: FloatArray, y: FloatArray) -> list[Trial]:
    """Fit every candidate on the common grid of scales, then between the grid's lines.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Time of the log scaled to 0 ... 1, ascending.
    y : ndarray, shape (n,)
        Current less its mean, in any unit.
    """
    shortest = min(float(np.median(np.diff(x))), _WARM_UP_LONGEST)
    scales = dict(_SCALES)
    # No scale is told from readings further apart than it.
    scales[Shape.DECAY] = scales[Shape.DECAY][scales[Shape.DECAY] >= shortest]
    products = _products(x, y, tuple(scales.items()))
    rows = dict(zip(scales, products.rows, strict=True))
    total = float(y @ y)
    found = []
    for candidate in _CANDIDATES:
        places = [rows[shape] for shape in candidate.shapes]
        trial = _best_trial(candidate, products, places, total)
        if trial is not None:
            found.append(_refined(trial, x, y, total))
    return found


def _products(
    x: FloatArray, y: FloatArray, scales: tuple[tuple[Shape, FloatArray], ...]
) -> _Products:
    design = np.concatenate([shape_value(shape, s[:, None], x[None, :]) for shape, s in scales])
    design -= design.mean(axis=1, keepdims=True)
    edges = np.cumsum([0, *(scale.size for _, scale in scales)])
    rows = tuple(np.arange(low, high) for low, high in pairwise(edges.tolist()))
    scale = np.concatenate([scale for _, scale in scales])
    return _Products(scale, design @ design.T, design @ y, rows)


def _best_trial(
    candidate: Candidate, products: _Products, rows: list[IntArray], total: float
) -> Trial | None:
    """Return the candidate at the best of the scales in ``rows`` (one array a term)."""
    if not rows:
        return Trial(candidate, (), (), total)
    if candidate.warm_up:
        rows = [rows[0][products.scale[rows[0]] <= _WARM_UP_LONGEST * 1.001], *rows[1:]]
    first = rows[0]
    g11, p1 = products.gram[first, first], products.projection[first]
    with np.errstate(divide="ignore", invalid="ignore"):
        if len(rows) == 1:
            gain = np.where(_allowed(candidate, p1) & (g11 > 0), p1**2 / g11, -np.inf)
            at = int(np.argmax(gain))
            if not np.isfinite(gain[at]):
                return None
            best = (float(p1[at] / g11[at]),)
            return Trial(
                candidate, (float(products.scale[first[at]]),), best, total - float(gain[at])
            )
        second = rows[1]
        g22, p2 = products.gram[second, second], products.projection[second]
        g12 = products.gram[np.ix_(first, second)]
        det = g11[:, None] * g22 - g12**2
        c1 = (p1[:, None] * g22 - p2 * g12) / det
        c2 = (p2 * g11[:, None] - p1[:, None] * g12) / det
        gain = c1 * p1[:, None] + c2 * p2
        apart = det > _COLLINEAR * g11[:, None] * g22
        if candidate.shapes == (Shape.DECAY, Shape.DECAY):
            apart &= products.scale[second] > _DECAYS_APART * products.scale[first][:, None]
        gain = np.where(apart & _allowed(candidate, c2), gain, -np.inf)
    if not gain.size or not np.isfinite(gain).any():
        return None
    i, j = np.unravel_index(int(np.argmax(gain)), gain.shape)
    chosen = (float(products.scale[first[i]]), float(products.scale[second[j]]))
    return Trial(candidate, chosen, (float(c1[i, j]), float(c2[i, j])), total - float(gain[i, j]))


def _allowed(candidate: Candidate, coefficient: FloatArray) -> NDArray[np.bool_]:
    """Tell where the last term has a sign that the candidate may have: growth goes up."""
    if candidate.model is TrendModel.GROWTH:
        return coefficient > 0
    return np.ones(coefficient.shape, dtype=bool)


def _refined(trial: Trial, x: FloatArray, y: FloatArray, total: float) -> Trial:
    """Search between the grid's neighbours, ever more finely."""
    candidate = trial.candidate
    if not _REFINED.intersection(candidate.shapes):
        return trial
    for ratio in (1.06, 1.015):
        steps = ratio ** np.arange(-3.0, 4.0)
        grids = tuple((shape, _near(shape, scale, steps)) for shape, scale, _ in trial.terms)
        fine = _products(x, y, grids)
        better = _best_trial(candidate, fine, list(fine.rows), total)
        trial = better if better is not None and better.rss < trial.rss else trial
    return trial


def _near(shape: Shape, scale: float, steps: FloatArray) -> FloatArray:
    around: FloatArray = scale * (steps if shape in _REFINED else np.ones(1))
    return np.minimum(around, float(_SCALES[shape][-1]))
