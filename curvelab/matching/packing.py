"""Most sets, then tightest, of tubes whose distances are known: exact, by integer programming.

One group of tubes that may meet in a set at a time. The linear program over sets (columns) is
solved with the few columns it needs, found by their reduced costs (Gilmore and Gomory, "A linear
programming approach to the cutting-stock problem", Oper. Res. 9 (1961) 849). Its value bounds
every matching from below, and a matching at most so much above it takes only columns whose
reduced cost is no more than that. Among these, which are few while the reach is small, the best
is found by branching. Where none is that good the reach grows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from curvelab.matching.branching import Branches
from curvelab.matching.columns import Prices, TooManySetsError, cheap_sets
from curvelab.matching.lot import Lot, Packing
from curvelab.matching.pairs import pack_pairs
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["pack"]

_TINY = 1e-7  # what the solver's arithmetic leaves open in a reduced cost
_SLACK = 1e-6  # and in a sum of spreads
_BEAM = 4000  # growing sets kept while columns are only looked for
_MOST_COLUMNS = 400_000
_MOST_OFFERED = 150_000  # columns to branch on
_SHARE = 6  # new columns a tube may be in, a round
_MOST_ROUNDS = 400
_NEARLY = 0.05  # of the mean spread: columns this near to being needed come along
_ROOM = 0.3  # of the mean spread: how far above the bound to look first
_WIDER = 1.4  # and how much farther next
_FEW = 4000  # columns that are branched on at once
_HURRIED = 30  # branches looked at for some matching, when there is no time for the best


@dataclass(frozen=True, slots=True, eq=False)
class _Relaxed:
    """A solved linear program.

    Attributes
    ----------
    bound : float
        Least sum of spreads of ``most`` whole sets.
    most : int
        Most whole sets there may be.
    """

    prices: Prices
    bound: float
    most: int


def pack(lot: Lot, should_stop: Callable[[], bool], *, count_only: bool = False) -> Packing:
    """Return the best matching of one group of tubes: most sets, then least sum of spreads.

    Parameters
    ----------
    should_stop : callable
        Asked often; once it says so, the best matching so far is returned.
    count_only : bool
        Whether any matching of most sets will do.
    """
    if lot.size == 2:
        return pack_pairs(lot, should_stop)
    return _Search(lot, should_stop, count_only).run()


class _Search:
    """Columns, cuts and bounds of one group, while they grow."""

    def __init__(self, lot: Lot, should_stop: Callable[[], bool], count_only: bool) -> None:
        self.lot = lot
        self.should_stop = should_stop
        self.count_only = count_only
        self.count = len(lot.distance)
        self.most = self.count // lot.size
        # One set more outweighs whatever the others then must become, twenty times over, so
        # that parts of a set in the linear program do so too.
        self.reward = 20.0 * self.most + 1.0
        self.columns = _first_columns(lot)
        self.spread = lot.spread(self.columns)
        self.held: BoolArray = np.zeros((0, self.count), dtype=bool)
        self.best = _greedy(lot, self.columns, self.spread)
        self.bound = 0.0  # least sum of spreads of so many sets

    def run(self) -> Packing:
        """Return the best matching, proven where neither time nor memory runs out."""
        if not len(self.columns):  # grown from neighbours; there may be others
            try:
                self._offer(_any_sets(self.lot))
            except TooManySetsError:
                return Packing(self.best, 0.0, self.most, 0.0)
            if not len(self.columns):
                return Packing(self.best, 0.0, 0, 0.0)
        while (relaxed := self._priced()) is not None and not self._reached(relaxed):
            self._fewer(self.most - 1)
        if len(self.best) < self.most:
            self._hurry()
        total = self._total()
        return Packing(self.best, total, self.most, min(self.bound, total))

    def _reached(self, relaxed: _Relaxed) -> bool:
        """Look for the best of ``most`` sets, ever farther from the bound.

        Returns False if there is no such matching; True also where it was given up.
        """
        farthest = self.most * float(self.lot.distance[np.isfinite(self.lot.distance)].max())
        room = _ROOM * relaxed.bound / max(self.most, 1) + _SLACK
        step = reach = room
        while not self._done():
            complete = len(self.best) == self.most
            end = self._total() if complete else farthest + _SLACK
            cutoff = min(relaxed.bound + reach, end)
            columns = self._below(cutoff, relaxed)
            if columns is None:
                return True
            if len(columns) < _FEW and cutoff < end:
                reach *= _WIDER
                continue
            branches = self._tightened(columns, cutoff)
            bound = max(branches.bound, self.bound)
            branches.cutoff = min(branches.cutoff, bound + room) if branches.left else cutoff
            if not self._branched(branches):
                return True
            if branches.cutoff >= end and len(self.best) < self.most:
                return False
            step *= _WIDER
            reach = self.bound - relaxed.bound + step
        return True

    def _done(self) -> bool:
        if self.should_stop():
            return True
        complete = len(self.best) == self.most
        return complete and (self.count_only or self._total() - self.bound <= _SLACK)

    def _below(self, cutoff: float, relaxed: _Relaxed) -> IntArray | None:
        """Return all columns of matchings below a cutoff, the cheapest first; None if too many."""
        limit = cutoff - relaxed.bound + _TINY
        try:
            columns, reduced = cheap_sets(self.lot, relaxed.prices, limit, most=_MOST_OFFERED)
        except TooManySetsError:
            return None
        return columns[np.argsort(reduced, kind="stable")]

    def _tightened(self, columns: IntArray, cutoff: float) -> Branches:
        """Return one branch of all these columns, or none where nothing is below the cutoff."""
        branches = Branches(self.lot, columns, self.held, self.most, cutoff)
        while not self._done() and branches.left and branches.tighten():
            pass
        self.held = branches.held
        return branches

    def _branched(self, branches: Branches) -> bool:
        """Find the best of what branches hold; return whether that came to an end."""
        while branches.left and not self._done():
            branches.step()
            if branches.found is not None:
                self._keep(branches.found)
        if branches.found is not None:
            self._keep(branches.found)
        self.bound = max(self.bound, branches.bound)
        return not branches.left and self.bound >= branches.cutoff

    def _hurry(self) -> None:
        """Look for some matching of more sets than the best known has, not long."""
        for number in range(self.most, len(self.best), -1):
            branches = Branches(self.lot, self.columns, self.held[:0], number, np.inf)
            for _ in range(_HURRIED):
                if branches.left and branches.found is None:
                    branches.step()
            if branches.found is not None:
                self._keep(branches.found)
                return

    def _offer(self, columns: IntArray) -> None:
        self.columns = np.concatenate([self.columns, columns])
        self.spread = self.lot.spread(self.columns)

    def _fewer(self, most: int) -> None:
        self.most, self.bound = most, 0.0

    def _total(self) -> float:
        return float(self.lot.spread(self.best).sum())

    def _keep(self, sets: IntArray) -> None:
        """Make these the best, if they are."""
        if (-len(sets), self.lot.spread(sets).sum()) < (-len(self.best), self._total()):
            self.best = sets

    # --- the linear program ---------------------------------------------------------------

    def _priced(self) -> _Relaxed | None:
        """Return the solution over all columns, of which it brings in those it needs."""
        for _ in range(_MOST_ROUNDS):
            if self.should_stop():
                return None
            relaxed = self._solved()
            try:
                missing = self._missing(relaxed)
            except TooManySetsError:
                return None
            if len(missing):
                self._offer(missing)
            elif relaxed.most < self.most:
                self._fewer(relaxed.most)
            else:
                self.bound = max(self.bound, relaxed.bound)
                return relaxed
        return None

    def _missing(self, relaxed: _Relaxed) -> IntArray:
        """Return columns of negative reduced cost, a few for each tube, with some nearly so."""
        nearly = _NEARLY * max(relaxed.bound, 0.0) / max(self.most, 1)
        for beam in (_BEAM, None):
            limit = -_TINY if beam is None else nearly
            found, reduced = cheap_sets(
                self.lot, relaxed.prices, limit, most=_MOST_COLUMNS, beam=beam
            )
            new = ~_among(found, self.columns, self.count)
            found, reduced = found[new], reduced[new]
            if len(found) and reduced.min() < -_TINY:
                return _spread_out(found, reduced, self.count)
        return found[:0]

    def _solved(self) -> _Relaxed:
        from scipy.optimize import linprog  # noqa: PLC0415 (scipy is not needed to start)
        from scipy.sparse import csr_matrix  # noqa: PLC0415

        number, size = self.columns.shape
        # A row for each tube, used at most once, and one for the number of sets.
        members = np.column_stack([self.columns, np.full(number, self.count)])
        place = np.repeat(np.arange(number), size + 1)
        result = linprog(
            self.spread - self.reward,
            A_ub=csr_matrix((np.ones(members.size), (members.ravel(), place))),
            b_ub=np.concatenate([np.ones(self.count), [float(self.most)]]),
            bounds=(0, None),
            method="highs-ds",
        )
        dual = np.maximum(-result.ineqlin.marginals, 0.0)
        value = float(result.fun)
        return _Relaxed(
            prices=Prices(tubes=dual[:-1], worth=self.reward - float(dual[-1])),
            bound=value + self.reward * self.most,
            # More whole sets, each no wider than the tolerance, would have a lower value.
            most=min(int(-value / (self.reward - 1.0) + _SLACK), self.most),
        )


def _first_columns(lot: Lot) -> IntArray:
    """Return sets grown from each tube and each of its neighbours by the nearest tube."""
    found = set()
    for tube in range(len(lot.distance)):
        near = np.argsort(lot.distance[tube], kind="stable")
        near = near[np.isfinite(lot.distance[tube, near]) & (near != tube)]
        if lot.lots is not None:
            near = near[lot.lots[near] != lot.lots[tube]]
        for second in near[:_SHARE].tolist():
            grown = _grown(lot, [tube, second])
            if grown is not None:
                found.add(tuple(sorted(grown)))
    return np.array(sorted(found), dtype=np.int64).reshape(-1, lot.size)


def _any_sets(lot: Lot) -> IntArray:
    """Return some sets wherever there are any."""
    count = len(lot.distance)
    free = Prices(np.zeros(count), 0.0)
    found, _ = cheap_sets(lot, free, np.inf, most=_MOST_COLUMNS, beam=_BEAM)
    if not len(found):
        found, _ = cheap_sets(lot, free, np.inf, most=_MOST_COLUMNS)
    return found[:count]


def _grown(lot: Lot, members: list[int]) -> list[int] | None:
    while len(members) < lot.size:
        reach = lot.distance[members].max(axis=0)
        reach[members] = np.inf
        nearest = int(np.argmin(reach))
        if not np.isfinite(reach[nearest]):
            return None
        members = [*members, nearest]
    return members


def _greedy(lot: Lot, columns: IntArray, spread: FloatArray) -> IntArray:
    """Return disjoint sets, the tightest first: a matching to fall back on."""
    free = np.ones(len(lot.distance), dtype=bool)
    chosen = []
    for row in np.argsort(spread, kind="stable"):
        if free[columns[row]].all():
            free[columns[row]] = False
            chosen.append(row)
    return columns[chosen]


def _among(sets: IntArray, known: IntArray, count: int) -> BoolArray:
    base = count ** np.arange(sets.shape[1], dtype=np.int64)
    return np.isin(sets @ base, known @ base)


def _spread_out(sets: IntArray, reduced: FloatArray, count: int) -> IntArray:
    """Return the cheapest sets such that no tube is in more than a few."""
    uses = np.zeros(count, dtype=int)
    chosen = []
    for row in np.argsort(reduced, kind="stable")[: 20 * count]:
        if uses[sets[row]].max() < _SHARE:
            uses[sets[row]] += 1
            chosen.append(row)
    return sets[chosen]
