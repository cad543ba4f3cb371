"""Signs and exchanged columns: what the values can only mean.

Every decision is made for the whole file, since one bench wrote it, and is left to the
file where the values do not force it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from curvelab.ingest.bundles import Bundle
from curvelab.ingest.choices import GridCurrentSign, GridVoltsSign, ReadingChoices
from curvelab.ingest.headings import Column
from curvelab.ingest.metadata import Key, value_of
from curvelab.sweep.records import FloatArray, Remark, RemarkCode

__all__ = [
    "settle_chosen_grid_sign",
    "settle_grid_current_sign",
    "settle_grid_sign",
    "settle_reversed",
    "settle_swapped",
]

Family = Callable[[FloatArray, FloatArray], FloatArray | None]

# Below this grid voltage no electron reaches the grid of a receiving tube: contact
# potential and initial velocities together stay under about 1 V (common practice, no
# source); the reader leaves as much again.
_NO_ELECTRONS = -2.0
_MOSTLY = 0.9
_NEARLY_ALL = 0.98
_LARGEST_POSITIVE_GRID = 10.0  # with no plate voltage at all [V]
_FORCED = 0.25
_CLEARLY_BETTER = 0.5
_LEAST_IN_LOG = 10
_SET_TO = 0.05  # a supply set to -2 V is as good as below it
_LEAST_RESOLVED = 2e-9  # [A]: below, a positive reading is the meter's own zero


def _negate(bundle: Bundle, column: Column) -> None:
    values = bundle.values[column]
    bundle.values[column] = 0.0 - values  # never a negative zero


def settle_reversed(bundles: Sequence[Bundle]) -> list[Remark]:
    """Turn round a plate voltage or current that is negative in the whole file."""
    remarks = []
    for column in (Column.PLATE_VOLTAGE, Column.PLATE_CURRENT):
        together = np.concatenate([bundle.values[column] for bundle in bundles])
        if column is Column.PLATE_VOLTAGE:
            grid = np.concatenate([bundle.values[Column.GRID_VOLTAGE] for bundle in bundles])
            reversed_ = together.max() <= 0 and grid.max() <= 0 and together.min() < grid.min()
        else:
            plate = np.concatenate([bundle.values[Column.PLATE_VOLTAGE] for bundle in bundles])
            grid = np.concatenate([bundle.values[Column.GRID_VOLTAGE] for bundle in bundles])
            reversed_ = _is_reversed_current(together, plate, grid)
        if reversed_:
            for bundle in bundles:
                _negate(bundle, column)
            text = f"{column} is negative throughout and is read with its sign turned round"
            remarks.append(Remark(RemarkCode.REVERSED, text, guessed=True, weighs=True))
    return remarks


_LEAST_FLOWING = 0.1


def _is_reversed_current(current: FloatArray, plate: FloatArray, grid: FloatArray) -> bool:
    """Tell a meter with its leads exchanged from a zero that is a little below nothing.

    Nearly all readings are negative, and they grow with the plate voltage as those of a
    tube do; only a log, at one plate voltage, cannot show that.
    """
    top = float(np.abs(current).max())
    if top == 0 or np.mean(current <= 0.01 * top) < _NEARLY_ALL:
        return False
    flowing = np.abs(current) > 0.05 * top  # the rest may be a zero with its noise
    if np.mean(current[flowing] < 0) < _NEARLY_ALL or np.mean(flowing) < _LEAST_FLOWING:
        return False
    if np.ptp(plate) <= 0.05 * np.abs(plate).max():
        return True
    return _correlation(*_within_steps(-current, plate, grid)) > min(
        0.3, 3.0 / math.sqrt(current.size)
    )


def _within_steps(
    current: FloatArray, plate: FloatArray, grid: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return both less their mean over the grid step: curves are cut off at different ends."""
    _, step = np.unique(grid.round(1), return_inverse=True)
    count = np.bincount(step)
    mean_current = np.bincount(step, weights=current) / count
    mean_plate = np.bincount(step, weights=plate) / count
    return current - mean_current[step], plate - mean_plate[step]


def _correlation(left: FloatArray, right: FloatArray) -> float:
    """Return the coefficient of correlation, 0 where either does not vary."""
    first, second = left - left.mean(), right - right.mean()
    norm = float(np.sqrt((first @ first) * (second @ second)))
    return float(first @ second) / norm if norm > 0 else 0.0


def settle_swapped(
    bundles: Sequence[Bundle], family: Callable[[Bundle], Family | None]
) -> list[Remark]:
    """Exchange plate and grid voltage back where each holds the other's values."""
    if not bundles or not (_signs_swapped(bundles) or _family_swapped(bundles, family)):
        return []
    for bundle in bundles:
        values = bundle.values
        values[Column.PLATE_VOLTAGE], values[Column.GRID_VOLTAGE] = (
            values[Column.GRID_VOLTAGE],
            values[Column.PLATE_VOLTAGE],
        )
    text = (
        "the column headed plate voltage holds the grid's values and the other way round; "
        "the two are exchanged back"
    )
    return [Remark(RemarkCode.SWAPPED, text, guessed=True, weighs=True)]


def _voltages(bundles: Sequence[Bundle]) -> tuple[FloatArray, FloatArray]:
    return (
        np.concatenate([bundle.values[Column.PLATE_VOLTAGE] for bundle in bundles]),
        np.concatenate([bundle.values[Column.GRID_VOLTAGE] for bundle in bundles]),
    )


def _signs_swapped(bundles: Sequence[Bundle]) -> bool:
    """Tell by signs alone: no plate stays at or below zero under a grid of many volts."""
    plate, grid = _voltages(bundles)
    return bool(
        plate.max() <= 0
        and grid.min() >= 0
        and grid.max() > max(_LARGEST_POSITIVE_GRID, -plate.min())
    )


def _family_swapped(bundles: Sequence[Bundle], family: Callable[[Bundle], Family | None]) -> bool:
    """With both columns positive the handbook's family tells, if it tells clearly."""
    plate, grid = _voltages(bundles)
    if grid.min() < 0 or plate.min() < 0 or grid.max() <= 2 * plate.max():
        return False
    as_headed = _misfit(bundles, family, lambda vp, vg: (vp, -vg))
    exchanged = _misfit(bundles, family, lambda vp, vg: (vg, -vp))
    if as_headed is None or exchanged is None:
        return False
    return exchanged < _CLEARLY_BETTER * as_headed


def _misfit(
    bundles: Sequence[Bundle],
    family: Callable[[Bundle], Family | None],
    turn: Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]],
) -> float | None:
    """Return how far readings scatter about a family of any scale, 0 to 1."""
    found = []
    for bundle in bundles:
        current_of = family(bundle)
        if current_of is None:
            continue
        turned = turn(bundle.values[Column.PLATE_VOLTAGE], bundle.values[Column.GRID_VOLTAGE])
        expected = current_of(*turned)
        if expected is None:
            continue
        measured = bundle.values[Column.PLATE_CURRENT]
        expected = np.nan_to_num(np.asarray(expected, dtype=float))
        norm = float(np.sqrt((expected @ expected) * (measured @ measured)))
        found.append(1.0 if norm == 0 else 1.0 - float(measured @ expected) / norm)
    return float(np.median(found)) if found else None


def settle_grid_sign(
    bundles: Sequence[Bundle], family: Callable[[Bundle], Family | None]
) -> list[Remark]:
    """Read positive grid volts as negative bias where the current falls as they rise."""
    _, grid = _voltages(bundles)
    if grid.min() < 0 or grid.max() <= 0:
        return []
    if not any(_falls_with_grid(bundle) for bundle in bundles):
        if not _family_says_negative(bundles, family):
            return []
        why = "only so do the currents agree with the type's handbook"
    else:
        why = "the plate current falls as they rise"
    for bundle in bundles:
        _negate(bundle, Column.GRID_VOLTAGE)
    text = f"grid volts are written as positive numbers and read as negative bias: {why}"
    return [Remark(RemarkCode.GRID_SIGN, text, guessed=True, weighs=True)]


def settle_chosen_grid_sign(
    bundles: Sequence[Bundle], chosen: GridVoltsSign, said_by: str
) -> list[Remark]:
    """Read grid volts with the sign that was chosen; negative numbers have theirs already."""
    _, grid = _voltages(bundles)
    if chosen is GridVoltsSign.AS_WRITTEN or grid.min() < 0 or grid.max() <= 0:
        return []
    for bundle in bundles:
        _negate(bundle, Column.GRID_VOLTAGE)
    text = f"grid volts are written as positive numbers and read as negative bias, {said_by}"
    return [Remark(RemarkCode.GRID_SIGN, text)]


def _falls_with_grid(bundle: Bundle) -> bool:
    """Tell whether plate current falls with grid voltage, plate voltage held.

    The partial correlation of current with grid voltage given plate voltage: free of
    units, and of how the bench ordered its readings.
    """
    current = bundle.values[Column.PLATE_CURRENT]
    grid = bundle.values[Column.GRID_VOLTAGE]
    plate = bundle.values[Column.PLATE_VOLTAGE]
    if current.size < 4 or np.ptp(grid) == 0:
        return False
    spread = plate - plate.mean()
    power = float(spread @ spread)

    def apart(values: FloatArray) -> FloatArray:
        centred: FloatArray = values - values.mean()
        return centred if power == 0 else centred - spread * (float(spread @ centred) / power)

    return _correlation(apart(current), apart(grid)) < -_FORCED


def _family_says_negative(
    bundles: Sequence[Bundle], family: Callable[[Bundle], Family | None]
) -> bool:
    """For a single grid step only the handbook can tell the sign, by the level."""
    found = []
    for bundle in bundles:
        current_of = family(bundle)
        plate, grid = bundle.values[Column.PLATE_VOLTAGE], bundle.values[Column.GRID_VOLTAGE]
        if current_of is None or np.ptp(grid) > 0.2 * grid.max():
            continue
        negative, positive = current_of(plate, -grid), current_of(plate, grid)
        if negative is None or positive is None:
            continue
        found.append(_nearer(bundle.values[Column.PLATE_CURRENT], negative, positive))
    return bool(found) and all(found)


def _nearer(measured: FloatArray, negative: FloatArray, positive: FloatArray) -> bool:
    """Tell whether a level is clearly nearer the first expectation, in any unit of A."""

    def distance(expected: FloatArray) -> float:
        top, level = float(np.nanmax(expected)), float(measured.max())
        if top <= 0 or level <= 0:
            return np.inf
        decades = np.log10(level / top)
        return float(min(abs(decades - shift) for shift in (0.0, 3.0, 6.0)))

    first, second = distance(negative), distance(positive)
    return first < 0.5 and second > first + 0.3


def settle_grid_current_sign(
    bundles: Sequence[Bundle], choices: ReadingChoices, *, guess: bool = True
) -> list[Remark]:
    """Turn round a grid current that was logged with reverse current as positive.

    The file's own word decides, then what was chosen; without either, a current that is
    positive well below -2 V and grows with the plate current cannot be electrons; ``guess``
    false leaves it.
    """
    used = [bundle for bundle in bundles if bundle.get(Column.GRID_CURRENT) is not None]
    if not used:
        return []
    chosen = choices.grid_current
    overrules = "grid_current" in choices.overrules
    stated = [None if overrules else _stated_sign(item) for item in used]
    if any(word is not None for word in stated):
        reverse = [b for b, word in zip(used, stated, strict=True) if word == "reverse"]
        for bundle in reverse:
            _negate(bundle, Column.GRID_CURRENT)
        text = "grid current: the file says that reverse current is positive; its sign is turned"
        return [Remark(RemarkCode.GRID_CURRENT_SIGN, text)] if reverse else []
    if chosen is not None:
        return _chosen_current_sign(used, chosen, choices.said_by)
    if not guess:
        return []
    grows = any(_is_reverse(bundle, 1) for bundle in used)
    if any(_is_reverse(bundle, -1) for bundle in used):
        return []
    if not grows and not all(_is_positive_log(bundle) for bundle in used):
        return []
    kept = sum(_turn_reverse(bundle) for bundle in used)
    seen = "and grows with plate current" if grows else "throughout a log below -2 V"
    text = (
        f"grid current is positive at negative grids {seen}, so "
        "reverse current was written as positive; its sign is turned"
    )
    if kept:
        text += f", except for {kept} readings near 0 V that only electrons explain"
    return [Remark(RemarkCode.GRID_CURRENT_SIGN, text, guessed=True, weighs=True)]


def _chosen_current_sign(
    bundles: Sequence[Bundle], chosen: GridCurrentSign, said_by: str
) -> list[Remark]:
    if chosen is GridCurrentSign.REVERSE:
        for bundle in bundles:
            _negate(bundle, Column.GRID_CURRENT)
    return [Remark(RemarkCode.GRID_CURRENT_SIGN, f"grid current: {chosen}, {said_by}")]


def _stated_sign(bundle: Bundle) -> str | None:
    """Return ``reverse`` or ``electrons``: the current the file counts positive."""
    value = value_of(bundle.metadata, Key.GRID_CURRENT_SIGN)
    if value is None:
        return None
    text = value.casefold()
    reverse = "reverse" in text or "gas" in text or "ion" in text.split()
    electrons = "electron" in text or "forward" in text or "conventional" in text
    if reverse == electrons:
        return None
    first = "reverse" if reverse else "electrons"
    other = "electrons" if reverse else "reverse"
    return other if "negative" in text else first


def _is_reverse(bundle: Bundle, sign: int) -> bool:
    """Tell reverse current written with this sign: it grows with the plate current."""
    grid_current = sign * bundle.values[Column.GRID_CURRENT]
    deep = (bundle.values[Column.GRID_VOLTAGE] < _NO_ELECTRONS) & np.isfinite(grid_current)
    current = grid_current[deep]
    plate = bundle.values[Column.PLATE_CURRENT][deep]
    if current.size < 5 or np.mean(current >= 0) < _MOSTLY or current.max() <= 0:
        return False
    # Above three standard errors of no correlation, with a quarter of the variance explained.
    return _correlation(current, plate) > max(0.5, 3.0 / math.sqrt(current.size))


def _is_positive_log(bundle: Bundle) -> bool:
    """Tell a log, at one grid voltage, whose grid current is clearly above nothing.

    No electron reaches so negative a grid, and a leak to cathode or plate draws the other way;
    in a log the plate current hardly moves, so that nothing can be asked to grow with it.
    """
    if bundle.get(Column.TIME) is None:
        return False
    grid, current = bundle.values[Column.GRID_VOLTAGE], bundle.values[Column.GRID_CURRENT]
    known = current[np.isfinite(current)]
    if known.size < _LEAST_IN_LOG or grid.max() > _NO_ELECTRONS + _SET_TO:
        return False
    if np.mean(known >= 0) < _MOSTLY:
        return False
    scatter = float(np.median(np.abs(np.diff(known))))
    return float(np.median(known)) > max(scatter, _LEAST_RESOLVED)


def _turn_reverse(bundle: Bundle) -> int:
    """Turn the sign; return how many readings near 0 V were kept as electrons.

    A meter that shows magnitudes writes both kinds as positive. Gas follows the plate
    current; where the current near 0 V is three times what gas explains, it is electrons.
    """
    values = bundle.values[Column.GRID_CURRENT]
    grid = bundle.values[Column.GRID_VOLTAGE]
    plate = np.abs(bundle.values[Column.PLATE_CURRENT])
    deep = (grid < _NO_ELECTRONS) & (plate > 0.05 * plate.max()) & np.isfinite(values)
    share = float(np.median(values[deep] / plate[deep])) if deep.any() else np.inf
    electrons = (grid > -0.75) & (values > 3.0 * share * plate)
    bundle.values[Column.GRID_CURRENT] = np.where(electrons, values, 0.0 - values)
    return int(np.count_nonzero(electrons))
