"""From readings to a family of curves, for many tubes at once.

In order: bench faults are left out; each law is fitted to all tubes in one pass; AICc chooses
(Hurvich and Tsai, "Regression and time series model selection in small samples", Biometrika 76
(1989) 297); the chosen law is polished against outliers; a smooth correction follows.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curvelab.fitting.correction import fit_corrections
from curvelab.fitting.engine import Solution, solve
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.hull import convex_hull
from curvelab.fitting.laws import LAWS, Koren, Softplus, ThreeHalves
from curvelab.fitting.records import FitResult, Outcome
from curvelab.fitting.screen import screen
from curvelab.fitting.shared import (
    LAST_RESORT,
    Prepared,
    aicc_of,
    judge_coverage,
    law_record,
    noise_covariance,
    without_family,
)
from curvelab.fitting.stack import Stack, stack_readings
from curvelab.fitting.starts import starting_values
from curvelab.sweep.curves import split_curves
from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["fit_sweep", "fit_sweeps"]

_TOGETHER = 64  # tubes a pass; more only costs memory
# Weights of the law's fit: no law follows a real tube closer than this, so no reading may
# count as if it did (relative part; part of the largest current).
_LAW_RELATIVE, _LAW_FLOOR = 0.03, 0.004
# Near enough to tell the laws apart; the law that is kept is then finished.
_ITERATIONS, _TO_COMPARE, _TO_KEEP = 60, 1e-3, 1e-4
_OPEN_PARAMETER = 10.0  # standard deviation: of a logarithm, or volts of contact offset

AnyLaw = ThreeHalves | Koren | Softplus


def fit_sweep(readings: Readings) -> FitResult:
    """Fit one tube; see `fit_sweeps`."""
    return fit_sweeps([readings])[0]


def fit_sweeps(sweeps: Sequence[Readings]) -> tuple[FitResult, ...]:
    """Fit every tube; poor data gives a result that says why, never an exception."""
    prepared = [_prepare(readings) for readings in sweeps]
    results: list[FitResult | None] = [
        None if item.outcome is Outcome.GOOD else without_family(item) for item in prepared
    ]
    # Tubes of like size share a pass, so that little of it is padding.
    waiting = sorted(
        (index for index, result in enumerate(results) if result is None),
        key=lambda index: len(prepared[index].readings),
    )
    for begin in range(0, len(waiting), _TOGETHER):
        chunk = waiting[begin : begin + _TOGETHER]
        for index, result in zip(chunk, _fit_chunk([prepared[k] for k in chunk]), strict=True):
            results[index] = result
    return tuple(result for result in results if result is not None)


def _prepare(readings: Readings) -> Prepared:
    left_out = screen(readings, split_curves(readings)) if len(readings) else ()
    used = np.ones(len(readings), dtype=bool)
    for item in left_out:
        used[item.readings] = False
    count = int(used.sum())
    if count == 0:
        return Prepared(readings, used, left_out, None, Outcome.TOO_FEW, "no usable reading")
    plate, grid = readings.plate_voltage[used], readings.grid_voltage[used]
    hull = convex_hull(plate, grid)
    largest = float(readings.plate_current[used].max())
    outcome, reason = judge_coverage(hull, largest, count)
    return Prepared(readings, used, left_out, hull, outcome, reason)


def _fit_chunk(chunk: Sequence[Prepared]) -> list[FitResult]:
    stack = stack_readings([item.readings for item in chunk], [item.used for item in chunk])
    weight = stack.counted / (
        (_LAW_RELATIVE * stack.plate_current) ** 2
        + (_LAW_FLOOR * stack.largest_current[:, None]) ** 2
    )
    solutions = [_solve(law, stack, weight) for law in LAWS]
    criteria = np.stack([aicc_of(solution, stack.count) for solution in solutions], axis=1)
    criteria[:, 0] = np.minimum(criteria[:, 0], LAST_RESORT)  # the plain law is always there
    best = np.argmin(criteria, axis=1)
    results: list[FitResult | None] = [None] * len(chunk)
    for order, law in enumerate(LAWS):
        rows = np.flatnonzero(best == order)
        if rows.size:
            _finish(law, rows, chunk, stack, weight, solutions, criteria, results)
    return [result for result in results if result is not None]


def _model(law: AnyLaw, stack: Stack):  # type: ignore[no-untyped-def]
    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        return law.evaluate(stack.plate_voltage[index], stack.grid_voltage[index], internal)

    return model


def _solve(law: AnyLaw, stack: Stack, weight: FloatArray) -> Solution:
    start = starting_values(
        law, stack.plate_voltage, stack.grid_voltage, stack.plate_current, stack.counted
    )
    return solve(
        _model(law, stack),
        start,
        stack.plate_current,
        weight,
        pull=1.0 / _OPEN_PARAMETER**2,
        max_iterations=_ITERATIONS,
        tolerance=_TO_COMPARE,
    )


def _finish(  # noqa: PLR0913 (the arrays of one pass)
    law: AnyLaw,
    rows: IntArray,
    chunk: Sequence[Prepared],
    stack: Stack,
    weight: FloatArray,
    solutions: Sequence[Solution],
    criteria: FloatArray,
    results: list[FitResult | None],
) -> None:
    mine = stack.take(rows)
    polished = solve(
        _model(law, mine),
        solutions[LAWS.index(law)].parameters[rows],
        mine.plate_current,
        weight[rows],
        robust=True,
        pull=1.0 / _OPEN_PARAMETER**2,
        max_iterations=_ITERATIONS,
        tolerance=_TO_KEEP,
    )
    found = fit_corrections(law, polished.parameters, mine)
    current, jacobian = law.evaluate(mine.plate_voltage, mine.grid_voltage, polished.parameters)
    left = mine.plate_current - current  # by the law alone
    fitted = current * found.factor
    noise_all = np.hypot(found.relative_noise[:, None] * fitted, found.floor[:, None])
    residual_all = mine.plate_current - fitted
    covariance = noise_covariance(
        jacobian, noise_all, mine.counted, np.full(jacobian.shape[-1], 1.0 / _OPEN_PARAMETER**2)
    )
    for place, row in enumerate(rows):
        item = chunk[row]
        size = len(item.readings)
        correction = found.corrections[place]
        noise, residual = noise_all[place, :size], residual_all[place, :size]
        family = FittedFamily(
            law=law,
            internal=polished.parameters[place],
            law_covariance=covariance[place],
            correction=correction,
            hull=item.hull,
            freedom=float(found.freedom[place]),
        )
        for array in (residual, noise):
            array.setflags(write=False)
        laws = tuple(
            law_record(law, polished, place, float(criteria[row, k]), left[place, :size][item.used])
            if other is law
            else law_record(
                other,
                solution,
                int(row),
                float(criteria[row, k]),
                solution.residual[row, :size][item.used],
            )
            for k, (other, solution) in enumerate(zip(LAWS, solutions, strict=True))
        )
        results[row] = FitResult(
            used=item.used,
            left_out=item.left_out,
            law=laws[LAWS.index(law)],
            laws=laws,
            corrected=correction is not None,
            family=family,
            residual=residual,
            noise=noise,
            hull=item.hull,
            rms=float(np.sqrt(np.mean(residual[item.used] ** 2))),
            outcome=Outcome.GOOD,
        )
