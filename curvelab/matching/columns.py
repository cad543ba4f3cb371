"""Which sets of tubes are worth offering to the integer program: enumeration under prices.

A set's reduced cost is its spread, plus the prices of its members, minus what one more set is
worth. Only sets of small reduced cost can take part in a best
matching, so the rest, millions of them, need never be written down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.matching.lot import Lot
from curvelab.matching.patience import Patience
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["Prices", "TooManySetsError", "all_cheap_sets", "some_cheap_sets"]

_CHUNK = 1_000_000  # elements of one working matrix
_BEAM = 4000  # growing sets kept while some are looked for
_MOST_TRIED = 6_000_000  # growing sets looked at


class TooManySetsError(RuntimeError):
    """More sets than can be written down; caught within the room, never seen outside."""


@dataclass(frozen=True, slots=True, eq=False)
class Prices:
    """The dual values of the linear program.

    ``tubes`` (n,) are the prices of using a tube, ``worth`` is what one more set is worth.
    """

    tubes: FloatArray
    worth: float


def some_cheap_sets(lot: Lot, prices: Prices, limit: float) -> tuple[IntArray, FloatArray]:
    """Return some of what `all_cheap_sets` does, quickly: the cheapest are likely among them."""
    grown = _Growing.single(lot, prices)
    for remaining in range(lot.size - 2, -1, -1):
        grown = grown.best(_BEAM).extended(prices.worth + limit, remaining)
    return grown.sets(lot, prices)


def all_cheap_sets(
    lot: Lot, prices: Prices, limit: float, most: int, patience: Patience
) -> tuple[IntArray, FloatArray]:
    """Return the sets whose reduced cost is below ``limit``, and their reduced costs.

    Sets grow tube by tube, dearest first; one that is already too dear with the cheapest
    tubes still to come is given up, which loses nothing.

    Parameters
    ----------
    most : int
        As many may be found.

    Returns
    -------
    sets, reduced : ndarray of int, shape (m, size); ndarray, shape (m,)

    Raises
    ------
    TooManySetsError
        If there are more than ``most``, or too many to look through.
    StoppedError
        If it takes too long.
    """
    search = _Search(prices.worth + limit, lot.size, most, patience)
    return search.complete(_Growing.single(lot, prices)).sets(lot, prices)


class _Search:
    """Depth first, a part of the growing sets at a time, so that memory stays small."""

    def __init__(self, bound: float, size: int, most: int, patience: Patience) -> None:
        self.bound = bound
        self.size = size
        self.left = most
        self.tried = _MOST_TRIED
        self.patience = patience

    def complete(self, grown: _Growing) -> _Growing:
        """Return all whole sets that these grow into."""
        remaining = self.size - grown.members.shape[1] - 1
        found = []
        for part in grown.parts():
            self.patience.check()
            wider = part.extended(self.bound, remaining)
            self.tried -= len(wider.members)
            if remaining:
                wider = self.complete(wider)
            else:
                self.left -= len(wider.members)
            if self.left < 0 or self.tried < 0:
                raise TooManySetsError
            found.append(wider)
        return _Growing.joined(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Growing:
    """Sets of one size, their members as positions in the order of prices."""

    order: IntArray  # (n,)
    distance: FloatArray  # (n, n), in that order
    prices: FloatArray  # (n,)
    members: IntArray  # (m, size)
    spread: FloatArray  # (m,)
    paid: FloatArray  # (m,)

    @classmethod
    def single(cls, lot: Lot, prices: Prices) -> _Growing:
        order = np.argsort(-prices.tubes, kind="stable")
        return cls(
            order=order,
            distance=lot.distance[np.ix_(order, order)],
            prices=prices.tubes[order],
            members=np.arange(len(order))[:, None],
            spread=np.zeros(len(order)),
            paid=prices.tubes[order],
        )

    def sets(self, lot: Lot, prices: Prices) -> tuple[IntArray, FloatArray]:
        """Return them as sets of the lot, where it admits them, with their reduced costs."""
        sets = np.sort(self.order[self.members], axis=1)
        admitted = lot.admits(sets)
        reduced = self.spread + self.paid - prices.worth
        return sets[admitted], reduced[admitted]

    def parts(self) -> Iterator[_Growing]:
        """Yield them a working matrix at a time, at least once."""
        step = max(1, _CHUNK // len(self.prices))
        for begin in range(0, max(1, len(self.members)), step):
            yield self._taken(slice(begin, begin + step))

    def extended(self, bound: float, remaining: int) -> _Growing:
        """Return the sets with one tube more that may stay below ``bound``.

        Their spread and prices with those of the ``remaining`` cheapest tubes that could
        still join them decide.
        """
        # Not kept along with the sets: of millions it would not fit into memory.
        reach = self.distance[self.members[:, 0]]
        for place in range(1, self.members.shape[1]):
            np.maximum(reach, self.distance[self.members[:, place]], out=reach)
        joins = np.isfinite(reach)
        joins &= np.arange(len(self.prices)) > self.members[:, -1:]
        wider = np.maximum(self.spread[:, None], reach)
        dearer = self.paid[:, None] + self.prices
        cheapest = self._cheapest(joins, remaining)
        joins &= np.isfinite(cheapest)[:, None]
        joins &= wider + dearer + cheapest[:, None] <= bound
        row, tube = np.nonzero(joins)
        return replace(
            self,
            members=np.column_stack([self.members[row], tube]),
            spread=wider[row, tube],
            paid=dearer[row, tube],
        )

    def _cheapest(self, joins: BoolArray, number: int) -> FloatArray:
        """Return the price of the cheapest tubes that could join, so many of them."""
        if not number:
            return np.zeros(len(joins))
        backward = joins[:, ::-1]  # the cheapest come last
        rank = np.cumsum(backward, axis=1, dtype=np.int32)
        price: FloatArray = (backward & (rank <= number)) @ self.prices[::-1]
        return np.where(rank[:, -1] > number, price, np.inf)

    def best(self, count: int) -> _Growing:
        """Return the ``count`` sets that are cheapest so far."""
        if len(self.members) <= count:
            return self
        return self._taken(np.argpartition(self.spread + self.paid, count)[:count])

    @classmethod
    def joined(cls, parts: Sequence[_Growing]) -> _Growing:
        """Return the sets of all parts."""
        return replace(
            parts[0],
            **{name: np.concatenate([getattr(part, name) for part in parts]) for name in _EACH},
        )

    def _taken(self, index: slice | IntArray) -> _Growing:
        return replace(self, **{name: getattr(self, name)[index] for name in _EACH})


_EACH = ("members", "spread", "paid")
