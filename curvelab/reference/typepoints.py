"""The characteristic points, cut-offs and published curves of a type file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain

import numpy as np

from curvelab.errors import ReferenceDataError
from curvelab.reference.fields import BIAS_FIELDS, CONSTANT_FIELDS, PENTODE_FIELDS
from curvelab.reference.points import (
    ElectrodeVolts,
    PrintedBias,
    electrode_volts,
    triode_connected,
)
from curvelab.reference.records import (
    CutoffPoint,
    Figure,
    HandbookPoint,
    PentodePoint,
    PublishedCurves,
    Status,
)
from curvelab.reference.table import Table
from curvelab.sweep.records import FloatArray

__all__ = ["read_curves", "read_cutoffs", "read_pentode_points", "read_points"]

# Sheets round mu, gm and rp each for itself; beyond this share one of them is a slip.
_CLOSURE_TOLERANCE = 0.10
_CUTOFF_FIELDS = {
    "plate_v": BIAS_FIELDS["plate_v"],
    "grid_v": BIAS_FIELDS["grid_v"],
    "plate_ma": CONSTANT_FIELDS["plate_ma"],
}
_FEWEST_READINGS = 6  # a family needs no fewer
_MOST_READINGS = 2000


def read_points(
    top: Table, pentode_points: Sequence[PentodePoint] = ()
) -> tuple[HandbookPoint, ...]:
    """Return the points of the tube as a triode.

    Those of a pentode whose plate and screen stand at one voltage are points of its triode
    connection too, and follow the printed ones.

    Raises
    ------
    ReferenceDataError
    """
    points = tuple(_point(row) for row in _rows(top, "points"))
    _check_bogey(top, "points", [point.bogey for point in points])
    return points + triode_connected(pentode_points, points)


def read_pentode_points(top: Table) -> tuple[PentodePoint, ...]:
    """Return the points with the screen at a voltage of its own.

    Raises
    ------
    ReferenceDataError
    """
    points = tuple(_pentode_point(row) for row in _rows(top, "pentode_points"))
    _check_bogey(top, "pentode_points", [point.bogey for point in points])
    return points


def read_cutoffs(top: Table) -> tuple[CutoffPoint, ...]:
    """Return the cut-offs.

    Raises
    ------
    ReferenceDataError
    """
    cutoffs = []
    for row in _rows(top, "cutoffs"):
        row.allow(_CUTOFF_FIELDS)
        figures = row.figures(_CUTOFF_FIELDS)
        if len(figures) != len(_CUTOFF_FIELDS):
            raise row.refusal("cutoffs", sorted(row.values), "plate_v, grid_v and plate_ma")
        cutoffs.append(
            CutoffPoint(
                figures["plate_voltage"].value,
                figures["grid_voltage"].value,
                figures["plate_current"],
            )
        )
    return tuple(cutoffs)


def read_curves(top: Table) -> tuple[PublishedCurves, ...]:
    """Return the published curves that were read off, one set a connection.

    Raises
    ------
    ReferenceDataError
    """
    found = tuple(_curves(table) for table in top.tables("curves"))
    screens = [item.screen_voltage for item in found]
    if len(set(screens)) < len(screens):
        raise top.refusal("curves", f"screen volts {screens}", "one set of curves for each")
    return found


def _rows(top: Table, key: str) -> chain[Table]:
    return chain.from_iterable(table.rows() for table in top.tables(key))


def _check_bogey(top: Table, key: str, marks: Sequence[bool]) -> None:
    if marks and sum(marks) != 1:
        raise top.refusal(key, f"{sum(marks)} bogey points", "exactly one with bogey = true")


def _bogey(row: Table) -> bool:
    bogey = row.values.get("bogey", False)
    if not isinstance(bogey, bool):
        raise row.refusal("bogey", bogey, "true or false")
    return bogey


def _volts(row: Table, bias: Mapping[str, Figure], current: float | None) -> ElectrodeVolts:
    try:
        return electrode_volts(
            PrintedBias(**{name: figure.value for name, figure in bias.items()}), current
        )
    except ReferenceDataError as error:
        raise ReferenceDataError(f"{row.where}: {error}") from error


def _status(grounds: Sequence[Figure]) -> Status:
    seen = all(figure.verified for figure in grounds)
    return Status.VERIFIED if seen else Status.FROM_MEMORY


def _point(row: Table) -> HandbookPoint:
    row.allow((*BIAS_FIELDS, *CONSTANT_FIELDS, "bogey", "unit"))
    bias = row.figures(BIAS_FIELDS)
    constants = row.figures(CONSTANT_FIELDS)
    if not constants:
        raise row.refusal("points", sorted(row.values), "at least one of plate_ma, mu, gm, rp")
    _check_closure(row, constants)
    current = constants.get("plate_current")
    volts = _volts(row, bias, current.value if current else None)
    grounds = [*bias.values(), *([current] if volts.converted and current else [])]
    bogey, unit = _bogey(row), row.values.get("unit")
    if unit is not None and (type(unit) is not int or unit not in (1, 2)):
        raise row.refusal("unit", unit, "1 or 2")
    return HandbookPoint(
        plate_voltage=volts.plate_voltage,
        grid_voltage=volts.grid_voltage,
        plate_current=current,
        transconductance=constants.get("transconductance"),
        plate_resistance=constants.get("plate_resistance"),
        amplification_factor=constants.get("amplification_factor"),
        bogey=bogey,
        source=grounds[0].source,
        status=_status(grounds),
        converted=volts.converted,
        unit=unit,
    )


def _pentode_point(row: Table) -> PentodePoint:
    row.allow((*BIAS_FIELDS, *PENTODE_FIELDS, "bogey"))
    bias = row.figures(BIAS_FIELDS)
    figures = row.figures(PENTODE_FIELDS)
    screen = figures.pop("screen_voltage", None)
    if screen is None or not figures:
        raise row.refusal("pentode_points", sorted(row.values), "screen_v and a figure at least")
    plate_current, screen_current = figures.get("plate_current"), figures.get("screen_current")
    through = [figure for figure in (plate_current, screen_current) if figure is not None]
    # Both currents flow in the cathode's resistor: neither alone says what it drops.
    cathode = sum(figure.value for figure in through) if len(through) == 2 else None
    volts = _volts(row, bias, cathode)
    grounds = [*bias.values(), screen, *(through if volts.converted else [])]
    return PentodePoint(
        plate_voltage=volts.plate_voltage,
        screen_voltage=screen.value,
        grid_voltage=volts.grid_voltage,
        plate_current=plate_current,
        screen_current=screen_current,
        transconductance=figures.get("transconductance"),
        plate_resistance=figures.get("plate_resistance"),
        screen_amplification_factor=figures.get("screen_amplification_factor"),
        bogey=_bogey(row),
        source=grounds[0].source,
        status=_status(grounds),
        converted=volts.converted,
    )


def _check_closure(row: Table, constants: Mapping[str, Figure]) -> None:
    """Refuse constants that break mu = gm rp (van der Bijl 1919) by more than rounding."""
    names = ("amplification_factor", "transconductance", "plate_resistance")
    if not all(name in constants for name in names):
        return
    mu, gm, rp = (constants[name].value for name in names)
    if abs(gm * rp / mu - 1) > _CLOSURE_TOLERANCE:
        raise row.refusal("mu", mu, f"about gm times rp, which is {gm * rp:.3g}")


def _curves(table: Table) -> PublishedCurves:
    table.allow(("accuracy", "rows", "screen_v"))
    origin = table.default_origin("curves")
    screen = None
    if "screen_v" in table.values:
        screen = table.figure("screen_v", PENTODE_FIELDS["screen_v"]).value
    rows = table.rows("accuracy", "screen_v")
    columns = [_curve(row, with_screen=screen is not None) for row in rows]
    plate, grid, current, drawn = (np.concatenate(part) for part in zip(*columns, strict=True))
    if not _FEWEST_READINGS <= plate.size <= _MOST_READINGS:
        wanted = f"{_FEWEST_READINGS} to {_MOST_READINGS} readings"
        raise table.refusal("rows", f"{plate.size} readings", wanted)
    for array in (plate, grid, current, drawn):
        array.setflags(write=False)
    return PublishedCurves(
        screen_voltage=screen,
        plate_voltage=plate,
        grid_voltage=grid,
        plate_current=current,
        source=origin.title,
        status=origin.status,
        accuracy=table.text("accuracy"),
        screen_current=drawn if np.isfinite(drawn).any() else None,
    )


def _curve(
    row: Table, *, with_screen: bool
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return plate volts, grid volts, plate and screen current of one curve."""
    row.allow((*_CUTOFF_FIELDS, "screen_ma") if with_screen else _CUTOFF_FIELDS)
    grid = row.figure("grid_v", BIAS_FIELDS["grid_v"]) if "grid_v" in row.values else None
    lists = [row.values.get(key) for key in ("plate_v", "plate_ma")]
    columns = [column for column in lists if isinstance(column, list)]
    if grid is None or len(columns) < len(lists):
        raise row.refusal("curves", sorted(row.values), "grid_v and lists of plate_v and plate_ma")
    plate, current = (
        np.array([row.in_bounds(key, one, _CUTOFF_FIELDS[key]) for one in column])
        for key, column in zip(("plate_v", "plate_ma"), columns, strict=True)
    )
    if plate.size != current.size:
        raise row.refusal(
            "plate_ma", f"{current.size} figures", f"as many as plate_v: {plate.size}"
        )
    return plate, np.full(plate.size, grid.value), current, _drawn(row, plate.size)


def _drawn(row: Table, size: int) -> FloatArray:
    """Return the screen currents of one curve, NaN where none were read off."""
    raw = row.values.get("screen_ma")
    if raw is None:
        return np.full(size, np.nan)
    if not isinstance(raw, list) or len(raw) != size:
        raise row.refusal("screen_ma", raw, f"as many figures as plate_v: {size}")
    field = PENTODE_FIELDS["screen_ma"]
    return np.array([row.in_bounds("screen_ma", one, field) for one in raw])
