"""Ip, gm, rp and mu as functions: at many points of the plane, each with its uncertainty.

What `constants_at` says of one point, for as many as are wanted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curvelab.fitting.constants import (
    constants_at,
    local_constants_at,
    with_bench,
    with_local,
)
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.family_values import USELESS_SHARE, family_values
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.records import Constant, Constants, FitResult, Outcome
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.records import FloatArray, Readings

__all__ = ["ConstantMap", "ConstantValues", "constants_over"]

Words = NDArray[np.str_]

# With fewer readings than this the local estimate may have its say, a point at a time.
_ONE_BY_ONE = 100


@dataclass(frozen=True, slots=True, eq=False)
class ConstantValues:
    """One constant at n points. SI units.

    Attributes
    ----------
    value, u95 : ndarray, shape (n,)
        NaN where there is none.
    outcome : ndarray of str, shape (n,)
        How each came out, in the words of `Outcome`.
    """

    value: FloatArray
    u95: FloatArray
    outcome: Words


@dataclass(frozen=True, slots=True, eq=False)
class ConstantMap:
    """The constants at n points of the plane. [V], [V], [A], [S], [ohm], [1]."""

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: ConstantValues
    transconductance: ConstantValues
    plate_resistance: ConstantValues
    amplification_factor: ConstantValues

    def __len__(self) -> int:
        return self.plate_voltage.size


def constants_over(
    fit: FitResult,
    readings: Readings,
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    bench: Bench = UNSTATED_BENCH,
) -> ConstantMap:
    """Return the constants of a tube at many points.

    Parameters
    ----------
    plate_voltage, grid_voltage : ndarray, shape (n,)
        [V].
    bench : Bench
        Whose accuracy is added, where it is stated.
    """
    plate = np.asarray(plate_voltage, dtype=float)
    grid = np.asarray(grid_voltage, dtype=float)
    family = fit.family
    if not isinstance(family, FittedFamily | PentodeFamily) or int(fit.used.sum()) < _ONE_BY_ONE:
        points = zip(plate.tolist(), grid.tolist(), strict=True)
        return _stacked(plate, grid, [_at(fit, readings, point, bench) for point in points])
    found = _of_family(fit, family, plate, grid)
    if bench.assumed:
        return found
    widened = [
        with_bench(one, (plate[place], grid[place]), bench)
        for place, one in enumerate(_each(found))
    ]
    return _stacked(plate, grid, widened)


def _at(fit: FitResult, readings: Readings, at: tuple[float, float], bench: Bench) -> Constants:
    found = constants_at(fit, readings, at)
    if found.plate_current.outcome is not Outcome.NOT_COVERED:
        found = with_local(fit, readings, found, local_constants_at(fit, readings, at))
    return with_bench(found, at, bench)


def _of_family(
    fit: FitResult,
    family: FittedFamily | PentodeFamily,
    plate: FloatArray,
    grid: FloatArray,
) -> ConstantMap:
    found = family_values(fit, family, plate, grid)
    parts = (
        _judged(value, u95, found.outcome)
        for value, u95 in zip(found.value, found.u95, strict=True)
    )
    return ConstantMap(plate, grid, *parts)


def _judged(value: FloatArray, u95: FloatArray, outcome: Words) -> ConstantValues:
    """Return one constant; a value that says nothing is left out."""
    with np.errstate(invalid="ignore"):
        sound = np.isfinite(value) & (u95 <= USELESS_SHARE * np.abs(value))
    useless = (outcome == Outcome.GOOD) & ~sound
    return _frozen(
        np.where(sound, value, np.nan),
        np.where(sound, u95, np.nan),
        np.where(useless, Outcome.ILL_CONDITIONED.value, outcome),
    )


def _frozen(value: FloatArray, u95: FloatArray, outcome: Words) -> ConstantValues:
    for array in (value, u95, outcome):
        array.setflags(write=False)
    return ConstantValues(value, u95, outcome)


def _each(found: ConstantMap) -> Iterator[Constants]:
    """Yield the constants point by point."""
    parts = (
        found.plate_current,
        found.transconductance,
        found.plate_resistance,
        found.amplification_factor,
    )
    for place in range(len(found)):
        yield Constants(*(_one(part, place) for part in parts))


def _one(part: ConstantValues, place: int) -> Constant:
    outcome = Outcome(str(part.outcome[place]))
    if outcome is not Outcome.GOOD:
        return Constant.missing(outcome, outcome.value)
    return Constant(float(part.value[place]), float(part.u95[place]))


def _stacked(plate: FloatArray, grid: FloatArray, points: Sequence[Constants]) -> ConstantMap:
    return ConstantMap(
        plate,
        grid,
        *(
            _column([getattr(point, name) for point in points])
            for name in (
                "plate_current",
                "transconductance",
                "plate_resistance",
                "amplification_factor",
            )
        ),
    )


def _column(constants: Sequence[Constant]) -> ConstantValues:
    return _frozen(
        np.array([np.nan if one.value is None else one.value for one in constants], dtype=float),
        np.array([np.nan if one.u95 is None else one.u95 for one in constants], dtype=float),
        np.array([one.outcome.value for one in constants], dtype=np.str_),
    )
