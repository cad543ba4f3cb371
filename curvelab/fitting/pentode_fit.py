"""From readings with a screen voltage to a family of curves, for many tubes at once.

As for triodes: bench faults are left out, the law is fitted to all tubes in one pass, polished
against outliers (a beam tube's dip below its knee is one), and a smooth correction follows. Plate
and, where it was metered, screen current are fitted together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.errors import FitInputError
from curvelab.fitting.conversion import CONTACT_OFFSET, DEGREE, convert
from curvelab.fitting.correction import CorrectionSet, LawSurface, correct
from curvelab.fitting.engine import Solution, solve
from curvelab.fitting.hull import Hull, convex_hull
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_law import PENTODE
from curvelab.fitting.pentode_shape import PENTODE_CENTRE, PENTODE_WIDTH
from curvelab.fitting.records import FitResult, Outcome
from curvelab.fitting.screen_steps import faults_by_screen_step, usual_screen_voltage
from curvelab.fitting.shared import (
    Prepared,
    aicc_of,
    judge_coverage,
    law_record,
    noise_covariance,
    without_family,
)
from curvelab.fitting.stack import Stack
from curvelab.fitting.waves import SCREEN_GRID_WAVES
from curvelab.sweep.records import BoolArray, FloatArray, IntArray, Readings

__all__ = [
    "at_screen",
    "correct_pentode",
    "covered_by",
    "fit_pentodes",
    "start_from_readings",
]

_TOGETHER = 32
# As for triodes; the division of the screen's current is followed less closely still.
_PLATE_RELATIVE, _PLATE_FLOOR = 0.03, 0.004
_SCREEN_RELATIVE, _SCREEN_FLOOR = 0.10, 0.03
_ITERATIONS, _TO_FIND, _TO_KEEP = 100, 1e-3, 1e-4
# Below half the screen's volts a screen-grid tube's plate current may fall as the plate's rise.
_RISES_FROM = 0.5
_ABOVE_KNEE = 0.5  # of the screen voltage, for starting values
_FOOT = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class _Pass:
    """Readings of several tubes, padded; shape (t, n)."""

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    screen_voltage: FloatArray
    plate_current: FloatArray
    screen_current: FloatArray
    counted: FloatArray
    screen_counted: FloatArray
    reference: FloatArray  # shape (t,): usual screen voltage of each tube


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    """What one pass found; currents and noise of shape (t, n)."""

    solution: Solution
    found: CorrectionSet
    law: FloatArray
    plate: FloatArray
    noise: FloatArray
    covariance: FloatArray


def fit_pentodes(sweeps: Sequence[Readings]) -> tuple[FitResult, ...]:
    """Fit every tube; poor data gives a result that says why.

    Raises
    ------
    FitInputError
        If readings lack the screen voltage.
    """
    if any(readings.screen_voltage is None for readings in sweeps):
        raise FitInputError("a tube with a screen grid is fitted with its screen voltage only")
    prepared = [_prepare(readings) for readings in sweeps]
    results: list[FitResult | None] = [
        None if item.outcome is Outcome.GOOD else without_family(item) for item in prepared
    ]
    waiting = [index for index, result in enumerate(results) if result is None]
    waiting.sort(key=lambda index: len(prepared[index].readings))
    for begin in range(0, len(waiting), _TOGETHER):
        chunk = waiting[begin : begin + _TOGETHER]
        for index, result in zip(chunk, _fit_chunk([prepared[k] for k in chunk]), strict=True):
            results[index] = result
    return tuple(result for result in results if result is not None)


def at_screen(fit: FitResult, screen_voltage: float | None) -> FitResult:
    """Return a fit as seen at another screen voltage [V]; a triode's stays as it is."""
    if screen_voltage is None or not isinstance(fit.family, PentodeFamily):
        return fit
    family = fit.family.at_screen(screen_voltage)
    return replace(fit, family=family, hull=family.hull)


def _prepare(readings: Readings) -> Prepared:
    screen = readings.screen_voltage
    assert screen is not None
    left_out = faults_by_screen_step(readings)
    used = np.isfinite(screen) & (np.nan_to_num(screen) > 0)
    for item in left_out:
        used[item.readings] = False
    count = int(used.sum())
    if count == 0:
        return Prepared(readings, used, left_out, None, Outcome.TOO_FEW, "no usable reading")
    hull = _hull(readings, used, usual_screen_voltage(screen[used]), CONTACT_OFFSET)
    largest = float(readings.plate_current[used].max())
    outcome, reason = judge_coverage(hull, largest, count)
    return Prepared(readings, used, left_out, hull, outcome, reason)


def _hull(readings: Readings, used: BoolArray, reference: float, offset: float) -> Hull:
    """Return what the readings cover, converted to one screen voltage."""
    assert readings.screen_voltage is not None
    there = convert(
        readings.plate_voltage[used],
        readings.grid_voltage[used],
        readings.plate_current[used],
        readings.screen_voltage[used],
        reference,
        offset,
    )
    return convex_hull(there.plate_voltage, there.grid_voltage)


def _fit_chunk(chunk: Sequence[Prepared]) -> list[FitResult]:
    stack = _pass_of(chunk)
    solution = _solve(stack)
    internal = solution.parameters
    times = (stack.reference[:, None] / stack.screen_voltage) ** DEGREE
    found = _correct(stack, internal)
    currents = PENTODE.evaluate(
        stack.plate_voltage, stack.grid_voltage, stack.screen_voltage, internal
    )
    plate = currents.plate * found.factor
    noise = np.hypot(found.relative_noise[:, None] * plate, found.floor[:, None] / times)
    covariance = noise_covariance(
        currents.plate_jacobian, noise, stack.counted, 1.0 / PENTODE_WIDTH**2
    )
    fitted = _Fitted(solution, found, currents.plate, plate, noise, covariance)
    return [_result(row, item, stack, fitted) for row, item in enumerate(chunk)]


def _pass_of(chunk: Sequence[Prepared]) -> _Pass:
    width = max(len(item.readings) for item in chunk)
    plate, grid, current, screen, counted, drawn = np.zeros((6, len(chunk), width))
    drawn_counted = np.zeros_like(counted)
    screen[:] = 1.0  # padding keeps off the law's pole
    reference = np.empty(len(chunk))
    for row, item in enumerate(chunk):
        readings, size = item.readings, len(item.readings)
        assert readings.screen_voltage is not None
        reference[row] = usual_screen_voltage(readings.screen_voltage[item.used])
        plate[row, :size], grid[row, :size] = readings.plate_voltage, readings.grid_voltage
        current[row, :size] = readings.plate_current
        screen[row, :size] = np.where(item.used, readings.screen_voltage, reference[row])
        counted[row, :size] = item.used
        if readings.screen_current is not None:
            drawn[row, :size] = np.nan_to_num(readings.screen_current)
            drawn_counted[row, :size] = item.used & np.isfinite(readings.screen_current)
    return _Pass(plate, grid, screen, current, drawn, counted, drawn_counted, reference)


def _solve(stack: _Pass) -> Solution:
    size = stack.plate_current.shape[1]

    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        found = PENTODE.evaluate(
            stack.plate_voltage[index],
            stack.grid_voltage[index],
            stack.screen_voltage[index],
            internal,
        )
        if not metered:
            return found.plate, found.plate_jacobian
        return (
            np.concatenate([found.plate, found.screen], axis=1),
            np.concatenate([found.plate_jacobian, found.screen_jacobian], axis=1),
        )

    metered = bool(stack.screen_counted.any())
    weight = _weight(stack.plate_current, stack.counted, _PLATE_RELATIVE, _PLATE_FLOOR)
    observed = stack.plate_current
    if metered:
        drawn = _weight(stack.screen_current, stack.screen_counted, _SCREEN_RELATIVE, _SCREEN_FLOOR)
        weight = np.concatenate([weight, drawn], axis=1)
        observed = np.concatenate([observed, stack.screen_current], axis=1)
    start = _starting_values(stack)
    hold, centre = 1.0 / PENTODE_WIDTH**2, start
    first = solve(
        model, start, observed, weight, pull=hold, max_iterations=_ITERATIONS, tolerance=_TO_FIND
    )
    kept = solve(
        model,
        first.parameters,
        observed,
        weight,
        robust=True,
        pull=hold,
        centre=centre,
        max_iterations=_ITERATIONS,
        tolerance=_TO_KEEP,
    )
    return replace(kept, residual=kept.residual[:, :size], weight=kept.weight[:, :size])


def _weight(current: FloatArray, counted: FloatArray, relative: float, floor: float) -> FloatArray:
    largest = np.maximum((np.abs(current) * counted).max(axis=1), 1e-9)
    return np.asarray(counted / ((relative * current) ** 2 + (floor * largest[:, None]) ** 2))


def _starting_values(stack: _Pass) -> FloatArray:
    """Return the priors' centres, with G and mu from the readings above the knee.

    Converted to one screen voltage, the two-thirds power of the current is nearly a straight
    line over the grid voltage; it meets zero at the cut-off, which gives mu, and at no bias it
    gives the perveance.
    """
    start = np.tile(PENTODE_CENTRE, (stack.counted.shape[0], 1))
    for row, reference in enumerate(stack.reference):
        used = stack.counted[row] > 0
        above = used & (stack.plate_voltage[row] > _ABOVE_KNEE * stack.screen_voltage[row])
        there = convert(
            stack.plate_voltage[row],
            stack.grid_voltage[row],
            stack.plate_current[row],
            stack.screen_voltage[row],
            float(reference),
        )
        current = there.plate_current
        used = above if above.sum() >= 3 else used
        used &= current > _FOOT * current[used].max()
        grid, height = there.grid_voltage[used], np.cbrt(current[used] ** 2)
        middle, spread = grid.mean(), max(float(grid.var()), 1e-9)
        slope = float(((grid - middle) * height).mean()) / spread
        if slope <= 0:  # a single step of the grid, or a senseless file
            slope = float(height.mean()) / (0.05 * reference)
        cutoff = middle - float(height.mean()) / slope
        mu = np.clip(reference / max(CONTACT_OFFSET - 1e-3 - cutoff, 1e-3), 1.5, 300.0)
        at_no_bias = max(slope * (-CONTACT_OFFSET - cutoff), 1e-12) ** 1.5
        start[row, 0] = np.log(1.12 * at_no_bias / reference**DEGREE)
        start[row, 1] = np.log(mu)
    return start


def _correct(stack: _Pass, internal: FloatArray) -> CorrectionSet:
    """Fit the correction of readings converted to each tube's own usual screen voltage."""
    law = PENTODE.slopes(stack.plate_voltage, stack.grid_voltage, stack.screen_voltage, internal)
    stretch = stack.screen_voltage / stack.reference[:, None]
    times = stretch**-DEGREE
    surface = LawSurface(
        current=np.maximum(law.plate * times, 1e-15),
        log_by_plate=law.plate_by_plate * stretch,
        log_by_grid=law.plate_by_grid * stretch,
        height=np.maximum(law.cathode * times, 1e-15),
        height_by_plate=law.cathode_by_plate * stretch,
        height_by_grid=law.cathode_by_grid * stretch,
        rises=stack.plate_voltage > _RISES_FROM * stack.screen_voltage,
    )
    converted = Stack(
        stack.plate_voltage / stretch,
        stack.grid_voltage,
        stack.plate_current * times,
        stack.counted,
    )
    return correct(converted, surface, SCREEN_GRID_WAVES, internal.shape[1])


def start_from_readings(readings: Readings) -> FloatArray:
    """Return starting values of the law for one tube, in internal coordinates; shape (p,)."""
    return np.asarray(_starting_values(_pass_of_one(readings))[0])


def correct_pentode(internal: FloatArray, readings: Readings) -> CorrectionSet:
    """Fit the correction of one tube to readings that all have their screen voltage.

    Parameters
    ----------
    internal : ndarray, shape (p,)
        Parameters of the law.
    """
    return _correct(_pass_of_one(readings), internal[None])


def covered_by(readings: Readings, offset: float = CONTACT_OFFSET) -> Hull:
    """Return what readings cover, converted to their usual screen voltage."""
    assert readings.screen_voltage is not None
    everything = np.ones(len(readings), dtype=bool)
    return _hull(readings, everything, usual_screen_voltage(readings.screen_voltage), offset)


def _pass_of_one(readings: Readings) -> _Pass:
    everything = np.ones(len(readings), dtype=bool)
    return _pass_of([Prepared(readings, everything, (), None, Outcome.GOOD, None)])


def _result(row: int, item: Prepared, stack: _Pass, fitted: _Fitted) -> FitResult:
    size, used = len(item.readings), item.used
    internal = fitted.solution.parameters[row]
    measured = stack.plate_current[row, :size]
    residual = np.where(
        np.isfinite(item.readings.screen_voltage),  # type: ignore[arg-type]
        measured - fitted.plate[row, :size],
        np.nan,
    )
    noise = fitted.noise[row, :size].copy()
    for array in (residual, noise):
        array.setflags(write=False)
    aicc = float(aicc_of(fitted.solution, stack.counted.sum(axis=1))[row])
    law = law_record(PENTODE, fitted.solution, row, aicc, (measured - fitted.law[row, :size])[used])
    read, reference = stack.screen_voltage[row, :size][used], float(stack.reference[row])
    hull = _hull(item.readings, used, reference, float(internal[PENTODE.symbols.index("Vc")]))
    correction = fitted.found.corrections[row]
    family = PentodeFamily(
        internal=internal,
        law_covariance=fitted.covariance[row],
        correction=correction,
        hull=hull,
        freedom=float(fitted.found.freedom[row]),
        reference_screen=reference,
        least_screen=float(read.min()),
        most_screen=float(read.max()),
        screen_voltage=reference,
    )
    return FitResult(
        used=used,
        left_out=item.left_out,
        law=law,
        laws=(law,),
        corrected=correction is not None,
        family=family,
        residual=residual,
        noise=noise,
        hull=hull,
        rms=float(np.sqrt(np.mean(residual[used] ** 2))),
        outcome=Outcome.GOOD,
    )
