"""The best of known sets, so many of them: branch and bound.

Each branch keeps fewer of the sets: two tubes are in one set or in different ones (Ryan and
Foster, "An integer programming approach to scheduling", in Wren (ed.), Computer Scheduling of
Public Transport, North-Holland 1981, 269), or a tube is used or is not. Its linear program bounds
what it can give and drops the sets that are too dear for anything better than what is known; a
branch of few sets left goes to the integer program as it is. Each step is short, so that the
work can be stopped at any time, with what it has found and proven by then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from curvelab.matching.cuts import broken_cuts, coefficients
from curvelab.matching.lot import Lot
from curvelab.sweep.records import BoolArray, FloatArray, IntArray

__all__ = ["Branches"]

_SLACK = 1e-7  # what the solver's arithmetic leaves open
_WHOLE = 1e-6
_ROUNDS = 3  # of cuts in a branch
_EASY = 150  # columns for the integer program
_SETTLED = (0, 2)  # solved, or without a solution, as scipy.optimize counts its outcomes


@dataclass(frozen=True, slots=True, eq=False)
class _Branch:
    """Sets to choose from, cuts, which tubes must be used, and what it cannot be better than."""

    columns: IntArray
    held: BoolArray
    used: BoolArray
    bound: float


class Branches:
    """Branches yet to be looked at, and the best found in the others.

    Parameters
    ----------
    columns : ndarray of int, shape (m, size)
        The sets that may be chosen.
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
        used = np.zeros(len(lot.distance), dtype=bool)
        self.left = [_Branch(columns, held, used, 0.0)]
        self.unsettled = np.inf  # bound of branches that the solver could not settle

    @property
    def bound(self) -> float:
        """Return what no choice among the columns can undercut."""
        return min((self.cutoff, self.unsettled, *(branch.bound for branch in self.left)))

    def step(self) -> None:
        """Look at one branch: settle it, or divide it."""
        branch = self.left.pop()
        for _ in range(_ROUNDS):
            if branch.bound >= self.cutoff or len(branch.columns) < self.most:
                return
            if len(branch.columns) <= _EASY:
                self._settle(branch)
                return
            solved = self._narrowed(branch)
            if solved is None:
                return
            branch, share = solved
            if (np.minimum(share, 1.0 - share) < _WHOLE).all():
                self._keep(branch.columns[share > 0.5])
                return
            cuts = broken_cuts(branch.columns, share, len(branch.used))
            if not len(cuts):
                break
            branch = replace(branch, held=np.concatenate([branch.held, cuts]))
        self.left += self._divided(branch, share)

    def _keep(self, sets: IntArray) -> None:
        total = float(self.lot.spread(sets).sum())
        if total < self.cutoff:
            self.found, self.cutoff = sets, total

    def _narrowed(self, branch: _Branch) -> tuple[_Branch, FloatArray] | None:
        """Return what may be better than the best, with its share; None where nothing may be."""
        from scipy.optimize import linprog  # noqa: PLC0415 (scipy is not needed to start)

        tubes, cuts = self._rows(branch)
        spread = self.lot.spread(branch.columns)
        at_most, exactly = _stacked(tubes, cuts), _stacked(tubes[branch.used], _ones(branch))
        result = linprog(
            spread,
            A_ub=at_most,
            b_ub=np.concatenate([np.ones(len(branch.used)), _limits(branch)]),
            A_eq=exactly,
            b_eq=np.concatenate([np.ones(exactly.shape[0] - 1), [float(self.most)]]),
            bounds=(0, None),
            method="highs-ds",
        )
        if result.status not in _SETTLED:
            self.unsettled = min(self.unsettled, branch.bound)
        if result.status != 0 or result.fun >= self.cutoff - _SLACK:
            return None
        reduced = spread - at_most.T @ result.ineqlin.marginals
        reduced -= exactly.T @ result.eqlin.marginals
        keep = reduced <= self.cutoff - result.fun + _SLACK
        active = result.ineqlin.marginals[len(branch.used) :] < -_SLACK
        narrowed = replace(
            branch,
            columns=branch.columns[keep],
            held=branch.held[active],
            bound=max(branch.bound, float(result.fun)),
        )
        return narrowed, result.x[keep]

    def _settle(self, branch: _Branch) -> None:
        """Choose the best of few columns."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415

        tubes, cuts = self._rows(branch)
        most = float(self.most)
        result = milp(
            self.lot.spread(branch.columns),
            integrality=np.ones(len(branch.columns)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(
                _stacked(tubes, cuts, _ones(branch)),
                np.concatenate([branch.used, np.full(len(branch.held), -np.inf), [most]]),
                np.concatenate([np.ones(len(branch.used)), _limits(branch), [most]]),
            ),
            options={"mip_rel_gap": 0.0},
        )
        if result.status not in _SETTLED:
            self.unsettled = min(self.unsettled, branch.bound)
        elif result.x is not None:
            self._keep(branch.columns[result.x > 0.5])

    def _rows(self, branch: _Branch) -> tuple[Any, Any]:
        from scipy.sparse import csr_matrix  # noqa: PLC0415

        number, size = branch.columns.shape
        place = np.repeat(np.arange(number), size)
        tubes = csr_matrix(
            (np.ones(number * size), (branch.columns.ravel(), place)),
            shape=(len(branch.used), number),
        )
        return tubes, csr_matrix(coefficients(branch.held, branch.columns).astype(float))

    def _divided(self, branch: _Branch, share: FloatArray) -> tuple[_Branch, _Branch]:
        """Return two branches that exclude the present solution; the likelier one last."""
        together = _together(branch.columns, share, len(branch.used))
        usage = np.diagonal(together)
        doubt = np.minimum(together, 1.0 - together)
        tube = int(np.minimum(usage, 1.0 - usage).argmax())
        if min(usage[tube], 1.0 - usage[tube]) > _WHOLE:
            used = branch.used.copy()
            used[tube] = True
            without = (branch.columns != tube).all(axis=1)
            return (
                replace(branch, columns=branch.columns[without]),
                replace(branch, used=used),
            )
        one, other = np.unravel_index(int(doubt.argmax()), doubt.shape)
        has_one = (branch.columns == one).any(axis=1)
        has_other = (branch.columns == other).any(axis=1)
        return (
            replace(branch, columns=branch.columns[~(has_one & has_other)]),
            replace(branch, columns=branch.columns[has_one == has_other]),
        )


def _together(columns: IntArray, share: FloatArray, count: int) -> FloatArray:
    """Return how much any two tubes are in one set; on the diagonal how much each is used."""
    member = np.zeros((len(columns), count))
    member[np.arange(len(columns))[:, None], columns] = 1.0
    return (member * share[:, None]).T @ member


def _limits(branch: _Branch) -> FloatArray:
    limits: FloatArray = (branch.held.sum(axis=1) // 2).astype(float)
    return limits


def _ones(branch: _Branch) -> FloatArray:
    return np.ones((1, len(branch.columns)))


def _stacked(*rows: Any) -> Any:
    from scipy.sparse import csr_matrix, vstack  # noqa: PLC0415

    return vstack([csr_matrix(part) for part in rows], format="csr")
