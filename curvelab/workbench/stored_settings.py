"""How a stored sweep was judged, read back from the JSON that a lot file keeps of it."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from curvelab.bench_check.correction import AcceptedCorrection, MeterCorrection
from curvelab.errors import BenchCheckError, BenchDescriptionError, DocumentError
from curvelab.ingest.choices import ReadingChoices
from curvelab.sheets.json_fields import Fields, parsed
from curvelab.sweep.bench import Bench, MeterAccuracy
from curvelab.workbench.bench_choices import choices_of_stored
from curvelab.workbench.characterize import Request

__all__ = ["request_of_settings"]

_NUMBERS = ("factor", "factor_u95", "offset", "offset_u95", "conductance")


def request_of_settings(text: str) -> Request:
    """Return how tubes were judged, as a request without any files.

    Raises
    ------
    DocumentError
        If the text is not of the form that `lot_records.settings_text` writes.
    """
    values = parsed(text)
    points = values.values.get("predict") or ()
    return Request(
        paths=(),
        type_name=values.words("type"),
        reference=values.words("reference"),
        at=_point(values, values.values.get("at")),
        predict=tuple(point for item in points if (point := _point(values, item)) is not None),
        answers=tuple(map(str, values.values.get("answers") or ())),
        meters=_bench(values.table("bench")),
        corrections=tuple(map(_correction, values.tables("corrections"))),
        choices=_reading(values),
    )


def _reading(values: Fields) -> ReadingChoices | None:
    stored = values.values.get("reading")
    if stored is None:  # kept by a version that read every file as it speaks for itself
        return None
    try:
        return choices_of_stored(values.table("reading").values)
    except BenchDescriptionError as error:
        raise DocumentError(f"{values.where}/reading cannot be read ({error})") from error


def _point(entry: Fields, value: Any) -> tuple[float, ...] | None:
    if value is None:
        return None
    try:
        return tuple(map(float, value))
    except (TypeError, ValueError) as error:
        raise DocumentError(f"{entry.where}/at is no point") from error


def _bench(entry: Fields) -> Bench:
    meters = {
        item.name: _meter(entry.table(item.name))
        for item in fields(Bench)
        if item.name not in ("name", "assumed")
    }
    return Bench(entry.text("name"), entry.flag("assumed"), **meters)


def _meter(entry: Fields) -> MeterAccuracy:
    return MeterAccuracy(**{item.name: _number(entry, item.name) for item in fields(MeterAccuracy)})


def _correction(entry: Fields) -> AcceptedCorrection:
    inner = entry.table("correction")
    try:
        found = MeterCorrection(
            meter=inner.text("meter"),
            bench=inner.text("bench"),
            reason=inner.words("reason") or "",
            evidence=tuple(map(str, inner.values.get("evidence") or ())),
            **{name: _number(inner, name) for name in _NUMBERS},
        )
        return AcceptedCorrection(found, entry.text("accepted_by"), entry.text("accepted_on"))
    except BenchCheckError as error:
        raise DocumentError(f"{entry.where} holds no correction ({error})") from error


def _number(entry: Fields, name: str) -> float:
    value = entry.number(name)
    if value is None:
        raise DocumentError(f"{entry.where} lacks {name}")
    return value
