"""Most sets, then tightest, of tubes whose distances are known: exact, by integer programming.

One group of tubes that may meet in a set at a time. The linear program over sets (columns) is
solved with the few columns it needs, found by their reduced costs (Gilmore and Gomory, "A linear
programming approach to the cutting-stock problem", Oper. Res. 9 (1961) 849), and tightened by
cuts. Its value bounds every matching from below. A matching at most so much above the bound
takes only columns whose reduced cost is no more than that: among these, which are few while the
reach is small, the best is found by branching. Where none is that good the reach grows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from curvelab.matching.branching import Branches
from curvelab.matching.columns import Prices, TooManySetsError, cheap_sets
from curvelab.matching.cuts import broken_cuts, coefficients
from curvelab.matching.lot import Lot, Packing
from curvelab.matching.pairs import pack_pairs
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["pack"]

_TINY = 1e-7  # what the solver's arithmetic leaves open in a reduced cost
_SLACK = 1e-6  # and in a sum of spreads
_BEAM = 4000  # growing sets kept while columns are only looked for
_MOST_COLUMNS = 400_000
_MOST_OFFERED = 40_000  # columns to branch on
_SHARE = 6  # new columns a tube may be in, a round
_MOST_ROUNDS = 400
_CUT_ROUNDS = 8
_PROGRESS = 2e-4  # a round that lifts the bound by a smaller share of it was not worth its time
_NEARLY = 0.05  # of the mean spread: columns this near to being needed come along
_FIRST_REACH = 0.3  # of the mean spread
_HURRIED = 30  # branches looked at for some matching, when there is no time for the best


@dataclass(frozen=True, slots=True, eq=False)
class _Relaxed:
    """A solved linear program.

    Attributes
    ----------
    share, reduced : ndarray, shape (m,)
        How much of each column it takes, and its reduced cost.
    bound : float
        Least sum of spreads of ``most`` whole sets.
    most : int
        Most whole sets there may be.
    """

    share: FloatArray
    reduced: FloatArray
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
        while (relaxed := self._tightened()) is not None and not self._reached(relaxed):
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
        reach = _FIRST_REACH * relaxed.bound / max(self.most, 1) + _SLACK
        while not self._done():
            cutoff = min(relaxed.bound + reach, farthest + _SLACK)
            if len(self.best) == self.most:
                cutoff = min(cutoff, self._total())
            try:
                columns, _ = cheap_sets(
                    self.lot, relaxed.prices, cutoff - relaxed.bound + _TINY, most=_MOST_OFFERED
                )
            except TooManySetsError:
                return True
            if not self._branched(columns, cutoff):
                return True
            if cutoff > farthest and len(self.best) < self.most:
                return False
            reach *= 2.0
        return True

    def _done(self) -> bool:
        if self.should_stop():
            return True
        complete = len(self.best) == self.most
        return complete and (self.count_only or self._total() - self.bound <= _SLACK)

    def _branched(self, columns: IntArray, cutoff: float) -> bool:
        """Find the best of these columns; return whether that came to an end."""
        branches = Branches(self.lot, columns, self.held, self.most, cutoff)
        while branches.left and not self._done():
            branches.step()
            if branches.found is not None:
                self._keep(branches.found)
        self.bound = max(self.bound, branches.bound)
        return not branches.left and self.bound >= branches.cutoff

    def _hurry(self) -> None:
        """Look for some matching of more sets than the best known has, not long."""
        for number in range(self.most, len(self.best), -1):
            branches = Branches(self.lot, self.columns, self.held, number, np.inf)
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

    def _tightened(self) -> _Relaxed | None:
        """Return the linear program's solution after some cuts; None where it was given up."""
        relaxed = self._priced()
        for _ in range(_CUT_ROUNDS):
            if relaxed is None:
                break
            cuts = broken_cuts(self.columns, relaxed.share, self.count)
            if not len(cuts):
                break
            before, held = self.bound, self.held
            self.held = np.concatenate([held, cuts])
            tighter = self._priced()
            if tighter is None and not self.should_stop():
                self.held = held  # too many sets under these cuts: what was there before is good
                break
            relaxed = tighter
            if self.bound - before < _PROGRESS * self.bound:
                break
        return relaxed

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

        rows, limits = self._rows(self.columns)
        result = linprog(
            self.spread - self.reward, A_ub=rows, b_ub=limits, bounds=(0, None), method="highs-ds"
        )
        dual = np.maximum(-result.ineqlin.marginals, 0.0)
        prices = Prices(
            tubes=dual[: self.count],
            cuts=dual[self.count : -1],
            held=self.held,
            worth=self.reward - float(dual[-1]),
        )
        value = float(result.fun)
        return _Relaxed(
            share=result.x,
            reduced=self.spread - self.reward + rows.T @ dual,
            prices=prices,
            bound=value + self.reward * self.most,
            # More whole sets, each no wider than the tolerance, would have a lower value.
            most=min(int(-value / (self.reward - 1.0) + _SLACK), self.most),
        )

    def _rows(self, columns: IntArray) -> tuple[Any, FloatArray]:
        """Return the constraints: each tube once, the cuts, the number of sets."""
        from scipy.sparse import csr_matrix, vstack  # noqa: PLC0415

        number, size = columns.shape
        place = np.repeat(np.arange(number), size)
        once = csr_matrix(
            (np.ones(columns.size), (columns.ravel(), place)), shape=(self.count, number)
        )
        cuts = csr_matrix(coefficients(self.held, columns).astype(float))
        limits = np.concatenate(
            [np.ones(self.count), self.held.sum(axis=1) // 2, [float(self.most)]]
        )
        return vstack([once, cuts, csr_matrix(np.ones((1, number)))], format="csr"), limits


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
    free = Prices(np.zeros(count), np.zeros(0), np.zeros((0, count), dtype=bool), 0.0)
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
