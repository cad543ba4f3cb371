"""Solutions kept by what they were solved from, so that no start of the program waits for them.

A solution is found again only by the very figures, priors and starting values that led to it:
a figure that changes, or a type of one's own, is solved anew, and nothing can go stale.
"""

from __future__ import annotations

from collections.abc import Callable, MutableMapping, Sequence
from hashlib import sha256

import numpy as np

from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["Solved", "solve_what_is_new"]

# By a digest of what was solved: the parameters, and last the sum of squares.
Solved = MutableMapping[str, tuple[float, ...]]

_DECIMALS = 9  # logarithms differ by a last digit between machines


def solve_what_is_new(
    solved: Solved,
    law: str,
    inputs: Sequence[Sequence[FloatArray]],
    solve_rows: Callable[[IntArray], tuple[FloatArray, FloatArray]],
) -> tuple[FloatArray, FloatArray]:
    """Return parameters and sums of squares, solving and adding only what is not there.

    Parameters
    ----------
    solved : mutable mapping
        What has been solved; what this call solves is added.
    law : str
        Name of the law.
    inputs : sequence of sequences of ndarray, length t
        For each row all that its solution depends on.
    solve_rows : callable
        Solves the rows of these places: parameters of shape (r, p) and costs of shape (r,).

    Returns
    -------
    parameters : ndarray, shape (t, p)
    cost : ndarray, shape (t,)
    """
    keys = [_digest(law, item) for item in inputs]
    new = np.array([row for row, key in enumerate(keys) if key not in solved], dtype=int)
    if new.size:
        parameters, cost = solve_rows(new)
        found = np.column_stack([parameters, cost]).tolist()
        solved.update((keys[row], tuple(one)) for row, one in zip(new, found, strict=True))
    table = np.array([solved[key] for key in keys])
    return table[:, :-1], table[:, -1]


def _digest(law: str, inputs: Sequence[FloatArray]) -> str:
    found = sha256(law.encode("utf-8"))
    for item in inputs:
        found.update((np.round(item, _DECIMALS) + 0.0).tobytes())
    return found.hexdigest()[:20]
