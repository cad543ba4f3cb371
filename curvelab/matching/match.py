"""Sets out of a lot: who may take part, groups that may meet, best sets, what is left over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations

import numpy as np

from curvelab.matching.differences import Differences, differences, in_log
from curvelab.matching.eligible import eligible
from curvelab.matching.line import pack_line
from curvelab.matching.lot import Lot, Packing
from curvelab.matching.packing import pack
from curvelab.matching.patience import Patience
from curvelab.matching.records import (
    Candidate,
    Difference,
    Excluded,
    LeftOver,
    MatchRequest,
    MatchResult,
    MatchSet,
    Measure,
    Neighbour,
    WhatIf,
)
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = [
    "Progress",
    "ShouldStop",
    "match_sections",
    "match_tubes",
    "what_if",
    "what_if_sections",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_TOLERANCES = (0.02, 0.05, 0.10)


def match_tubes(
    candidates: Sequence[Candidate],
    request: MatchRequest,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> MatchResult:
    """Make most sets within tolerance, and of these choices the one tightest in sum.

    Stopped or out of time it returns the best found so far, not proven, with the gap.

    Raises
    ------
    MatchingInputError
        If two candidates have one key, or a locked or sold set names a tube twice or one
        that is not there.
    """
    tubes, excluded = eligible(candidates, request)
    known = differences(tubes, tubes, request)
    told = _Told(progress)
    patience = Patience(should_stop or (lambda: False), request.time_limit, told.again)
    packings = _packed(tubes, known, request, partial(pack, patience=patience), told)
    found = [_a_set(tubes, known, members, request) for p in packings for members in p.sets]
    found.sort(key=_width)
    sets = (*_locked(candidates, request), *found)
    return MatchResult(
        sets=sets,
        left_over=_left_over(tubes, known, found),
        excluded=excluded,
        proven=(gap := _gap(packings)) == 0.0,
        gap=gap,
        most_sets=len(request.locked) + _most(packings),
    )


def what_if(
    candidates: Sequence[Candidate],
    request: MatchRequest,
    tolerances: Sequence[float] = _TOLERANCES,
    should_stop: ShouldStop | None = None,
) -> tuple[WhatIf, ...]:
    """Return how many sets there would be at each tolerance."""
    stop = should_stop or (lambda: False)
    results: list[WhatIf] = []
    for tolerance in tolerances:
        asked = replace(request, tolerance=tolerance, tolerances={})
        tubes, _ = eligible(candidates, asked)
        known = differences(tubes, tubes, asked)
        count = partial(pack, patience=Patience(stop, request.time_limit), count_only=True)
        packings = _packed(tubes, known, asked, count, _Told(None))
        # What matches within less matches within more: out of time, that many there are at least.
        held = len(request.locked)
        tighter = max((one.sets for one in results if one.tolerance <= tolerance), default=0)
        sets, most = max(held + _made(packings), tighter), held + _most(packings)
        results.append(WhatIf(tolerance, sets, sets == most))
    return tuple(results)


def match_sections(candidates: Sequence[Candidate], request: MatchRequest) -> MatchResult:
    """Return the dual tubes whose two sections match, each a set of its own.

    A tube left over has its own other section as its nearest.

    Raises
    ------
    MatchingInputError
        As `match_tubes`.
    """
    tubes, excluded = eligible(candidates, replace(request, locked=(), sold=(), across=None))
    dual = [tube for tube in tubes if len(tube.sections) == 2]
    single = [tube for tube in tubes if len(tube.sections) != 2]
    first, second = (
        [replace(tube, sections=(replace(tube.sections[k], name=None),)) for tube in dual]
        for k in (0, 1)
    )
    known = differences(first, second, replace(request, all_sections=False))
    sets, left = [], []
    for place, tube in enumerate(dual):
        difference = known.between(place, place)
        if known.within[place, place]:
            sets.append(MatchSet((tube.key,), difference))
        else:
            near = Neighbour(tube.key, difference)
            left.append(LeftOver(tube.key, near, near))
    return MatchResult(
        sets=tuple(sorted(sets, key=_width)),
        left_over=tuple(left),
        excluded=(*excluded, *(Excluded(t.key, ("has not two sections",)) for t in single)),
        proven=True,
        gap=0.0,
        most_sets=len(sets),
    )


def what_if_sections(
    candidates: Sequence[Candidate],
    request: MatchRequest,
    tolerances: Sequence[float] = _TOLERANCES,
) -> tuple[WhatIf, ...]:
    """Return of how many dual tubes the two sections would match at each tolerance."""
    asked = [replace(request, tolerance=tolerance, tolerances={}) for tolerance in tolerances]
    return tuple(
        WhatIf(one.tolerance, len(match_sections(candidates, one).sets), proven=True)
        for one in asked
    )


# --- choosing -------------------------------------------------------------------------------


class _Told:
    """How far the work is: told when it changes, and again whenever somebody asks."""

    def __init__(self, progress: Progress | None) -> None:
        self.progress = progress
        self.now = (0, 0, "")

    def say(self, done: int, total: int, what: str) -> None:
        self.now = (done, total, what)
        self.again()

    def again(self) -> None:
        if self.progress is not None:
            self.progress(*self.now)


def _packed(
    tubes: Sequence[Candidate],
    known: Differences,
    request: MatchRequest,
    pack_group: Callable[[Lot], Packing],
    told: _Told,
) -> list[Packing]:
    size = request.size + request.spare
    lots = None
    if request.across is not None:
        lots = np.array([request.across.index(tube.lot or "") for tube in tubes], dtype=int)
    groups = _groups(_linked(known.within, lots, size), size)
    figure = _only_figure(tubes, request)
    chosen = []
    for done, group in enumerate(groups):
        told.say(done, len(groups), f"{len(group)} tubes")
        if figure is not None:
            runs = pack_line(figure[group], size, 1.0 + 1e-12)
            spread = float((figure[group][runs[:, -1]] - figure[group][runs[:, 0]]).sum())
            packing = Packing(runs, spread, len(runs), spread)
        else:
            inside = np.ix_(group, group)
            distance = np.where(known.within[inside], known.of_tolerance[inside], np.inf)
            np.fill_diagonal(distance, np.inf)
            packing = pack_group(Lot(distance, size, None if lots is None else lots[group]))
        chosen.append(replace(packing, sets=group[packing.sets]))
    told.say(len(groups), len(groups), "matched")
    return chosen


def _linked(within: BoolArray, lots: IntArray | None, size: int) -> BoolArray:
    """Return which two tubes may meet; a pair across two lots takes one of each."""
    linked = within & ~np.eye(len(within), dtype=bool)
    if lots is not None and size == 2:
        linked &= lots[:, None] != lots[None, :]
    return linked


def _groups(linked: BoolArray, size: int) -> list[IntArray]:
    """Return the connected groups large enough for a set, the smallest first."""
    from scipy.sparse import csr_matrix  # noqa: PLC0415 (scipy is not needed to start)
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    if not len(linked):
        return []
    number, label = connected_components(csr_matrix(linked), directed=False)
    groups = [np.flatnonzero(label == one) for one in range(number)]
    return sorted((group for group in groups if len(group) >= size), key=len)


def _only_figure(tubes: Sequence[Candidate], request: MatchRequest) -> FloatArray | None:
    """Return each tube's place on a line, in units of tolerance, where one figure is all."""
    simple = not request.guarded and request.across is None and len(request.measures) == 1
    if not simple or any(len(tube.sections) != 1 for tube in tubes):
        return None
    measure = request.measures[0]
    figures = [tube.sections[0].figure(measure) for tube in tubes]
    if measure is Measure.CURVE or not figures:
        return None
    unit = in_log(request.tolerance_of(measure))
    return np.array([np.log(figure.value) / unit for figure in figures if figure is not None])


def _made(packings: Sequence[Packing]) -> int:
    return sum(len(packing.sets) for packing in packings)


def _most(packings: Sequence[Packing]) -> int:
    return sum(packing.most_sets for packing in packings)


def _gap(packings: Sequence[Packing]) -> float:
    made, most = _made(packings), _most(packings)
    if made < most:
        return (most - made) / most
    spread = sum(packing.spread for packing in packings)
    missed = sum(packing.spread - packing.least_spread for packing in packings)
    return missed / spread if missed > 1e-6 * (1.0 + spread) else 0.0


# --- saying ---------------------------------------------------------------------------------


def _a_set(
    tubes: Sequence[Candidate], known: Differences, members: IntArray, request: MatchRequest
) -> MatchSet:
    """Return the set of these tubes; of a set with spares the closest are the set."""
    places = members.tolist()
    if request.spare and request.size > 1:
        core = min(
            combinations(places, request.size),
            key=lambda some: max(known.of_tolerance[a, b] for a, b in combinations(some, 2)),
        )
    else:
        core = tuple(places[: request.size])
    return MatchSet(
        tubes=tuple(tubes[place].key for place in core),
        spread=_spread(known, places),
        spare=tuple(tubes[place].key for place in places if place not in core),
    )


def _spread(known: Differences, places: Sequence[int]) -> Difference:
    """Return how the two most different tubes of a set differ."""
    pairs = [known.between(one, other) for one, other in combinations(places, 2)]
    told = {pair.distinguishable for pair in pairs}
    return replace(
        max(pairs, key=lambda pair: pair.of_tolerance),
        distinguishable=True if True in told else None if None in told else False,
    )


def _width(one: MatchSet) -> float:
    return 0.0 if one.spread is None else one.spread.of_tolerance


def _locked(candidates: Sequence[Candidate], request: MatchRequest) -> list[MatchSet]:
    """Return the locked sets, judged where their tubes can be compared."""
    by_key = {tube.key: tube for tube in candidates}
    result = []
    for keys in request.locked:
        tubes = [by_key[key] for key in keys]
        complete = all(tube.has(measure) for tube in tubes for measure in request.measures)
        spread = None
        if complete and len(tubes) > 1:
            spread = _spread(differences(tubes, tubes, request), range(len(tubes)))
        comparable = spread is not None and np.isfinite(spread.of_tolerance)
        result.append(MatchSet(keys, spread if comparable else None, locked=True))
    return result


def _left_over(
    tubes: Sequence[Candidate], known: Differences, sets: Sequence[MatchSet]
) -> tuple[LeftOver, ...]:
    taken = {key for one in sets for key in (*one.tubes, *one.spare)}
    free = np.array([tube.key not in taken for tube in tubes], dtype=bool)
    distance = known.of_tolerance.copy()
    np.fill_diagonal(distance, np.inf)

    def nearest(place: int, among: FloatArray) -> Neighbour | None:
        other = int(np.argmin(among))
        if not np.isfinite(among[other]):
            return None
        return Neighbour(tubes[other].key, known.between(place, other))

    return tuple(
        LeftOver(
            tubes[place].key,
            nearest(place, distance[place]),
            nearest(place, np.where(free, distance[place], np.inf)),
        )
        for place in np.flatnonzero(free).tolist()
    )
