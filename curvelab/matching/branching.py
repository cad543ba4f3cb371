"""The best of known sets, so many of them: branch, bound and cut.

Each branch keeps fewer of the sets: two tubes are in one set or in different ones (Ryan and
Foster, "An integer programming approach to scheduling", in Wren (ed.), Computer Scheduling of
Public Transport, North-Holland 1981, 269), or a tube is used or is not. Its linear program bounds
what it can give and drops the sets that are too dear for anything better than what is known; a
branch of few sets left goes to the integer program as it is. Each step is short, so that the
work can be stopped at any time, with what it has found and proven by then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from curvelab.matching.cuts import broken_cuts, coefficients
from curvelab.matching.lot import Lot
from curvelab.matching.patience import Patience
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["Branches"]

_SLACK = 1e-7  # what the solver's arithmetic leaves open
_WHOLE = 1e-6
_ROUNDS = 3  # of cuts in a branch
_PROGRESS = 2e-4  # of the bound: as long as cuts lift it by so much, there are more rounds
_EASY = 150  # columns for the integer program
_DIRECT = 1000  # columns for the linear program at once; of more it gets those it needs
_MORE = 400
_LIKELY = (3, 4)  # columns a tube among which a good choice is guessed
_GUESSING = 0.4  # s, each time
_SETTLED = (0, 2)  # solved, or without a solution, as scipy.optimize counts its outcomes


@dataclass(frozen=True, slots=True, eq=False)
class _Branch:
    """What to choose from.

    ``columns`` (m, size) are the sets, the likelier ones first, ``spread`` (m,) theirs; ``held``
    (c, n) the cuts, ``used`` (n,) which tubes must be used; nothing in it is below ``bound``.
    """

    columns: IntArray
    spread: FloatArray
    held: BoolArray
    used: BoolArray
    bound: float

    def having(self, kept: BoolArray | IntArray) -> _Branch:
        """Return the branch with some of the columns."""
        return _Branch(
            self.columns[kept], self.spread[kept], self.held, self.used, self.bound
        )  # fmt: skip

    def cut(self, held: BoolArray) -> _Branch:
        """Return the branch with other cuts."""
        return _Branch(self.columns, self.spread, held, self.used, self.bound)

    def rows(self) -> tuple[Any, Any]:
        """Return which column has which tube, and how it counts in which cut."""
        from scipy.sparse import csr_matrix  # noqa: PLC0415 (scipy is not needed to start)

        number, size = self.columns.shape
        place = np.repeat(np.arange(number), size)
        tubes = csr_matrix(
            (np.ones(number * size), (self.columns.ravel(), place)),
            shape=(len(self.used), number),
        )
        return tubes, csr_matrix(coefficients(self.held, self.columns))

    def limits(self) -> FloatArray:
        """Return how much of the tubes, then of the cuts, there is at most."""
        cuts = np.asarray(self.held.sum(axis=1) // 2, dtype=np.float64)
        return np.concatenate([np.ones(len(self.used)), cuts])


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """The linear program of some columns: its value, their share and the dual values."""

    value: float
    share: FloatArray
    tube_prices: FloatArray
    cut_prices: FloatArray
    worth: float

    def reduced(self, branch: _Branch, limit: float) -> FloatArray:
        """Return the reduced costs of a branch's columns, or less where above a limit.

        Cuts make a column dearer only: most are too dear without them.
        """
        reduced: FloatArray = branch.spread + self.tube_prices[branch.columns].sum(axis=1)
        reduced -= self.worth
        close, active = np.flatnonzero(reduced <= limit), self.cut_prices > 0
        counts = coefficients(branch.held[active], branch.columns[close])
        reduced[close] += self.cut_prices[active] @ counts
        return reduced


class Branches:
    """Branches yet to be looked at, and the best found in the others.

    Parameters
    ----------
    columns : ndarray of int, shape (m, size)
        The sets that may be chosen, the likelier ones first.
    held : ndarray of bool, shape (c, n)
        Cuts to begin with.
    most : int
        How many sets to choose.
    cutoff : float
        Sum of spreads to be undercut.
    """

    def __init__(
        self, lot: Lot, columns: IntArray, held: BoolArray, most: int, cutoff: float
    ) -> None:
        self.lot = lot
        self.most = most
        self.cutoff = cutoff
        self.found: IntArray | None = None
        self.held = held  # those that helped last
        used = np.zeros(len(lot.distance), dtype=bool)
        self.left = [_Branch(columns, lot.spread(columns), held, used, 0.0)]
        self.unsettled = np.inf  # bound of branches that the solver could not settle

    @property
    def bound(self) -> float:
        """Return what no choice among the columns can undercut."""
        return min((self.cutoff, self.unsettled, *(branch.bound for branch in self.left)))

    def tighten(self, patience: Patience) -> bool:
        """Lift the bound of the next branch for a moment; return whether to go on.

        Raises
        ------
        StoppedError
            If it takes too long; the branch is left as it was.
        """
        worked = self._worked(self.left[-1], patience)
        self.left.pop()
        if worked is None:
            return False
        branch, _, helps = worked
        self.left.append(branch)
        return helps

    def step(self, patience: Patience) -> None:
        """Look at the next branch for a moment: settle it, tighten it, or divide it.

        Raises
        ------
        StoppedError
            As `tighten`.
        """
        worked = self._worked(self.left[-1], patience)
        self.left.pop()
        if worked is None:
            return
        branch, share, helps = worked
        if helps:
            self.left.append(branch)
        else:
            self.left += _divided(branch, share)

    def guess(self, patience: Patience) -> None:
        """Look for a good choice among the likeliest columns of the next branch, not long."""
        branch = self.left[-1]
        for several in _LIKELY:
            patience.check()
            likely = branch.having(np.arange(len(branch.columns)) < several * len(branch.used))
            result = self._whole(likely, _GUESSING)
            if result.x is not None:
                self._keep(likely.columns[result.x > 0.5])
                return

    def _worked(
        self, branch: _Branch, patience: Patience
    ) -> tuple[_Branch, FloatArray, bool] | None:
        """Return a branch after some cuts, how much it takes of its columns, and if cuts help.

        None where it is settled.
        """
        for _ in range(_ROUNDS):
            if branch.bound >= self.cutoff or len(branch.columns) < self.most:
                return None
            if len(branch.columns) <= _EASY:
                self._settle(branch)
                return None
            before = branch.bound
            solved = self._narrowed(branch, patience)
            if solved is None:
                return None
            branch, share = solved
            if (np.minimum(share, 1.0 - share) < _WHOLE).all():
                self._keep(branch.columns[share > 0.5])
                return None
            cuts = broken_cuts(branch.columns, share, len(branch.used))
            if not len(cuts):
                return branch, share, False
            self.held = branch.held
            branch = branch.cut(np.concatenate([branch.held, cuts]))
        return branch, share, branch.bound - before > _PROGRESS * branch.bound

    def _keep(self, sets: IntArray) -> None:
        total = float(self.lot.spread(sets).sum())
        if total < self.cutoff:
            self.found, self.cutoff = sets, total

    def _narrowed(self, branch: _Branch, patience: Patience) -> tuple[_Branch, FloatArray] | None:
        """Return what may be better than the best, with its share; None where nothing may be."""
        chosen = np.arange(len(branch.columns)) < _DIRECT
        while True:
            patience.check()
            solved = self._solved(branch.having(chosen))
            if solved is None:
                if chosen.all():
                    return None
                chosen[: 2 * int(chosen.sum())] = True
                continue
            reduced = solved.reduced(branch, max(self.cutoff - solved.value, 0.0) + _SLACK)
            least = float(reduced.min())
            if solved.value + self.most * min(least, 0.0) >= self.cutoff - _SLACK:
                return None
            missing = np.flatnonzero(~chosen)
            if not missing.size or reduced[missing].min() >= -_SLACK:
                break
            # With some that are not needed yet: without them there would be many rounds.
            chosen[missing[np.argsort(reduced[missing], kind="stable")[:_MORE]]] = True
        share = np.zeros(len(branch.columns))
        share[chosen] = solved.share
        kept = np.flatnonzero(reduced <= self.cutoff - solved.value + _SLACK)
        kept = kept[np.argsort(reduced[kept], kind="stable")]
        bound = max(branch.bound, solved.value)
        held = branch.held[solved.cut_prices > _SLACK]
        narrowed = _Branch(branch.columns[kept], branch.spread[kept], held, branch.used, bound)
        return narrowed, share[kept]

    def _solved(self, branch: _Branch) -> _Solved | None:
        from scipy.optimize import linprog  # noqa: PLC0415 (scipy is not needed to start)

        tubes, cuts = branch.rows()
        count = tubes.shape[0]
        exactly = _stacked(tubes[branch.used], np.ones((1, tubes.shape[1])))
        result = linprog(
            branch.spread,
            A_ub=_stacked(tubes, cuts),
            b_ub=branch.limits(),
            A_eq=exactly,
            b_eq=np.concatenate([np.ones(exactly.shape[0] - 1), [float(self.most)]]),
            bounds=(0, None),
            method="highs-ds",
        )
        if result.status not in _SETTLED:
            self.unsettled = min(self.unsettled, branch.bound)
        if result.status != 0:
            return None
        prices = -result.ineqlin.marginals
        prices[:count][branch.used] -= result.eqlin.marginals[:-1]
        return _Solved(
            value=float(result.fun),
            share=result.x,
            tube_prices=prices[:count],
            cut_prices=prices[count:],
            worth=float(result.eqlin.marginals[-1]),
        )

    def _settle(self, branch: _Branch) -> None:
        """Choose the best of few columns."""
        result = self._whole(branch, np.inf)
        if result.status not in _SETTLED:
            self.unsettled = min(self.unsettled, branch.bound)
        elif result.x is not None:
            self._keep(branch.columns[result.x > 0.5])

    def _whole(self, branch: _Branch, seconds: float) -> Any:
        """Return what the integer program makes of a branch."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

        most = float(self.most)
        return milp(
            branch.spread,
            integrality=np.ones(len(branch.columns)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(
                _stacked(*branch.rows(), np.ones((1, len(branch.columns)))),
                np.concatenate([branch.used, np.zeros(len(branch.held)), [most]]),
                np.concatenate([branch.limits(), [most]]),
            ),
            options={"mip_rel_gap": 0.0, "time_limit": seconds},
        )


def _divided(branch: _Branch, share: FloatArray) -> tuple[_Branch, _Branch]:
    """Return two branches that exclude the present solution; the likelier one last."""
    together = _together(branch.columns, share, len(branch.used))
    usage = np.diagonal(together)
    tube = int(np.minimum(usage, 1.0 - usage).argmax())
    if min(usage[tube], 1.0 - usage[tube]) > _WHOLE:
        used = branch.used.copy()
        used[tube] = True
        without = branch.having((branch.columns != tube).all(axis=1))
        return without, _Branch(branch.columns, branch.spread, branch.held, used, branch.bound)
    doubt = np.minimum(together, 1.0 - together)
    one, other = np.unravel_index(int(doubt.argmax()), doubt.shape)
    has_one = (branch.columns == one).any(axis=1)
    has_other = (branch.columns == other).any(axis=1)
    return branch.having(~(has_one & has_other)), branch.having(has_one == has_other)


def _together(columns: IntArray, share: FloatArray, count: int) -> FloatArray:
    """Return how much any two tubes are in one set; on the diagonal how much each is used."""
    taken = share > 0
    member = np.zeros((int(taken.sum()), count))
    member[np.arange(len(member))[:, None], columns[taken]] = 1.0
    return (member * share[taken, None]).T @ member


def _stacked(*rows: Any) -> Any:
    from scipy.sparse import csr_matrix, vstack  # noqa: PLC0415

    return vstack([csr_matrix(part) for part in rows], format="csr")
