"""Golden readings and corrections as plain values, there and back.

The units are those of the trade; what is written reads back to the same record.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from curvelab import __version__
from curvelab.bench_check.correction import AcceptedCorrection, MeterCorrection
from curvelab.bench_check.records import GoldenReading, Measured, Standing
from curvelab.errors import BenchCheckError
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, MILLIAMPERE_PER_VOLT, Unit
from curvelab.sheets.text import plain

__all__ = [
    "CORRECTION_SCHEMA",
    "READING_SCHEMA",
    "correction_from_record",
    "correction_record",
    "reading_from_record",
    "reading_record",
]

READING_SCHEMA = "curvelab.golden-reading/1"
CORRECTION_SCHEMA = "curvelab.meter-correction/1"

Record = TypeVar("Record")


def reading_record(reading: GoldenReading) -> dict[str, Any]:
    """Return a golden reading as plain values, for a history to keep."""
    return {
        "schema": READING_SCHEMA,
        "made_with": f"curvelab {__version__}",
        "tube": plain(reading.tube),
        "section": None if reading.section is None else plain(reading.section),
        "type": None if reading.type_name is None else plain(reading.type_name),
        "bench": plain(reading.bench),
        "accuracy_stated": reading.accuracy_stated,
        "date": reading.date,
        "plate_v": reading.plate_voltage,
        "grid_v": reading.grid_voltage,
        "plate_ma": _measured(reading.plate_current, MILLIAMPERE),
        "gm_ms": _measured(reading.transconductance, MILLIAMPERE_PER_VOLT),
        "file": plain(reading.file),
        "sha256": reading.sha256,
        "corrections": list(reading.corrections),
        "standing": reading.standing.value,
    }


def reading_from_record(record: Mapping[str, Any]) -> GoldenReading:
    """Return the golden reading that plain values hold.

    Raises
    ------
    BenchCheckError
        If they are of another schema, or something is missing or senseless.
    """

    def read(values: Mapping[str, Any]) -> GoldenReading:
        return GoldenReading(
            tube=_text(values["tube"]),
            section=None if values["section"] is None else _text(values["section"]),
            type_name=None if values["type"] is None else _text(values["type"]),
            bench=_text(values["bench"]),
            accuracy_stated=bool(values["accuracy_stated"]),
            date=_text(values["date"]),
            plate_voltage=_number(values["plate_v"]),
            grid_voltage=_number(values["grid_v"]),
            plate_current=_read_measured(values["plate_ma"], MILLIAMPERE),
            transconductance=_read_measured(values["gm_ms"], MILLIAMPERE_PER_VOLT),
            file=_text(values["file"]),
            sha256=_text(values["sha256"]),
            corrections=tuple(map(_text, values["corrections"])),
            standing=Standing(values["standing"]),
        )

    return _read(record, READING_SCHEMA, "golden reading", read)


def correction_record(item: MeterCorrection | AcceptedCorrection) -> dict[str, Any]:
    """Return a correction as plain values; by whom it was accepted is null until it was."""
    accepted = item if isinstance(item, AcceptedCorrection) else None
    correction = item.correction if isinstance(item, AcceptedCorrection) else item
    return {
        "schema": CORRECTION_SCHEMA,
        "identity": correction.identity,
        "meter": correction.meter,
        "bench": plain(correction.bench),
        "factor": correction.factor,
        "factor_u95": correction.factor_u95,
        "offset_ua": correction.offset / MICROAMPERE.si,
        "offset_u95_ua": correction.offset_u95 / MICROAMPERE.si,
        "leads_ua_per_v": correction.conductance / MICROAMPERE.si,
        "words": correction.words,
        "reason": plain(correction.reason),
        "evidence": list(correction.evidence),
        "accepted_by": None if accepted is None else plain(accepted.accepted_by),
        "accepted_on": None if accepted is None else accepted.accepted_on,
    }


def correction_from_record(record: Mapping[str, Any]) -> AcceptedCorrection:
    """Return the accepted correction that plain values hold.

    Raises
    ------
    BenchCheckError
        If they are of another schema, something is missing or senseless, or nobody has
        accepted it.
    """

    def read(values: Mapping[str, Any]) -> AcceptedCorrection:
        correction = MeterCorrection(
            meter=_text(values["meter"]),
            bench=_text(values["bench"]),
            factor=_number(values["factor"]),
            factor_u95=_number(values["factor_u95"]),
            offset=_number(values["offset_ua"]) * MICROAMPERE.si,
            offset_u95=_number(values["offset_u95_ua"]) * MICROAMPERE.si,
            conductance=_number(values["leads_ua_per_v"]) * MICROAMPERE.si,
            reason=_text(values["reason"]),
            evidence=tuple(map(_text, values["evidence"])),
        )
        if values["accepted_by"] is None:
            raise BenchCheckError(f"nobody has accepted the correction {correction.identity}")
        return AcceptedCorrection(
            correction, _text(values["accepted_by"]), _text(values["accepted_on"])
        )

    return _read(record, CORRECTION_SCHEMA, "correction", read)


def _measured(item: Measured, unit: Unit) -> dict[str, float]:
    return {
        "value": unit.from_si(item.value),
        "fit_u95": unit.from_si(item.fit_u95),
        "u95": unit.from_si(item.u95),
    }


def _read_measured(values: Mapping[str, Any], unit: Unit) -> Measured:
    value = unit.to_si(_number(values["value"]))
    if value <= 0:
        raise BenchCheckError(f"a golden tube's value is above 0, not {values['value']!r}")
    return Measured(
        value, unit.to_si(_number(values["fit_u95"])), unit.to_si(_number(values["u95"]))
    )


def _read(
    record: Mapping[str, Any], schema: str, what: str, read: Callable[[Mapping[str, Any]], Record]
) -> Record:
    found = record.get("schema") if isinstance(record, Mapping) else None
    if found != schema:
        raise BenchCheckError(f"wanted a {what} of schema {schema!r}, got {found!r}")
    try:
        return read(record)
    except KeyError as error:
        raise BenchCheckError(f"a {what} lacks its {error.args[0]!r}") from error
    except BenchCheckError:
        raise
    except (TypeError, ValueError) as error:
        raise BenchCheckError(f"a {what} cannot be read: {error}") from error


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"wanted a text, got {value!r}")
    return value


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError(f"wanted a number, got {value!r}")
    return float(value)
