"""Most sets, then tightest, of tubes whose distances are known: exact, by integer programming.

One group of tubes that may meet in a set at a time. The linear program over sets (columns) is
solved with the few columns it needs, found by their reduced costs (Gilmore and Gomory, "A linear
programming approach to the cutting-stock problem", Oper. Res. 9 (1961) 849). Its value bounds
every matching from below, and a matching at most so much above it takes only columns whose
reduced cost is no more than that. Among these, which are few while the reach is small, the best
is found by branching. Where none is that good the reach grows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.matching.branching import Branches
from curvelab.matching.columns import (
    Prices,
    TooManySetsError,
    all_cheap_sets,
    some_cheap_sets,
)
from curvelab.matching.improving import improved
from curvelab.matching.lot import Lot, Packing
from curvelab.matching.pairs import pack_pairs
from curvelab.matching.patience import Patience, StoppedError
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["pack"]

_TINY = 1e-7  # what the solver's arithmetic leaves open in a reduced cost
_SLACK = 1e-6  # and in a sum of spreads
_MOST_COLUMNS = 400_000
_MOST_OFFERED = 150_000  # columns to branch on
_SHARE = 6  # new columns a tube may be in, a round
_NEARLY = 0.05  # of the mean spread: columns this near to being needed come along
_ROOM = 0.3  # of the mean spread: how far above the bound to look first
_WIDER = 1.4  # and how much farther next
_FEW = 4000  # columns that are branched on at once
_LARGE = 150  # tubes, of which it takes long to come to any choice by branching
_PROVING = 0.6  # of the time, before sets are improved without proof
_ROUNDING = 0.4  # of the time for that
_SURE = 0.6  # of a set taken: enough to keep it, and more than half, so that no two overlap
_FOR_FEW = 1.0  # s, to put few tubes together anew


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


def pack(lot: Lot, patience: Patience, *, count_only: bool = False) -> Packing:
    """Return the best matching of one group of tubes: most sets, then least sum of spreads.

    Parameters
    ----------
    patience : Patience
        When it ends, the best matching so far is returned.
    count_only : bool
        Whether any matching of most sets will do.
    """
    if lot.size == 2:
        return pack_pairs(lot, patience)
    search = _Search(lot, count_only)
    search.prove(patience.part(_PROVING))
    if not search.done:
        search.improve(patience.part(_PROVING))
        search.prove(patience)
    return search.packing


class _Search:
    """Columns, cuts and bounds of one group, while they grow."""

    def __init__(self, lot: Lot, count_only: bool) -> None:
        self.lot = lot
        self.count_only = count_only
        self.count = len(lot.distance)
        self.most = self.count // lot.size
        # One set more outweighs whatever the others then must become, twenty times over, so
        # that parts of a set in the linear program do so too.
        self.reward = 20.0 * self.most + 1.0
        self.columns = _first_columns(lot)
        self.spread = lot.spread(self.columns)
        self.held: BoolArray = np.zeros((0, self.count), dtype=bool)
        self.best = _greedy(lot, self.columns)
        self.share = np.zeros(0)  # of the columns in the linear program, when last solved
        self.bound = 0.0  # least sum of spreads of so many sets

    def prove(self, patience: Patience) -> None:
        """Find the best matching, as far as time and memory go."""
        try:
            if not len(self.columns):  # grown from neighbours; there may be others
                self._offer(_any_sets(self.lot, patience))
            if not len(self.columns):
                self._fewer(0)
                return
            while not self.done and not self._reached(self._priced(patience), patience):
                self._fewer(self.most - 1)
        except (StoppedError, TooManySetsError):
            return

    def shares(self, patience: Patience) -> FloatArray:
        """Return how much the linear program takes of the first columns."""
        if len(self.columns):
            self._priced(patience)
        return self.share

    def improve(self, patience: Patience) -> None:
        """Make the best known better where it is not proven best."""
        self._keep(_rounded(self.lot, patience.part(_ROUNDING)))

        def best(few: Lot) -> IntArray:
            search = _Search(few, count_only=False)
            search.prove(patience.at_most(_FOR_FEW))
            return search.best

        self._keep(improved(self.lot, self.best, best, patience))

    @property
    def packing(self) -> Packing:
        """Return the best matching, and what is proven of it."""
        total = self._total()
        return Packing(self.best, total, self.most, min(self.bound, total))

    @property
    def done(self) -> bool:
        """Tell whether it is as good as is asked for."""
        complete = len(self.best) == self.most
        return complete and (self.count_only or self._total() - self.bound <= _SLACK)

    def _reached(self, relaxed: _Relaxed, patience: Patience) -> bool:
        """Look for the best of ``most`` sets, ever farther from the bound.

        Returns False if there is no such matching.
        """
        farthest = self.most * float(self.lot.distance[np.isfinite(self.lot.distance)].max())
        room = _ROOM * relaxed.bound / max(self.most, 1) + _SLACK
        step, reach = room, self.bound - relaxed.bound + room
        while not self.done:
            complete = len(self.best) == self.most
            end = self._total() if complete else farthest + _SLACK
            cutoff = min(relaxed.bound + reach, end)
            columns = self._below(cutoff, relaxed, patience)
            if len(columns) < _FEW and cutoff < end:
                reach *= _WIDER
                continue
            self._branch(Branches(self.lot, columns, self.held, self.most, cutoff), room, patience)
            if self.bound >= end and len(self.best) < self.most:
                return False
            step *= _WIDER
            reach = self.bound - relaxed.bound + step
        return True

    def _below(self, cutoff: float, relaxed: _Relaxed, patience: Patience) -> IntArray:
        """Return all columns of matchings below a cutoff, the cheapest first."""
        limit = cutoff - relaxed.bound + _TINY
        columns, reduced = all_cheap_sets(self.lot, relaxed.prices, limit, _MOST_OFFERED, patience)
        return columns[np.argsort(reduced, kind="stable")]

    def _branch(self, branches: Branches, room: float, patience: Patience) -> None:
        """Find the best of what branches hold, no farther than ``room`` above their bound."""
        try:
            while branches.left and branches.tighten(patience):
                pass
            self.held = branches.held
            if branches.left and self.count > _LARGE and len(self.best) < self.most:
                branches.guess(patience)
            if branches.left:
                bound = max(branches.bound, self.bound)
                branches.cutoff = min(branches.cutoff, bound + room)
            while branches.left and not (self.count_only and branches.found is not None):
                branches.step(patience)
            if branches.unsettled < branches.cutoff:
                raise StoppedError
        finally:
            if branches.found is not None:
                self._keep(branches.found)
            self.bound = max(self.bound, branches.bound)

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

    def _priced(self, patience: Patience) -> _Relaxed:
        """Return the solution over all columns, of which it brings in those it needs."""
        while True:
            patience.check()
            relaxed = self._solved()
            missing = self._missing(relaxed, patience)
            if len(missing):
                self._offer(missing)
            elif relaxed.most < self.most:
                self._fewer(relaxed.most)
            else:
                self.bound = max(self.bound, relaxed.bound)
                return relaxed

    def _missing(self, relaxed: _Relaxed, patience: Patience) -> IntArray:
        """Return columns of negative reduced cost, a few for each tube, with some nearly so."""
        nearly = _NEARLY * max(relaxed.bound, 0.0) / max(self.most, 1)
        missing = self._new(*some_cheap_sets(self.lot, relaxed.prices, nearly))
        if not len(missing):
            missing = self._new(
                *all_cheap_sets(self.lot, relaxed.prices, -_TINY, _MOST_COLUMNS, patience)
            )
        return missing

    def _new(self, found: IntArray, reduced: FloatArray) -> IntArray:
        """Return those not yet known, if any is of negative reduced cost."""
        new = ~_among(found, self.columns, self.count)
        found, reduced = found[new], reduced[new]
        if not len(found) or reduced.min() >= -_TINY:
            return found[:0]
        return _spread_out(found, reduced, self.count)

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
        self.share = result.x
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


def _any_sets(lot: Lot, patience: Patience) -> IntArray:
    """Return some sets wherever there are any."""
    free = Prices(np.zeros(len(lot.distance)), 0.0)
    found, _ = some_cheap_sets(lot, free, np.inf)
    if not len(found):
        found, _ = all_cheap_sets(lot, free, np.inf, _MOST_COLUMNS, patience)
    return found[: len(lot.distance)]


def _grown(lot: Lot, members: list[int]) -> list[int] | None:
    while len(members) < lot.size:
        reach = lot.distance[members].max(axis=0)
        reach[members] = np.inf
        nearest = int(np.argmin(reach))
        if not np.isfinite(reach[nearest]):
            return None
        members = [*members, nearest]
    return members


def _greedy(lot: Lot, columns: IntArray) -> IntArray:
    """Return disjoint sets, the tightest first, and again of what is left."""
    free = np.ones(len(lot.distance), dtype=bool)
    chosen = [columns[:0]]
    while len(columns):
        for row in np.argsort(lot.spread(columns), kind="stable").tolist():
            if free[columns[row]].all():
                free[columns[row]] = False
                chosen.append(columns[row : row + 1])
        left = np.flatnonzero(free)
        columns = left[_first_columns(lot.of(left))]
    return np.concatenate(chosen)


def _rounded(lot: Lot, patience: Patience) -> IntArray:
    """Return disjoint sets: what the linear program takes most of, and again of what is left."""
    left = np.arange(len(lot.distance))
    chosen = [np.zeros((0, lot.size), dtype=np.int64)]
    while True:
        search = _Search(lot.of(left), count_only=False)
        try:
            share = search.shares(patience)
        except (StoppedError, TooManySetsError):
            chosen.append(left[search.best])
            break
        if not share.size:
            break
        sure = np.flatnonzero(share > _SURE)
        taken = search.columns[sure if sure.size else [int(share.argmax())]]
        chosen.append(left[taken])
        left = np.delete(left, taken.ravel())
    return np.concatenate(chosen)


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
