"""A single-ended class A stage on one tube's own curves."""

from __future__ import annotations

import numpy as np

from curvelab.fitting.records import PlateFamily
from curvelab.reference.records import TubeType
from curvelab.stage.harmonics import five_point
from curvelab.stage.load_line import along_load_line
from curvelab.stage.records import QuiescentPoint, RatingCheck, Stage, StageOutcome
from curvelab.sweep.records import FloatArray

__all__ = ["single_ended"]

_SIGNAL = np.array([1.0, 0.5, 0.0, -0.5, -1.0])
_RATED = (("plate voltage", "plate_voltage"), ("plate dissipation", "plate_dissipation"))
# A current this small a part of that at rest is none: the stage no longer works in class A.
_CUT_OFF = 0.01
_ROUNDING = 1e-9  # [V]


def single_ended(
    family: PlateFamily,
    rest: QuiescentPoint,
    load_resistance: float,
    signal_peak: float | None = None,
    tube_type: TubeType | None = None,
) -> Stage:
    """Return what a stage gives, by five points of its load line.

    Output power is that of the fundamental, H1^2 R / 2, at the load; a transformer's losses
    are not in it. Nothing is given for a stage that rests above a rating of its type, nor
    for one whose grid is driven positive: the curves hold no grid current.

    Parameters
    ----------
    load_resistance : float
        As the plate sees it [ohm].
    signal_peak : float or None
        [V]; None for all that the bias allows, to a grid at zero.
    tube_type : TubeType or None
        Whose ratings are kept.

    Raises
    ------
    ValueError
        If the load or the signal is not positive.
    """
    peak = -rest.grid_voltage if signal_peak is None else signal_peak
    if signal_peak is not None and not signal_peak > 0:
        raise ValueError("a signal above zero is needed")
    grid = rest.grid_voltage + peak * _SIGNAL
    plate, current = along_load_line(family, rest, load_resistance, grid)
    ratings = _checked(rest, tube_type)
    outcome, reason = _outcome(rest, grid, current, ratings)
    good = outcome is StageOutcome.GOOD
    found = five_point(current) if good else None
    return Stage(
        rest=rest,
        load_resistance=load_resistance,
        signal_peak=peak,
        plate_voltage=plate,
        plate_current=current,
        output_power=found.first**2 * load_resistance / 2 if found else None,
        gain=found.first * load_resistance / peak if found else None,
        second=abs(found.second) / found.first if found else None,
        third=abs(found.third) / found.first if found else None,
        fourth=abs(found.fourth) / found.first if found else None,
        extrapolated=not bool(np.all(family.covers(plate, grid))),
        ratings=ratings,
        outcome=outcome,
        reason=reason,
    )


def _checked(rest: QuiescentPoint, tube_type: TubeType | None) -> tuple[RatingCheck, ...]:
    if tube_type is None:
        return ()
    values = (rest.plate_voltage, rest.dissipation)
    return tuple(
        RatingCheck(words, value, limit)
        for (words, name), value in zip(_RATED, values, strict=True)
        if (limit := tube_type.rating(name)) is not None
    )


def _outcome(
    rest: QuiescentPoint, grid: FloatArray, current: FloatArray, ratings: tuple[RatingCheck, ...]
) -> tuple[StageOutcome, str | None]:
    over = [check for check in ratings if check.exceeded]
    if over:
        check = over[0]
        return StageOutcome.OVER_RATING, (
            f"{check.quantity} at rest is {check.value:.4g}, the limit {check.limit.value:.4g} "
            f"({check.limit.source}, {check.limit.status.value})"
        )
    if not rest.plate_current > 0:
        return StageOutcome.NO_CURRENT, "no plate current flows at rest"
    if grid.max() > _ROUNDING or not grid.max() > grid.min():
        return StageOutcome.POSITIVE_GRID, (
            f"the grid reaches {grid.max():+.3g} V, where it would draw current"
        )
    if current.min() < _CUT_OFF * rest.plate_current:
        return StageOutcome.CUT_OFF, "the negative peak of the signal cuts the plate current off"
    return StageOutcome.GOOD, None
