"""Most pairs, then tightest: Edmonds' weighted matching, with its proof.

The integer program of pairs is the one whose linear program, with the inequalities of all odd
groups of tubes, has whole-numbered solutions only; its dual is built along with the pairs
(Edmonds, "Maximum matching and a polyhedron with 0,1-vertices", J. Res. NBS 69B (1965) 125). One
alternating tree grows at a time from a tube that has no partner yet, as in Cook and Rohe,
"Computing minimum-weight perfect matchings", INFORMS J. Comput. 11 (1999) 138, section 2. Here
every tube may also stay single at a price beyond all spreads, so that most pairs go first.

Prices and distances are whole numbers, even ones for the distances: then all steps are whole,
nothing is lost to rounding, and what is tight is exactly so.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.matching.lot import Lot, Packing
from curvelab.matching.patience import Patience, StoppedError
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["pack_pairs"]

_UNIT = 2**37  # of distance; even
_NEVER = 2**61  # the distance of tubes that may not meet

_FREE, _EVEN, _ODD = 0, 1, -1


class _Node:
    """A tube, or an odd cycle of nodes that one tube at a time leaves: its base.

    Attributes
    ----------
    cycle : list of _Node
        Beginning with the one that holds the base; the others are matched two by two.
    edges : list of (int, int)
        Tubes by which each of the cycle meets the next.
    price : int
        What its inequality takes off the prices of the tubes.
    entry : (int, int)
        The edge by which the tree came here, where the node's label is odd.
    """

    __slots__ = ("base", "cycle", "edges", "entry", "label", "members", "price")

    def __init__(
        self, base: int, members: IntArray, cycle: list[_Node], edges: list[tuple[int, int]]
    ) -> None:
        self.base = base
        self.members = members
        self.cycle = cycle
        self.edges = edges
        self.price = 0
        self.label = _FREE
        self.entry = (-1, -1)


def pack_pairs(lot: Lot, patience: Patience) -> Packing:
    """Return most pairs, then least sum of distances, and what the prices prove of it."""
    distance = lot.distance
    if lot.lots is not None:
        distance = np.where(lot.lots[:, None] == lot.lots, np.inf, distance)
    search = _Search(distance)
    search.run(patience)
    pairs = search.pairs
    return Packing(pairs, float(lot.spread(pairs).sum()), *search.bounds())


class _Search:
    """Pairs of one group of tubes, and the prices that prove them best.

    Parameters
    ----------
    distance : ndarray, shape (n, n)
        Infinite where two tubes may not meet.
    """

    def __init__(self, distance: FloatArray) -> None:
        self.count = count = len(distance)
        meet = np.isfinite(distance)
        np.fill_diagonal(meet, False)
        self.cost = np.full(distance.shape, _NEVER, dtype=np.int64)
        self.cost[meet] = 2 * np.rint(distance[meet] * (_UNIT // 2)).astype(np.int64)
        self.widest = int(self.cost[meet].max(initial=0))
        self.single = (count // 2 + 1) * self.widest // 2 + _UNIT  # price of staying single
        self.price = np.minimum(self.cost.min(axis=1, initial=_NEVER) // 2, self.single)
        self.mate = np.full(count, -1)
        nodes = [_Node(tube, np.array([tube]), [], []) for tube in range(count)]
        self.top = np.array(nodes, dtype=object)  # the outermost node that holds each tube
        self._start_tree()

    def run(self, patience: Patience) -> None:
        """Find the best pairs, or stop with some."""
        self._match_tight()
        try:
            for tube in range(self.count):
                patience.check()
                if self.mate[tube] < 0 and self.price[tube] < self.single:
                    self._grow(tube)
        except StoppedError:
            self._match_rest()

    @property
    def pairs(self) -> IntArray:
        """Return the pairs; shape (s, 2)."""
        first = np.flatnonzero(self.mate > np.arange(self.count))
        return np.column_stack([first, self.mate[first]])

    def bounds(self) -> tuple[int, float]:
        """Return the most pairs there may be, and the least sum of distances of so many."""
        nodes = list(self._nested())
        value = int(self.price.sum(dtype=object))
        slack = self.cost - self.price[:, None] - self.price
        for node in nodes:
            value -= node.price * (len(node.members) // 2)
            slack[np.ix_(node.members, node.members)] += node.price
        sound = slack.min(initial=0) >= 0 and all(node.price >= 0 for node in nodes)
        if not sound or (self.price > self.single).any():
            return self.count // 2, 0.0
        saved = self.count * self.single - value
        most = min(self.count // 2, saved // (2 * self.single - self.widest))
        least = (2 * most * self.single - saved) / _UNIT
        return most, max(least, 0.0)

    # --- the tree -------------------------------------------------------------------------

    def _match_tight(self) -> None:
        for one, other in np.argwhere(self.cost == self.price[:, None] + self.price).tolist():
            if self.mate[one] < 0 and self.mate[other] < 0:
                self._join(one, other)

    def _match_rest(self) -> None:
        left = np.flatnonzero(self.mate < 0)
        cost = self.cost[np.ix_(left, left)]
        for place in np.argsort(cost, axis=None, kind="stable").tolist():
            one, other = left[place // len(left)], left[place % len(left)]
            if self.cost[one, other] == _NEVER:
                break
            if self.mate[one] < 0 and self.mate[other] < 0:
                self._join(one, other)

    def _start_tree(self) -> None:
        self.labels = np.zeros(self.count, dtype=np.int64)
        self.slack = np.full(self.count, _NEVER)  # to the nearest even tube of another node
        self.via = np.full(self.count, -1)  # which is that
        self.reached: list[_Node] = []

    def _grow(self, root: int) -> None:
        """Grow a tree until a tube more is matched, or this or another one may stay single."""
        self._start_tree()
        self._label(self.top[root], _EVEN)
        while not self._step():
            pass
        for node in self.reached:
            node.label = _FREE

    def _step(self) -> bool:
        """Raise the prices until an edge is tight or an inequality idle; act on it."""
        even = self.labels == _EVEN
        room = np.where(even, self.slack // 2, np.where(self.labels == _ODD, _NEVER, self.slack))
        tube = int(room.argmin())
        rest = np.where(even, self.single - self.price, _NEVER)
        idle = int(rest.argmin())
        shrinking = [node for node in self.reached if node.label == _ODD and node.cycle]
        thin = min(shrinking, key=lambda node: node.price, default=None)
        limit = _NEVER if thin is None else thin.price // 2
        by = min(int(room[tube]), int(rest[idle]), limit)
        self._raise(by)
        if thin is not None and limit == by:
            self._unfold(thin)
            return False
        if room[tube] > by:
            self._flip(idle)
            self.mate[idle] = -1
            return True
        return self._meet(int(self.via[tube]), tube)

    def _raise(self, by: int) -> None:
        if not by:
            return
        self.price += by * self.labels
        self.slack -= by * (1 + self.labels)
        for node in self.reached:
            if node.cycle:
                node.price += 2 * by * node.label

    def _meet(self, one: int, other: int) -> bool:
        """Take up a tight edge that leaves an even tube."""
        node = self.top[other]
        if node.label == _EVEN:
            self._fold(one, other)
            return False
        partner = int(self.mate[node.base])
        if partner < 0:
            self._flip(one)
            self._rotate(node, other)
            self._join(one, other)
            return True
        node.entry = (one, other)
        self._label(node, _ODD)
        self._label(self.top[partner], _EVEN)
        return False

    def _label(self, node: _Node, label: int) -> None:
        if node.label == _FREE:
            self.reached.append(node)
        node.label = label
        self.labels[node.members] = label
        if label == _EVEN:
            self._look_from(node.members)

    def _look_from(self, tubes: IntArray) -> None:
        """Account for tubes that have become even, all of one node."""
        slack = self.cost[tubes] - self.price[tubes, None] - self.price
        slack[:, self.top[tubes[0]].members] = _NEVER
        nearest = slack.argmin(axis=0)
        least = slack[nearest, np.arange(self.count)]
        nearer = least < self.slack
        self.slack[nearer] = least[nearer]
        self.via[nearer] = tubes[nearest[nearer]]

    # --- nodes ----------------------------------------------------------------------------

    def _fold(self, one: int, other: int) -> None:
        """Make one even node of the cycle that a tight edge closes."""
        left, left_edges = self._upward(self.top[one])
        right, right_edges = self._upward(self.top[other])
        while len(left) > 1 and len(right) > 1 and left[-2] is right[-2]:
            for path in (left, right, left_edges, right_edges):
                path.pop()
        cycle = [*left[::-1], *right[:-1]]
        edges = [(b, a) for a, b in left_edges[::-1]] + [(one, other), *right_edges]
        was_odd = [node.members for node in cycle if node.label == _ODD]
        members = np.concatenate([node.members for node in cycle])
        whole = _Node(left[-1].base, members, cycle, edges)
        self.top[members] = whole
        inside = set(cycle)
        self.reached = [node for node in self.reached if node not in inside]
        self.reached.append(whole)
        whole.label = _EVEN
        self.labels[members] = _EVEN
        self._look_from(np.concatenate(was_odd))
        self._look_anew(members)

    def _look_anew(self, members: IntArray) -> None:
        """Find the nearest even tube of another node for the tubes of a new one."""
        even = self.labels == _EVEN
        even[members] = False
        others = np.flatnonzero(even)
        self.slack[members] = _NEVER
        if others.size:
            slack = self.cost[np.ix_(others, members)]
            slack = slack - self.price[others, None] - self.price[members]
            nearest = slack.argmin(axis=0)
            self.slack[members] = slack[nearest, np.arange(members.size)]
            self.via[members] = others[nearest]

    def _upward(self, node: _Node) -> tuple[list[_Node], list[tuple[int, int]]]:
        """Return the nodes from an even one to the root, and the edges between them."""
        path, edges = [node], []
        while (partner := int(self.mate[path[-1].base])) >= 0:
            odd = self.top[partner]
            above, below = odd.entry
            edges += [(path[-1].base, partner), (below, above)]
            path += [odd, self.top[above]]
        return path, edges

    def _unfold(self, node: _Node) -> None:
        """Put the cycle of an odd node in its place in the tree."""
        self.reached.remove(node)
        for part in node.cycle:
            part.label = _FREE
            self.top[part.members] = part
        self.labels[node.members] = _FREE
        place = _place(node, node.entry[1])
        size = len(node.cycle)
        step = -1 if place % 2 == 0 else 1  # towards the partner, and on to the base
        entry = node.entry
        while True:
            odd = node.cycle[place]
            odd.entry = entry
            self._label(odd, _ODD)
            if place == 0:
                break
            even = (place + step) % size
            self._label(node.cycle[even], _EVEN)
            place = (even + step) % size
            one, other = node.edges[even if step > 0 else place]
            entry = (one, other) if step > 0 else (other, one)

    # --- pairs ----------------------------------------------------------------------------

    def _join(self, one: int, other: int) -> None:
        self.mate[one], self.mate[other] = other, one

    def _flip(self, tube: int) -> None:
        """Make an even tube the one that the tree leaves without a partner."""
        node = self.top[tube]
        partner = int(self.mate[node.base])
        self._rotate(node, tube)
        while partner >= 0:
            odd = self.top[partner]
            above, below = odd.entry
            node = self.top[above]
            partner = int(self.mate[node.base])
            self._rotate(odd, below)
            self._rotate(node, above)
            self._join(above, below)

    def _rotate(self, node: _Node, base: int) -> None:
        """Match a node's tubes among themselves but for one."""
        if node.base == base:
            return
        place = _place(node, base)
        node.cycle = node.cycle[place:] + node.cycle[:place]
        node.edges = node.edges[place:] + node.edges[:place]
        node.base = base
        self._rotate(node.cycle[0], base)
        for first in range(1, len(node.cycle), 2):
            one, other = node.edges[first]
            self._rotate(node.cycle[first], one)
            self._rotate(node.cycle[first + 1], other)
            self._join(one, other)

    def _nested(self) -> Iterator[_Node]:
        """Yield all nodes of more than one tube."""
        left = list({id(node): node for node in self.top}.values())
        while left:
            node = left.pop()
            if node.cycle:
                yield node
                left += node.cycle


def _place(node: _Node, tube: int) -> int:
    """Return which of a node's cycle holds a tube."""
    return next(k for k, part in enumerate(node.cycle) if tube in part.members)
