"""How much tubes differ, and whether the bench can tell.

Two values a and b are compared by d = |ln(a / b)|, which adds up along a line of tubes as their
percentages do not; as a fraction of their mean, as the trade says it, that is exactly
2 tanh(d / 2). Two curves are compared by the root mean square of d over their points. A
difference counts in units of its tolerance, and the largest of several measures or sections
decides.

What two tubes share leaves their difference alone: a gain error of the bench multiplies both
values and cancels in the ratio, and offsets do so nearly, for the values of a match are nearly
the same. So tubes of one bench differ by their own uncertainties only, in quadrature; between
two benches each one's own errors come in addition. The root mean square of two equal curves
stays, with at least 95 % probability, below the root mean square of their joint expanded
uncertainties, however the errors along a curve hang together.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from curvelab.matching.records import Candidate, Difference, MatchRequest, Measure, Section
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["Differences", "differences", "in_log"]

_CHUNK = 4_000_000  # elements of one working array


def in_log(fraction: float) -> float:
    """Return |ln(a / b)| of two values that differ by a fraction of their mean."""
    return 2.0 * math.atanh(fraction / 2.0)


@dataclass(frozen=True, slots=True, eq=False)
class Differences:
    """All tubes of one list against each other, or against those of another.

    Attributes
    ----------
    of_tolerance : ndarray, shape (n, m)
        Infinite where two tubes cannot be compared: another type, operating point, region.
    fraction, u95 : ndarray, shape (n, m)
        The measure that decides, and its expanded uncertainty; NaN where not known.
    told_apart : ndarray of bool, shape (n, m)
        Whether any measure differs by more than its uncertainty.
    unknown : ndarray of bool, shape (n, m)
        Whether none does, but some uncertainty is not known.
    within : ndarray of bool, shape (n, m)
        Whether two tubes may be in one set.
    """

    of_tolerance: FloatArray
    fraction: FloatArray
    u95: FloatArray
    told_apart: BoolArray
    unknown: BoolArray
    within: BoolArray

    def between(self, row: int, column: int) -> Difference:
        """Return how two tubes differ."""
        u95 = float(self.u95[row, column])
        apart, unknown = self.told_apart[row, column], self.unknown[row, column]
        return Difference(
            of_tolerance=float(self.of_tolerance[row, column]),
            fraction=float(self.fraction[row, column]),
            u95=None if math.isnan(u95) else u95,
            distinguishable=True if apart else None if unknown else False,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _One:
    """One measure of one section of both: |ln ratio|, its uncertainty, who is comparable."""

    distance: FloatArray
    u95: FloatArray
    comparable: BoolArray

    def repeated(self, axis: int, shape: tuple[int, ...]) -> _One:
        """Return each tube's comparison with itself, repeated along an axis."""

        def spread(array: Any) -> Any:
            return np.broadcast_to(np.expand_dims(np.diagonal(array), axis), shape)

        return _One(spread(self.distance), spread(self.u95), spread(self.comparable))


def differences(
    rows: Sequence[Candidate], columns: Sequence[Candidate], request: MatchRequest
) -> Differences:
    """Compare each tube of ``rows`` with each of ``columns``.

    Every tube must have every measure of the request in every section.
    """
    shape = (len(rows), len(columns))
    worst, fraction, u95 = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    apart, unknown = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    within, comparable = np.ones(shape, dtype=bool), _same(rows, columns, _kind)
    for measure in request.measures:
        unit = in_log(request.tolerance_of(measure))
        for one in _each_section(rows, columns, measure, request.all_sections):
            share = one.distance / unit
            decides = share >= worst
            worst = np.where(decides, share, worst)
            fraction = np.where(decides, 2.0 * np.tanh(one.distance / 2.0), fraction)
            u95 = np.where(decides, one.u95, u95)
            apart |= one.distance > one.u95
            unknown |= np.isnan(one.u95)
            guard = one.u95 if request.guarded else 0.0
            within &= one.distance + guard <= unit * (1 + 1e-12)
            comparable &= one.comparable
    return Differences(
        of_tolerance=np.where(comparable, worst, np.inf),
        fraction=np.where(comparable, fraction, np.nan),
        u95=np.where(comparable, u95, np.nan),
        told_apart=apart,
        unknown=unknown & ~apart,
        within=within & comparable,
    )


def _kind(tube: Candidate) -> Hashable:
    return tube.type_class, tuple(section.name for section in tube.sections)


def _each_section(
    rows: Sequence[Candidate], columns: Sequence[Candidate], measure: Measure, all_sections: bool
) -> Iterator[_One]:
    """Yield the comparison of sections of the same name, or of all with all."""
    most = max((len(tube.sections) for tube in (*rows, *columns)), default=0)
    shared = _same(rows, columns, lambda tube: tube.bench)
    shared &= np.array([tube.bench is not None for tube in rows], dtype=bool)[:, None]

    def picked(tubes: Sequence[Candidate], place: int) -> list[Section]:
        return [tube.sections[min(place, len(tube.sections) - 1)] for tube in tubes]

    for place in range(most):
        for other in range(most) if all_sections else (place,):
            yield _compared(picked(rows, place), picked(columns, other), measure, shared)
            if all_sections and other > place:
                for tubes, axis in ((rows, 1), (columns, 0)):
                    own = _compared(picked(tubes, place), picked(tubes, other), measure, None)
                    yield own.repeated(axis, shared.shape)


def _compared(
    rows: Sequence[Section],
    columns: Sequence[Section],
    measure: Measure,
    shared: BoolArray | None,
) -> _One:
    """Compare sections; ``shared`` tells whose bench errors cancel, None that all do."""
    mine, theirs = _values(rows, measure), _values(columns, measure)
    width = max(mine.logs.shape[1], theirs.logs.shape[1])
    left, right = _padded(mine.logs, width), _padded(theirs.logs, width)
    distance = np.empty((len(rows), len(columns)))
    step = max(1, _CHUNK // max(1, right.size))
    for begin in range(0, len(rows), step):
        part = slice(begin, begin + step)
        ratio = left[part, None, :] - right[None, :, :]
        distance[part] = np.sqrt((ratio**2).sum(axis=2) / mine.points[part, None])
    square = mine.own[:, None] + theirs.own
    if shared is not None:
        square = square + np.where(shared, 0.0, mine.bench[:, None] + theirs.bench)
    comparable = _same(rows, columns, lambda section: _where(section, measure))
    return _One(distance, np.sqrt(square), comparable)


@dataclass(frozen=True, slots=True, eq=False)
class _Values:
    """What sections have of one measure.

    ``logs`` (n, p) are logarithms, ``points`` (n,) how many each has, ``own`` and ``bench``
    (n,) the mean squares of the relative uncertainties.
    """

    logs: FloatArray
    points: IntArray
    own: FloatArray
    bench: FloatArray


def _values(sections: Sequence[Section], measure: Measure) -> _Values:
    if measure is Measure.CURVE:
        curves = [section.curve for section in sections if section.curve is not None]
        points = np.array([curve.plate_current.size for curve in curves], dtype=int)
        logs = np.zeros((len(curves), max(points, default=1)))
        for row, curve in enumerate(curves):
            logs[row, : points[row]] = np.log(curve.plate_current)
        own = np.array([np.mean(curve.relative_u95**2) for curve in curves])
        bench = np.array([np.mean(curve.relative_bench_u95**2) for curve in curves])
        return _Values(logs, points, own, bench)
    figures = [figure for s in sections if (figure := s.figure(measure)) is not None]
    value = np.array([figure.value for figure in figures])
    own = np.array([np.nan if figure.u95 is None else figure.u95 for figure in figures])
    bench = np.array([figure.bench_u95 for figure in figures])
    return _Values(
        np.log(value)[:, None], np.ones(value.size, dtype=int), (own / value) ** 2,
        (bench / value) ** 2,
    )  # fmt: skip


def _padded(logs: FloatArray, width: int) -> FloatArray:
    """Return ``logs`` with zeros up to a width; only curves of one length are compared."""
    return np.pad(logs, ((0, 0), (0, width - logs.shape[1])))


def _where(section: Section, measure: Measure) -> Hashable:
    """Return where a section's measure was taken; sets apart what cannot be compared."""
    if measure is not Measure.CURVE or section.curve is None:
        at = section.at or (0.0, 0.0)
        return round(at[0], 1), round(at[1], 2)
    curve = section.curve
    return curve.plate_voltage.round(2).tobytes(), curve.grid_voltage.round(3).tobytes()


def _same(rows, columns, code) -> BoolArray:  # type: ignore[no-untyped-def]
    """Tell which of ``rows`` and ``columns`` have the same code."""
    numbers: dict[Hashable, int] = {}

    def numbered(items) -> IntArray:  # type: ignore[no-untyped-def]
        return np.array([numbers.setdefault(code(item), len(numbers)) for item in items], dtype=int)

    return np.asarray(numbered(rows)[:, None] == numbered(columns)[None, :])
