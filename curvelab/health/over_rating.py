"""Over rating: readings beyond what the type's sheet allows; true readings, kept in the fit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curvelab.health.case import Case
from curvelab.health.evidence import positions, where, worded
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.reference.records import Figure
from curvelab.sweep.records import FloatArray

__all__ = ["find"]


def find(case: Case) -> Iterator[Finding]:
    """Find readings above what is rated of plate and screen, in watts and in volts.

    The screen is judged where it stood at a voltage of its own; its watts where its current was
    metered, since no law tells one tube's screen current from another's. Of a screen that was
    tied to the plate the current read holds the screen's, so that the rating of both together is
    the one to keep, where it is printed.
    """
    if case.tube_type is None:
        return
    for name, measured, words, unit in _rated(case):
        rated = case.tube_type.rating(name)
        if rated is not None and measured.size:
            yield from _beyond(case, measured, rated, words, unit)


def _rated(case: Case) -> Iterator[tuple[str, FloatArray, str, str]]:
    readings = case.sweep.readings
    power = readings.plate_voltage * np.maximum(readings.plate_current, 0.0)
    known, both = case.tube_type, "plate_and_screen_dissipation"
    tied = known is not None and known.has_screen_grid and not case.with_screen_grid
    if tied and known is not None and known.rating(both) is not None:
        yield both, power, "dissipation of plate and screen together", "W"
    else:
        yield "plate_dissipation", power, "plate dissipation", "W"
    yield "plate_voltage", readings.plate_voltage, "plate voltage", "V"
    screen = readings.screen_voltage
    if not case.with_screen_grid or screen is None:
        return
    volts = np.nan_to_num(screen)
    if readings.screen_current is not None:
        power = volts * np.maximum(np.nan_to_num(readings.screen_current), 0.0)
        yield "screen_dissipation", power, "screen dissipation", "W"
    yield "screen_voltage", volts, "screen voltage", "V"


def _beyond(
    case: Case, measured: FloatArray, rated: Figure, words: str, unit: str
) -> Iterator[Finding]:
    above = measured > rated.value
    # Neither a reading that a loose contact spoilt nor the meter's own error makes a finding.
    above &= case.fit.used | (measured > case.limits.over_rating_caution.value * rated.value)
    if not above.any():
        return
    worst = int(np.argmax(np.where(above, measured, -np.inf)))
    times = float(measured[worst]) / rated.value
    serious = rated.verified and times > case.limits.over_rating_caution.value
    memory = "" if rated.verified else ", a figure from memory (check the sheet)"
    count = int(np.count_nonzero(above))
    yield Finding(
        code=FindingCode.OVER_RATING,
        severity=Severity.CAUTION if serious else Severity.NOTE,
        evidence=(
            f"{count} reading{'s lie' if count > 1 else ' lies'} above the rated {words} of "
            f"{worded(rated.value, unit)}{memory}; the highest is "
            f"{worded(float(measured[worst]), unit)} at {where(case.sweep.readings, worst)}, "
            f"{times:.2f} times the rating."
        ),
        value=float(measured[worst]),
        unit=unit,
        limit=rated.value,
        limit_source=rated.source if rated.verified else f"{rated.source} (from memory)",
        readings=positions(above),
    )
