"""The table of a sheet: constants measured against the reference, or what a log did."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.assessment.connection import has_screen_grid
from curvelab.assessment.records import Assessment, OperatingPoint
from curvelab.fitting.records import Constant, Constants
from curvelab.health.records import DriftReport
from curvelab.quantities import (
    AMPLIFICATION_FACTOR,
    MILLIAMPERE,
    PLATE_CURRENT,
    PLATE_RESISTANCE,
    TRANSCONDUCTANCE,
    Quantity,
    format_number,
)
from curvelab.reference.points import printed_at
from curvelab.reference.records import Figure, HandbookPoint
from curvelab.sheets.reference_used import reference_used
from curvelab.sheets.text import decimals_of, finite, plain, signed_percent, trimmed, volts
from curvelab.sweep.records import Sweep

__all__ = [
    "CONSTANT_QUANTITIES",
    "ConstantQuantities",
    "Table",
    "TableRow",
    "constants_table",
    "disagreement",
    "drift_table",
    "point_text",
    "set_point_text",
]

ConstantQuantities = tuple[tuple[str, Quantity], ...]
CONSTANT_QUANTITIES: ConstantQuantities = (
    ("plate_current", PLATE_CURRENT),
    ("transconductance", TRANSCONDUCTANCE),
    ("plate_resistance", PLATE_RESISTANCE),
    ("amplification_factor", AMPLIFICATION_FACTOR),
)
_NONE = "-"
_MINUTES_FROM = 120.0


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row; ``note`` runs across the cells after the first, instead of them."""

    cells: tuple[str, ...]
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose first column is words and whose other columns are numbers.

    Attributes
    ----------
    footnote : str or None
        Explains marks used in the cells.
    """

    columns: tuple[str, ...]
    rows: tuple[TableRow, ...]
    footnote: str | None = None


def point_text(point: OperatingPoint | None) -> str:
    """Return an operating point in words, such as ``Vp 250 V, Vg -2 V``."""
    if point is None:
        return "no operating point"
    text = f"Vp {volts(point.plate_voltage)} V, Vg {volts(point.grid_voltage)} V"
    screen = point.screen_voltage
    return text if screen is None else f"{text}, Vs {volts(screen)} V"


def set_point_text(sweep: Sweep, report: DriftReport) -> str:
    """Return the bias a log was kept at, such as ``Vp 250 V, Vg -45 V``."""
    judged = list(report.readings) or slice(None)
    readings = sweep.readings
    plate = float(np.median(readings.plate_voltage[judged]))
    grid = float(np.median(readings.grid_voltage[judged]))
    return f"Vp {volts(round(plate, 1))} V, Vg {volts(round(grid, 2))} V"


def constants_table(
    assessment: Assessment, quantities: ConstantQuantities = CONSTANT_QUANTITIES
) -> Table:
    """Return the constants at the operating point against handbook and family."""
    point = _handbook_point(assessment)
    published = [getattr(point, name) for name, _ in quantities] if point else []
    of_bogey = assessment.comparison.of_bogey if assessment.comparison else {}
    rows = []
    for position, (name, quantity) in enumerate(quantities):
        measured: Constant = getattr(assessment.constants, name)
        figure = published[position] if published else None
        family = _value(assessment.family_constants, name)
        rows.append(
            TableRow(
                cells=(
                    _label(name, quantity, assessment.sweep),
                    *_measured_cells(measured, _value(assessment.local, name), quantity),
                    _figure_cell(figure, quantity),
                    _NONE if family is None else format_number(quantity.unit.from_si(family)),
                    f"{100 * of_bogey[name]:.1f}" if name in of_bogey else _NONE,
                ),
                note=None if _has_value(measured) else plain(_why_missing(measured)),
            )
        )
    memory = any(figure is not None and not figure.verified for figure in published)
    used = reference_used(assessment)
    stand_in = used is not None and used.why == "stand-in"
    share = f"% of {used.type_name}" if used and stand_in else "% of bogey"
    return Table(
        columns=("", "measured", "± (95 %)", "local fit", "handbook", "family", share),
        rows=tuple(rows),
        footnote="m: published figure, from memory" if memory else None,
    )


def drift_table(report: DriftReport) -> Table:
    """Return what a log at fixed bias did, in four rows."""
    rows = (
        ("behaviour", str(report.behaviour)),
        ("slope at the end", f"{signed_percent(report.slope_per_minute)} per minute"),
        ("projection", f"{signed_percent(report.final)} {_projected(report)}"),
        ("time to the limit", _time_left(report)),
    )
    return Table(columns=(), rows=tuple(TableRow(row) for row in rows))


def disagreement(assessment: Assessment) -> Iterator[tuple[Quantity, float, bool | None]]:
    """Yield how far the local quadratic lies from the fitted family, by constant.

    Yields
    ------
    quantity : Quantity
    difference : float
        Local over fitted value, minus one.
    within : bool or None
        Whether that is inside the two expanded uncertainties combined; None where the
        uncertainties are not known.
    """
    for name, quantity in CONSTANT_QUANTITIES:
        fitted: Constant = getattr(assessment.constants, name)
        local: Constant = getattr(assessment.local, name)
        if not (_has_value(fitted) and _has_value(local)) or not fitted.value:
            continue
        assert fitted.value is not None and local.value is not None
        within = None
        if fitted.u95 is not None and local.u95 is not None:
            within = abs(local.value - fitted.value) <= (fitted.u95**2 + local.u95**2) ** 0.5
        yield quantity, local.value / fitted.value - 1, within


def _projected(report: DriftReport) -> str:
    when = "at the end of the log" if report.model in ("growth", "creep") else "in the end"
    start = finite(report.after_warm_up)
    warm = f"{format_number(MILLIAMPERE.from_si(start), 4)} mA" if start is not None else "value"
    return f"{when}, from the {warm} after warm-up"


def _time_left(report: DriftReport) -> str:
    seconds = report.seconds_to_limit
    if seconds is None:
        return "not heading for a limit on record"
    minutes = f" ({seconds / 60:.1f} min)" if seconds >= _MINUTES_FROM else ""
    limit = f" to the {plain(report.limit)}" if report.limit else ""
    return f"{seconds:.0f} s{minutes}{limit}, after the last reading"


def _label(name: str, quantity: Quantity, sweep: Sweep) -> str:
    """Return what a constant is called; with a screen grid mu says against which electrode."""
    if name == "amplification_factor" and has_screen_grid(sweep):
        return f"{quantity.axis_label} g1-g2"
    return quantity.axis_label


def _handbook_point(assessment: Assessment) -> HandbookPoint | None:
    tube_type, point = assessment.tube_type, assessment.operating_point
    if tube_type is None or point is None:
        return None
    shift = 0.0 if assessment.reference is None else assessment.reference.grid_shift
    grid = point.grid_voltage + shift
    return printed_at(tube_type, point.plate_voltage, grid, point.screen_voltage)


def _has_value(constant: Constant) -> bool:
    return finite(constant.value) is not None


def _value(constants: Constants | None, name: str) -> float | None:
    return None if constants is None else finite(getattr(constants, name).value)


def _why_missing(constant: Constant) -> str:
    """Return outcome and reason, for example ``ill-conditioned. One grid step only.``."""
    return f"{constant.outcome}. {constant.reason}" if constant.reason else str(constant.outcome)


def _measured_cells(
    measured: Constant, local: float | None, quantity: Quantity
) -> tuple[str, str, str]:
    """Return value, uncertainty and local value with the decimals the uncertainty allows."""
    if not _has_value(measured):
        shown_local = _NONE if local is None else format_number(quantity.unit.from_si(local))
        return _NONE, _NONE, shown_local
    assert measured.value is not None
    value, u95 = quantity.unit.from_si(measured.value), finite(measured.u95)
    if u95 is None or u95 <= 0:
        shown = (format_number(value, 4), _NONE)
        decimals = len(shown[0].partition(".")[2])
    else:
        spread = quantity.unit.from_si(u95)
        decimals = decimals_of(spread)
        shown = (f"{value:.{decimals}f}", f"{spread:.{decimals}f}")
    return (*shown, _NONE if local is None else f"{quantity.unit.from_si(local):.{decimals}f}")


def _figure_cell(figure: Figure | None, quantity: Quantity) -> str:
    if figure is None:
        return _NONE
    shown = trimmed(quantity.unit.from_si(figure.value), 4)
    return shown if figure.verified else f"{shown} m"
