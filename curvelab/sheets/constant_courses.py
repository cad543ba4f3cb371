"""Constants as functions, written out: JSON, schema ``curvelab.constants/1``, and CSV."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from curvelab import __version__
from curvelab.assessment.records import Assessment
from curvelab.fitting.constant_map import ConstantMap, ConstantValues
from curvelab.quantities import MILLIAMPERE, MILLIAMPERE_PER_VOLT, OHM, UNITY, Unit
from curvelab.sheets.reference_used import judged_type
from curvelab.sheets.results_csv import safe_cell
from curvelab.sheets.results_json import FailedFile
from curvelab.sheets.text import plain

__all__ = ["CONSTANTS_SCHEMA", "Courses", "courses_csv", "courses_json"]

CONSTANTS_SCHEMA = "curvelab.constants/1"
_DIGITS = 8
_PARTS: tuple[tuple[str, str, str, Unit], ...] = (
    ("plate_ma", "Ip (mA)", "plate_current", MILLIAMPERE),
    ("gm_ms", "gm (mA/V)", "transconductance", MILLIAMPERE_PER_VOLT),
    ("rp_ohm", "rp (ohm)", "plate_resistance", OHM),
    ("mu", "mu", "amplification_factor", UNITY),
)


@dataclass(frozen=True, slots=True, eq=False)
class Courses:
    """The constants of one tube along constant plate voltages, and over the plane.

    Attributes
    ----------
    along : tuple of ConstantMap
        One for each plate voltage asked for.
    plane : ConstantMap or None
        None where it was not asked for, or where the tube has none.
    reason : str or None
        Why the tube has none.
    """

    assessment: Assessment
    along: tuple[ConstantMap, ...] = ()
    plane: ConstantMap | None = None
    reason: str | None = None


def courses_json(courses: Iterable[Courses], errors: Iterable[FailedFile] = ()) -> str:
    """Return the constants of a lot as strict JSON, in the units the keys name."""
    document = {
        "schema": CONSTANTS_SCHEMA,
        "made_with": f"curvelab {__version__}",
        "tubes": [_tube(item) for item in courses],
        "errors": [{"file": plain(item.file), "reason": plain(item.reason)} for item in errors],
    }
    return json.dumps(document, allow_nan=False, ensure_ascii=False) + "\n"


def courses_csv(courses: Iterable[Courses]) -> str:
    """Return the constants of a lot as CSV text, a row a point, safe in a spreadsheet."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    heading = ["tube", "section", "type", "along", "Vp (V)", "Vg (V)"]
    for _, name, _, _ in _PARTS:
        heading += [name, f"u95 of {name}", f"outcome of {name.split()[0]}"]
    writer.writerow(heading)
    for item in courses:
        sweep = item.assessment.sweep
        head = [sweep.tube, sweep.section or "", judged_type(item.assessment) or ""]
        named = [("constant plate voltage", one) for one in item.along]
        named += [("plane", item.plane)] if item.plane is not None else []
        for along, found in named:
            writer.writerows([*map(safe_cell, head), along, *row] for row in _rows(found))
    return stream.getvalue()


def _tube(item: Courses) -> dict[str, Any]:
    sweep, bench = item.assessment.sweep, item.assessment.bench
    return {
        "tube": plain(sweep.tube),
        "section": None if sweep.section is None else plain(sweep.section),
        "type": judged_type(item.assessment),
        "source": {"file": plain(sweep.source.name), "sha256": sweep.source.sha256},
        "bench": {"name": plain(bench.name), "assumed": bench.assumed},
        "reason": None if item.reason is None else plain(item.reason),
        "at_constant_plate_v": [_map(one) for one in item.along],
        "plane": None if item.plane is None else _map(item.plane),
    }


def _map(found: ConstantMap) -> dict[str, Any]:
    parts = {key: (getattr(found, name), unit) for key, _, name, unit in _PARTS}
    return {
        "plate_v": [_number(value) for value in found.plate_voltage.tolist()],
        "grid_v": [_number(value) for value in found.grid_voltage.tolist()],
        **{key: _values(part, unit) for key, (part, unit) in parts.items()},
    }


def _values(part: ConstantValues, unit: Unit) -> dict[str, Any]:
    return {
        "value": [_number(value, unit) for value in part.value.tolist()],
        "u95": [_number(value, unit) for value in part.u95.tolist()],
        "outcome": part.outcome.tolist(),
    }


def _rows(found: ConstantMap) -> Iterator[list[str | float]]:
    parts = [(getattr(found, name), unit) for _, _, name, unit in _PARTS]
    for place in range(len(found)):
        row = [_cell(found.plate_voltage[place]), _cell(found.grid_voltage[place])]
        for part, unit in parts:
            row += [_cell(part.value[place], unit), _cell(part.u95[place], unit)]
            row.append(str(part.outcome[place]))
        yield row


def _cell(value: float, unit: Unit = UNITY) -> str | float:
    number = _number(float(value), unit)
    return "" if number is None else number


def _number(value: float, unit: Unit = UNITY) -> float | None:
    """Return ``value`` [SI] counted in ``unit``; None for what is not a number."""
    shown = unit.from_si(value)
    return float(f"{shown:.{_DIGITS}g}") if math.isfinite(shown) else None
