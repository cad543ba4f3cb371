"""The families of two types laid over one another, with both at rest in one circuit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.fitting.records import PlateFamily
from curvelab.health.records import Severity
from curvelab.quantities import MILLIAMPERE, PLATE_CURRENT, PLATE_VOLTAGE
from curvelab.reference.in_circuit import InCircuit
from curvelab.reference.records import TubeType
from curvelab.reference.same_circuit import Settled
from curvelab.sheets.plate_picture import rating_lines
from curvelab.sheets.plot_parts import LINE_POINTS, backed_runs, family_milliamperes
from curvelab.sheets.plot_records import CurvePicture, Mark, Role, Series, Shape
from curvelab.sheets.text import plain, volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.records import FloatArray

__all__ = ["stand_in_picture"]

_VOLTS_BEYOND = 1.6  # the axes reach this many times the resting point
_CURRENT_BEYOND = 2.2
_BEYOND = {Role.FITTED: Role.EXTRAPOLATED, Role.REFERENCE: Role.REFERENCE_EXTRAPOLATED}
_LEAST_BIAS = 1.0  # [V]: of a stage without bias, so that there are steps to draw


def stand_in_picture(
    old: tuple[TubeType, PlateFamily],
    new: tuple[TubeType, PlateFamily],
    both: InCircuit,
) -> CurvePicture:
    """Return the new type's curves over the old one's, around the resting point.

    The old type's curves are the quiet ones; the ratings drawn are those of the new type. What no
    published figure backs has a role of its own.
    """
    settled = (both.old, both.cathode_bias, both.fixed_bias)
    words = PLATE_VOLTAGE.axis_label
    if both.old.screen_voltage is not None:
        words = f"{words} at Vs {volts(round(both.old.screen_voltage, 1))} V"
    x = round_axis(words, 0.0, _VOLTS_BEYOND * max(item.plate_voltage for item in settled))
    most = max(item.plate_current for item in settled) / MILLIAMPERE.si
    y = round_axis(PLATE_CURRENT.axis_label, 0.0, _CURRENT_BEYOND * most)
    steps = _steps(both.old.grid_voltage)
    names = tuple(plain(item.name) for item, _ in (old, new))
    return CurvePicture(
        title=f"{names[1]} in place of {names[0]}",
        x=x,
        y=y,
        series=(
            *_lines(Role.REFERENCE, old[1], steps, x),
            *rating_lines(new[0], x, y),
            *_lines(Role.FITTED, new[1], steps, x),
        ),
        marks=(
            _mark(0, f"{names[0]} at rest", Shape.RING, both.old),
            _mark(1, f"{names[1]}, same cathode resistor", Shape.DIAMOND, both.cathode_bias),
            _mark(2, f"{names[1]}, same fixed bias", Shape.TRIANGLE, both.fixed_bias),
        ),
        step_count=steps.size,
        reference_label=names[0],
    )


def _steps(bias: float) -> FloatArray:
    """Return about seven round grid voltages [V] from twice the bias up to none."""
    axis = round_axis("", min(2.0 * bias, -_LEAST_BIAS), 0.0, intervals=6)
    return np.array([tick for tick in axis.ticks if tick <= 0.0])


def _lines(role: Role, family: PlateFamily, steps: FloatArray, x: Axis) -> Iterator[Series]:
    along = np.linspace(x.high / 200, x.high, 2 * LINE_POINTS)
    levels = family_milliamperes(family, along[None, :], steps[:, None])
    backed = family.covers(*np.broadcast_arrays(along[None, :], steps[:, None]))
    for step, (grid, level, known) in enumerate(zip(steps.tolist(), levels, backed, strict=True)):
        label = f"{volts(round(grid, 3))} V"
        drawn = np.flatnonzero(np.isfinite(level))
        if drawn.size < 2:
            continue
        for part, own in backed_runs(known[drawn]):
            at = drawn[part]
            ends = role is Role.FITTED and bool(at[-1] == drawn[-1])
            yield Series(role if own else _BEYOND[role], label, along[at], level[at], step, ends)


def _mark(place: int, words: str, shape: Shape, settled: Settled) -> Mark:
    at = np.array([settled.plate_voltage]), np.array([settled.plate_current / MILLIAMPERE.si])
    return Mark(place, words, Severity.NOTE, shape, *at)
