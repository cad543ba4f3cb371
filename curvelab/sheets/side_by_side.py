"""The constants of two tubes at one point, side by side."""

from __future__ import annotations

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.fitting.constant_map import ConstantMap, constants_over
from curvelab.fitting.records import Constant
from curvelab.quantities import Quantity, format_uncertain
from curvelab.sheets.tables import CONSTANT_QUANTITIES, ConstantQuantities, Table, TableRow
from curvelab.sheets.tables import point_text as point_in_words

__all__ = ["side_by_side_table"]

_NONE = "–"
_SAME_PLATE, _SAME_GRID = 0.05, 0.005  # [V]


def side_by_side_table(
    first: Assessment,
    second: Assessment,
    quantities: ConstantQuantities = CONSTANT_QUANTITIES,
) -> Table:
    """Return the constants of two tubes at the first one's operating point.

    The last column is the second over the first, minus one, in percent, with its expanded
    uncertainty: relative uncertainties in quadrature (JCGM 100:2008, clause 5.1.6).
    """
    own, other = _own(first), _at_point_of(first, second)
    rows = []
    for name, quantity in quantities:
        one, two = own[name], other[name]
        symbol = f"{quantity.symbol} ({quantity.unit.symbol})".replace(" ()", "")
        cells = (symbol, _shown(one, quantity), _shown(two, quantity), _difference(one, two))
        rows.append(TableRow(cells))
    at = point_in_words(first.operating_point)
    return Table(
        columns=(f"at {at}", first.sweep.title, second.sweep.title, "difference"),
        rows=tuple(rows),
    )


def _own(assessment: Assessment) -> dict[str, Constant]:
    return {name: getattr(assessment.constants, name) for name, _ in CONSTANT_QUANTITIES}


def _at_point_of(first: Assessment, second: Assessment) -> dict[str, Constant]:
    """Return the second tube's constants where the first one's were taken."""
    point, own = first.operating_point, second.operating_point
    if point is None:
        return _own(second)
    if own is not None:
        near = abs(point.plate_voltage - own.plate_voltage) <= _SAME_PLATE
        if near and abs(point.grid_voltage - own.grid_voltage) <= _SAME_GRID:
            return _own(second)
    at = np.array([point.plate_voltage]), np.array([point.grid_voltage])
    found = constants_over(second.fit, second.sweep.readings, *at)
    return {name: _only(found, name) for name, _ in CONSTANT_QUANTITIES}


def _only(found: ConstantMap, name: str) -> Constant:
    part = getattr(found, name)
    value, u95 = float(part.value[0]), float(part.u95[0])
    return Constant(value if np.isfinite(value) else None, u95 if np.isfinite(u95) else None)


def _shown(constant: Constant, quantity: Quantity) -> str:
    if constant.value is None:
        return _NONE
    written = format_uncertain(constant.value, constant.u95, quantity.unit)
    return written.removesuffix(f" {quantity.unit.symbol}") if quantity.unit.symbol else written


def _difference(one: Constant, two: Constant) -> str:
    if one.value is None or two.value is None or not one.value:
        return _NONE
    ratio = two.value / one.value
    percent = f"{100 * (ratio - 1):+.1f}"
    if one.u95 is None or two.u95 is None or not two.value:
        return f"{percent} %"
    spread = 100 * abs(ratio) * float(np.hypot(one.u95 / one.value, two.u95 / two.value))
    return f"{percent} ± {spread:.1f} %"
