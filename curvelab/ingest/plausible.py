"""Readings that no tube bench can have made, once units and signs are settled.

A slip of the logger spoils single rows; a wrong unit in a heading spoils the whole file. The
bounds lie far beyond any tube this program judges (common practice, no source), so that a
tube far from its handbook is never taken for a wrong unit.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from curvelab.errors import AmbiguousFileError
from curvelab.ingest.bundles import Bundle
from curvelab.ingest.headings import Column
from curvelab.ingest.tables import Fault
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, Unit
from curvelab.sweep.records import Remark, RemarkCode

__all__ = ["set_aside_impossible", "settle_plate_current_size"]

_BOUNDS = {
    Column.PLATE_VOLTAGE: (50e3, "V"),
    Column.GRID_VOLTAGE: (5e3, "V"),
    Column.PLATE_CURRENT: (100.0, "A"),
}
# Where a tenth of the readings lie above this, the unit is wrong [A].
_LARGE_CURRENT, _SHARE = 1.0, 0.9
_SMALLER = (MILLIAMPERE, MICROAMPERE)


def settle_plate_current_size(
    path: str,
    bundles: Sequence[Bundle],
    stated: Mapping[Column, Unit],
    answers: Collection[str],
) -> list[Remark]:
    """Ask for the unit of a plate current that no tube passes, in place.

    Parameters
    ----------
    stated : mapping of Column to Unit
        Units as the file states them.

    Raises
    ------
    AmbiguousFileError
        If the stated unit makes the currents those of no tube and a smaller one would not.
    """
    column = Column.PLATE_CURRENT
    own = stated.get(column)
    current = np.concatenate([np.abs(bundle.values[column]) for bundle in bundles])
    typical = float(np.quantile(current, _SHARE))
    if own is None or typical <= _LARGE_CURRENT:
        return []
    fitting = [unit for unit in _SMALLER if typical * unit.si < _LARGE_CURRENT * own.si]
    if not fitting:
        return []
    for unit in (own, *fitting):
        if _choice(unit) in answers:
            for bundle in bundles:
                bundle.values[column] = bundle.values[column] * (unit.si / own.si)
            text = f"plate current is read in {unit.symbol}: as you chose"
            return [Remark(RemarkCode.UNITS_GUESSED, text)]
    reason = (
        f"the plate current is stated in {own.symbol} and reaches "
        f"{float(current.max()):.3g} A, which no tube on a bench passes"
    )
    raise AmbiguousFileError(path, reason, tuple(_choice(unit) for unit in (*fitting, own)))


def _choice(unit: Unit) -> str:
    return f"{Column.PLATE_CURRENT} in {unit.symbol}"


def set_aside_impossible(bundle: Bundle, lines: Sequence[str]) -> None:
    """Take readings beyond any bench out of a bundle, in place, each with its reason.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    """
    good = np.ones(bundle.line.size, dtype=bool)
    for column, (bound, unit) in _BOUNDS.items():
        values = bundle.values[column]
        for place in np.flatnonzero(good & (np.abs(values) > bound)).tolist():
            good[place] = False
            line = int(bundle.line[place])
            reason = f"{column} {values[place]:.3g} {unit} is beyond any tube bench"
            bundle.faults.append(Fault(line, lines[line - 1], reason))
    if good.all():
        return
    bundle.values = {column: values[good] for column, values in bundle.values.items()}
    bundle.line = bundle.line[good]
    if bundle.direction is not None:
        bundle.direction = bundle.direction[good]
