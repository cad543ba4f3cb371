"""Which of them moved: the bench, or one of its golden tubes.

Every golden tube has moved, against its history, by a relative amount with a known scatter.
A shifted bench moves all of them alike, an aged tube moves alone. Each way of sharing the
moves out is tried, fewest moves first, and the first that leaves nothing unexplained at three
sigma is taken. Where another one with as many moves explains nearly as well, nobody can tell,
and that is the answer. With a single golden tube it always is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

__all__ = ["MOST_TUBES", "Cause", "Moved", "Shift", "find_movers"]

_SIGMAS = 3.0  # Shewhart's limit, as in the control chart
MOST_TUBES = 10  # the ways double with each tube


class Cause(StrEnum):
    """What has moved."""

    NOTHING = "nothing moved"
    BENCH = "the bench moved"
    TUBES = "a golden tube moved"
    BOTH = "the bench and a golden tube moved"
    CANNOT_TELL = "something moved, and what cannot be told"


@dataclass(frozen=True, slots=True)
class Shift:
    """By how much a golden tube has moved against its history.

    Attributes
    ----------
    amount : float
        Natural logarithm of today's value over the mean of the history.
    sigma : float
        Standard deviation that the amount has when nothing moved.
    """

    tube: str
    amount: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Moved:
    """What the golden tubes say together.

    Attributes
    ----------
    tubes : tuple of str
        Those that moved on their own.
    bench_amount, bench_sigma : float
        Common shift of the tubes that did not move on their own, as a logarithm, and its
        standard deviation; of all tubes where nothing can be told.
    possible : tuple of str
        The explanations that are left where nothing can be told.
    """

    cause: Cause
    tubes: tuple[str, ...]
    bench_amount: float
    bench_sigma: float
    possible: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Way:
    """One way of sharing the moves out."""

    bench: bool
    tubes: tuple[int, ...]
    misfit: float


def find_movers(shifts: Sequence[Shift], odds: float) -> Moved:
    """Say what has moved.

    Parameters
    ----------
    shifts : sequence of Shift
        One a golden tube, at least one and at most ten.
    odds : float
        How many times likelier the best explanation must be than any other with as many
        moves; likelihoods are those of normal scatter.

    Raises
    ------
    ValueError
        If there are no shifts or too many.
    """
    if not 1 <= len(shifts) <= MOST_TUBES:
        raise ValueError(f"from 1 to {MOST_TUBES} golden tubes can be judged, not {len(shifts)}")
    for moves in range(len(shifts) + 2):
        ways = sorted(_ways(shifts, moves), key=lambda way: way.misfit)
        if ways:
            return _said(shifts, ways, 2.0 * math.log(odds))
    raise AssertionError("a way with as many moves as tubes leaves nothing to explain")


def _ways(shifts: Sequence[Shift], moves: int) -> Iterator[_Way]:
    everyone = range(len(shifts))
    for bench in (False, True):
        for tubes in combinations(everyone, moves - bench) if moves >= bench else ():
            rest = [shifts[place] for place in everyone if place not in tubes]
            if bench and not rest:
                continue  # a common shift that nobody shows
            misfit = _misfit(rest, bench)
            if misfit is not None:
                yield _Way(bench, tubes, misfit)


def _misfit(rest: Sequence[Shift], bench: bool) -> float | None:
    """Return the sum of squares that is left, or None where it is beyond three sigma."""
    if not rest:
        return 0.0
    mean, sigma = _common(rest)
    if not bench and abs(mean) > _SIGMAS * sigma:
        return None  # small moves of all that are too alike to be chance
    total = 0.0
    for shift in rest:
        away = shift.amount - (mean if bench else 0.0)
        variance = shift.sigma**2 - (sigma**2 if bench else 0.0)
        if variance > 0 and away**2 > _SIGMAS**2 * variance:
            return None
        total += (away / shift.sigma) ** 2
    return total


def _common(shifts: Sequence[Shift]) -> tuple[float, float]:
    """Return the weighted mean shift and its standard deviation."""
    weights = [shift.sigma**-2 for shift in shifts]
    together = sum(weights)
    mean = sum(w * shift.amount for w, shift in zip(weights, shifts, strict=True)) / together
    return mean, together**-0.5


def _said(shifts: Sequence[Shift], ways: Sequence[_Way], margin: float) -> Moved:
    best = ways[0]
    close = [way for way in ways if way.misfit - best.misfit < margin]
    if len(close) > 1:
        possible = tuple(_words(shifts, way) for way in close)
        return Moved(Cause.CANNOT_TELL, (), *_common(shifts), possible)
    moved = tuple(shifts[place].tube for place in best.tubes)
    rest = [shift for place, shift in enumerate(shifts) if place not in best.tubes]
    causes = {
        (False, False): Cause.NOTHING,
        (True, False): Cause.BENCH,
        (False, True): Cause.TUBES,
        (True, True): Cause.BOTH,
    }
    return Moved(causes[best.bench, bool(moved)], moved, *_common(rest or shifts))


def _words(shifts: Sequence[Shift], way: _Way) -> str:
    moved = [shifts[place].tube for place in way.tubes]
    return " and ".join((["the bench"] if way.bench else []) + moved)
