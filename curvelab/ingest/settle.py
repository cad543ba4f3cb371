"""Units of columns that state none, decided where the values can decide.

Volts and seconds are what a bench without a unit writes; values no tube could have in
them are read as millivolts or milliseconds. Currents are decided by the handbook family
of a type the library knows, else by size:

* A plate current of at most 0.1 is in amperes: 0.1 mA at the top of a sweep is no sweep.
* From 2 to 500 it is in milliamperes, the range of receiving and small power tubes.
* Between, 0.5 may be a small tube's milliamperes or a large one's amperes, and above
  500 a large tube's milliamperes or a small one's microamperes: a person must say.
* A grid current of at most 0.5e-3 is in amperes, from 0.02 to 500 in microamperes.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.errors import AmbiguousFileError
from curvelab.ingest.bundles import Bundle
from curvelab.ingest.headings import Column
from curvelab.ingest.units import (
    AMPERE,
    KILOVOLT,
    MILLISECOND,
    MILLIVOLT,
    Dimension,
)
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, SECOND, VOLT, Unit
from curvelab.sweep.records import FloatArray, Remark, RemarkCode

__all__ = ["ExpectedCurrent", "settle_currents", "settle_voltages_and_time"]

ExpectedCurrent = Callable[[str, FloatArray, FloatArray], FloatArray | None]

_AS_CHOSEN = "as you chose"
# What the trade writes without saying so.
_USUAL = {
    Column.PLATE_VOLTAGE: VOLT,
    Column.GRID_VOLTAGE: VOLT,
    Column.SCREEN_VOLTAGE: VOLT,
    Column.HEATER_VOLTAGE: VOLT,
    Column.PLATE_CURRENT: MILLIAMPERE,
    Column.SCREEN_CURRENT: MILLIAMPERE,
    Column.GRID_CURRENT: MICROAMPERE,
    Column.TIME: SECOND,
}
_CURRENT_UNITS = (AMPERE, MILLIAMPERE, MICROAMPERE)
# A tube within a factor of eight of its handbook, either way, leaves a single unit.
_TOLERANCE = 8.0
_MEANINGFUL_SHARE = 0.05
_LARGEST_AMPERES = 0.1
_MILLIAMPERES = (2.0, 500.0)
_LARGEST_GRID_AMPERES = 5e-4
_GRID_MICROAMPERES = (0.02, 500.0)
_LARGEST_GRID_VOLTS = 500.0
_SMALLEST_PLATE_VOLTS = 10.0
_MILLISECONDS_STEP = 100.0
_MILLISECONDS_TOTAL = 36_000.0


@dataclass(frozen=True, slots=True)
class _Guess:
    unit: Unit
    why: str


def settle_voltages_and_time(
    path: str, bundles: Sequence[Bundle], unsettled: set[Column], answers: Collection[str]
) -> list[Remark]:
    """Give unstated voltages and times their unit, in place.

    Raises
    ------
    AmbiguousFileError
        If a plate voltage is too small to be certain of volts.
    """
    remarks = []
    for column in sorted(unsettled):
        if column.dimension not in (Dimension.VOLTAGE, Dimension.TIME):
            continue
        guess = _guess_voltage_or_time(path, column, bundles, answers)
        remarks += _apply(column, guess, bundles)
    return remarks


def settle_currents(  # noqa: PLR0913 - what decides, each on its own
    path: str,
    bundles: Sequence[Bundle],
    unsettled: set[Column],
    expected: Callable[[Bundle], FloatArray | None],
    answers: Collection[str],
    *,
    by_size: bool = True,
) -> list[Remark]:
    """Give unstated currents their unit, in place.

    Parameters
    ----------
    expected : callable
        The handbook family's plate current [A] at the readings of a bundle, or None.
    by_size : bool
        Whether the size of a current tells its unit, as it does of a tube's.

    Raises
    ------
    AmbiguousFileError
        If neither the family nor the range of the values decides.
    """
    remarks: list[Remark] = []
    plate: _Guess | None = None
    if Column.PLATE_CURRENT in unsettled:
        plate = _guess_plate_current(path, bundles, expected, answers, by_size)
        remarks += _apply(Column.PLATE_CURRENT, plate, bundles)
    if Column.SCREEN_CURRENT in unsettled:
        same = plate or _Guess(MILLIAMPERE, "the unit of the trade")
        remarks += _apply(Column.SCREEN_CURRENT, same, bundles)
    if Column.GRID_CURRENT in unsettled:
        guess = _guess_grid_current(path, bundles, answers, by_size)
        remarks += _apply(Column.GRID_CURRENT, guess, bundles)
    return remarks


def _apply(column: Column, guess: _Guess, bundles: Sequence[Bundle]) -> list[Remark]:
    for bundle in bundles:
        values = bundle.get(column)
        if values is not None and guess.unit.si != 1.0:
            bundle.values[column] = values * guess.unit.si
        bundle.guessed[column] = guess.unit
    if guess.why == _AS_CHOSEN:
        text = f"{column} is read in {guess.unit.symbol}, {_AS_CHOSEN}"
        return [Remark(RemarkCode.UNITS_GUESSED, text)]
    text = f"{column} has no unit and is read in {guess.unit.symbol}: {guess.why}"
    weighs = guess.unit != _USUAL[column]
    return [Remark(RemarkCode.UNITS_GUESSED, text, guessed=True, weighs=weighs)]


def _largest(column: Column, bundles: Sequence[Bundle]) -> float:
    found = [values for bundle in bundles if (values := bundle.get(column)) is not None]
    together = np.abs(np.concatenate(found))
    together = together[np.isfinite(together)]
    return float(together.max()) if together.size else 0.0


def _guess_voltage_or_time(
    path: str, column: Column, bundles: Sequence[Bundle], answers: Collection[str]
) -> _Guess:
    largest = _largest(column, bundles)
    if column is Column.TIME:
        return _guess_time(bundles, largest)
    if column is Column.PLATE_VOLTAGE and 0 < largest < _SMALLEST_PLATE_VOLTS:
        why = f"its largest value is {largest:g}"
        return _ask(path, column, (VOLT, KILOVOLT), why, answers)
    if column is Column.GRID_VOLTAGE and largest > _LARGEST_GRID_VOLTS:
        return _Guess(MILLIVOLT, f"its largest value is {largest:g}")
    return _Guess(VOLT, "the unit of the trade")


def _guess_time(bundles: Sequence[Bundle], largest: float) -> _Guess:
    steps = [np.diff(time) for b in bundles if (time := b.get(Column.TIME)) is not None]
    together = np.abs(np.concatenate(steps)) if steps else np.empty(0)
    together = together[np.isfinite(together)]
    step = float(np.median(together)) if together.size else 0.0
    if step >= _MILLISECONDS_STEP and largest >= _MILLISECONDS_TOTAL:
        return _Guess(MILLISECOND, f"a reading every {step:g}, up to {largest:g}")
    return _Guess(SECOND, "the usual unit of a log")


def _guess_plate_current(
    path: str,
    bundles: Sequence[Bundle],
    expected: Callable[[Bundle], FloatArray | None],
    answers: Collection[str],
    by_size: bool,
) -> _Guess:
    column = Column.PLATE_CURRENT
    largest = _largest(column, bundles)
    picked = _picked(column, _CURRENT_UNITS, answers)
    if picked is not None:
        return picked
    fitting = _units_near_family(bundles, expected)
    if len(fitting) == 1:
        return _Guess(fitting[0], "so it agrees with the type's handbook")
    if largest == 0:
        return _Guess(MILLIAMPERE, "every reading is zero")
    if not fitting and not by_size:
        return _ask(path, column, _CURRENT_UNITS, f"its largest value is {largest:g}", answers)
    if not fitting and largest <= _LARGEST_AMPERES:
        return _Guess(AMPERE, f"its largest value is {largest:g}")
    if not fitting and _MILLIAMPERES[0] <= largest <= _MILLIAMPERES[1]:
        return _Guess(MILLIAMPERE, f"its largest value is {largest:g}")
    possible = fitting or (
        (MILLIAMPERE, MICROAMPERE) if largest > _MILLIAMPERES[1] else (AMPERE, MILLIAMPERE)
    )
    return _ask(path, column, possible, f"its largest value is {largest:g}", answers)


def _units_near_family(
    bundles: Sequence[Bundle], expected: Callable[[Bundle], FloatArray | None]
) -> tuple[Unit, ...]:
    """Return the units in which the readings come near the handbook's current."""
    ratios = []
    for bundle in bundles:
        family = expected(bundle)
        if family is None:
            continue
        family = np.asarray(family, dtype=float)
        top = np.nanmax(family, initial=0.0)
        measured = np.abs(bundle.values[Column.PLATE_CURRENT])
        use = (family > _MEANINGFUL_SHARE * top) & (measured > 0)
        ratios.append(measured[use] / family[use])
    together = np.concatenate(ratios) if ratios else np.empty(0)
    if not together.size:
        return ()
    ratio = float(np.median(together))
    return tuple(unit for unit in _CURRENT_UNITS if 1 / _TOLERANCE <= ratio * unit.si <= _TOLERANCE)


def _guess_grid_current(
    path: str, bundles: Sequence[Bundle], answers: Collection[str], by_size: bool
) -> _Guess:
    column = Column.GRID_CURRENT
    picked = _picked(column, _CURRENT_UNITS, answers)
    if picked is not None:
        return picked
    largest = _largest(column, bundles)
    why = f"its largest value is {largest:g}"
    if largest > 0 and not by_size:
        return _ask(path, column, _CURRENT_UNITS, why, answers)
    if largest <= _LARGEST_GRID_AMPERES:
        return _Guess(AMPERE if largest else MICROAMPERE, why)
    if _GRID_MICROAMPERES[0] <= largest <= _GRID_MICROAMPERES[1]:
        return _Guess(MICROAMPERE, why)
    return _ask(path, column, (MICROAMPERE, MILLIAMPERE), why, answers)


def _picked(column: Column, units: Sequence[Unit], answers: Collection[str]) -> _Guess | None:
    for unit in units:
        if f"{column} in {unit.symbol}" in answers:
            return _Guess(unit, _AS_CHOSEN)
    return None


def _ask(
    path: str, column: Column, units: Sequence[Unit], why: str, answers: Collection[str]
) -> _Guess:
    picked = _picked(column, units, answers)
    if picked is not None:
        return picked
    choices = tuple(f"{column} in {unit.symbol}" for unit in units)
    raise AmbiguousFileError(path, f"the unit of the {column} is not stated, {why}", choices)
