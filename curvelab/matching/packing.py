"""Most sets, then tightest, of tubes whose distances are known: exact, by integer programming.

One group of tubes that may meet in a set at a time. The linear program over sets (columns) is
solved with the few columns it needs, found by their reduced costs (Gilmore and Gomory, "A linear
programming approach to the cutting-stock problem", Oper. Res. 9 (1961) 849), and tightened by
cuts. Its value bounds every matching from below. The integer program then gets all columns whose
reduced cost is within the distance between the bound and the best matching known: no other
column can be part of a better one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum, auto
from typing import Any

import numpy as np

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
_MOST_OFFERED = 40_000  # columns that the integer program gets
_SHARE = 6  # new columns a tube may be in, a round
_MOST_ROUNDS = 400
_CUT_ROUNDS = 8  # before the integer program is asked, and asked again
_EASY = 600  # columns that the integer program gets while cuts still help
_PROGRESS = 2e-4  # a round that lifts the bound by a smaller share of it was not worth its time
_NEARLY = 0.05  # of the mean spread: columns this near to being needed come along
_FIRST_SLACK = 0.3  # of the mean spread
_SETTLED = (0, 2)  # solved, or without a solution, as scipy.optimize.milp counts its outcomes


class _Outcome(Enum):
    REACHED = auto()  # there is a matching of so many sets
    OPEN = auto()  # out of time or memory
    IMPOSSIBLE = auto()  # there is none


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

    @property
    def whole(self) -> bool:
        """Whether it takes no set in part."""
        return bool((np.minimum(self.share, 1.0 - self.share) < _SLACK).all())


def pack(lot: Lot, *, time_limit: float, should_stop: Callable[[], bool]) -> Packing:
    """Return the best matching of one group of tubes: most sets, then least sum of spreads.

    Parameters
    ----------
    time_limit : float
        For each integer program [s]; beyond it the best matching so far is returned.
    """
    if lot.size == 2:
        return pack_pairs(lot, should_stop)
    return _Search(lot, time_limit, should_stop).run()


class _Search:
    """Columns, cuts and bounds of one group, while they grow."""

    def __init__(self, lot: Lot, time_limit: float, should_stop: Callable[[], bool]) -> None:
        self.lot = lot
        self.time_limit = time_limit
        self.should_stop = should_stop
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
        self.closed = False  # whether the columns are all that may be in a better matching

    def run(self) -> Packing:
        """Return the best matching, proven where neither time nor memory runs out."""
        if not len(self.columns):  # grown from neighbours; there may be others
            try:
                self._offer(_any_sets(self.lot))
            except TooManySetsError:
                return Packing(self.best, 0.0, self.most, 0.0)
            if not len(self.columns):
                return Packing(self.best, 0.0, 0, 0.0)
        relaxed = self._reached()
        if relaxed is not None and self._close(relaxed):
            self._finish()
        total = self._total()
        return Packing(self.best, total, self.most, min(self.bound, total))

    def _reached(self) -> _Relaxed | None:
        """Find any matching of as many sets as there can be, near the best.

        Returns None, with the best matching known, where it was given up.
        """
        while (relaxed := self._tightened()) is not None:
            outcome = self._whole(relaxed)
            if outcome is _Outcome.REACHED:
                return relaxed
            if outcome is _Outcome.OPEN:
                break
            self._fewer(self.most - 1)
        self._chosen(self.columns, None)
        return None

    def _finish(self) -> None:
        """Tighten and narrow the closed columns until the best of them is known."""
        while self._total() - self.bound > _SLACK:
            before = self.bound
            relaxed = self._tightened()
            if relaxed is None:
                return
            helps = self.bound - before > _PROGRESS * self.bound
            if relaxed.whole:
                self._keep(self.columns[relaxed.share > 0.5])
                self.bound = self._total()
            elif not helps or len(self.columns) <= _EASY:
                if self._chosen(self.columns, self.most):
                    self.bound = self._total()
                elif not helps:
                    return

    def _offer(self, columns: IntArray) -> None:
        self.columns = np.concatenate([self.columns, columns])
        self.spread = self.lot.spread(self.columns)

    def _fewer(self, most: int) -> None:
        self.most, self.bound = most, 0.0

    def _close(self, relaxed: _Relaxed) -> bool:
        """Take all columns that may be in a better matching than the best known, and no other."""
        gap = self._total() - relaxed.bound + _SLACK
        try:
            self.columns, _ = cheap_sets(self.lot, relaxed.prices, gap, most=_MOST_OFFERED)
        except TooManySetsError:
            return False
        self.spread = self.lot.spread(self.columns)
        self.closed = True
        return True

    def _total(self) -> float:
        return float(self.lot.spread(self.best).sum())

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
            if self.closed:
                self.bound = max(self.bound, relaxed.bound)
                return self._narrowed(relaxed)
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

    def _narrowed(self, relaxed: _Relaxed) -> _Relaxed:
        """Drop columns that can no longer be in a better matching than the best known."""
        keep = relaxed.reduced <= self._total() - relaxed.bound + _SLACK  # share is 0 elsewhere
        self.columns, self.spread = self.columns[keep], self.spread[keep]
        return replace(relaxed, share=relaxed.share[keep], reduced=relaxed.reduced[keep])

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

    # --- the integer program --------------------------------------------------------------

    def _whole(self, relaxed: _Relaxed) -> _Outcome:
        """Look for ``most`` sets among ever more columns."""
        slack = _FIRST_SLACK * relaxed.bound / max(self.most, 1) + _SLACK
        while not self.should_stop():
            try:
                found, _ = cheap_sets(self.lot, relaxed.prices, slack, most=_MOST_OFFERED)
            except TooManySetsError:
                break
            settled = self._chosen(found, self.most)
            if len(self.best) == self.most:
                return _Outcome.REACHED
            if not settled:
                break
            if not np.isfinite(slack):
                return _Outcome.IMPOSSIBLE
            slack = 2 * slack if slack < 4 * self.reward else np.inf
        return _Outcome.OPEN

    def _chosen(self, columns: IntArray, number: int | None) -> bool:
        """Choose the best of these columns, so many or as many as can be; keep what is better.

        Returns whether the integer program came to an end.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

        if not len(columns):
            return True
        rows, limits = self._rows(columns)
        least = np.full(len(limits), -np.inf)
        if number is not None:
            least[-1] = number
        result = milp(
            self.lot.spread(columns) - (self.reward if number is None else 0.0),
            integrality=np.ones(len(columns)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(rows, least, limits),
            options={"mip_rel_gap": 0.0, "time_limit": self.time_limit},
        )
        if result.x is not None:
            self._keep(columns[result.x > 0.5])
        return int(result.status) in _SETTLED

    def _keep(self, sets: IntArray) -> None:
        """Make these the best, if they are."""
        if (-len(sets), self.lot.spread(sets).sum()) < (-len(self.best), self._total()):
            self.best = sets


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
