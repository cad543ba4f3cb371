"""How stored sweeps were judged, read back from what was filed with them."""

from __future__ import annotations

from dataclasses import fields

from curvelab.bench_check.correction import AcceptedCorrection, MeterCorrection
from curvelab.errors import BenchCheckError, DocumentError
from curvelab.sheets.json_fields import Fields, parsed
from curvelab.sweep.bench import Bench, MeterAccuracy
from curvelab.workbench.characterize import Request

__all__ = ["request_as_filed"]

_NUMBERS = ("factor", "factor_u95", "offset", "offset_u95", "conductance")


def request_as_filed(settings: str) -> Request:
    """Return the request by which a sweep was judged, without any path.

    Its ``meters`` are the bench of then, accepted corrections in their uncertainty.

    Raises
    ------
    DocumentError
        If the settings are not of this form.
    """
    entry = parsed(settings)
    at = entry.values.get("at")
    answers = entry.values.get("answers") or ()
    corrections = entry.tables("corrections") if entry.values.get("corrections") else ()
    return Request(
        paths=(),
        type_name=entry.words("type"),
        reference=entry.words("reference"),
        at=None if at is None else tuple(map(float, at)),
        answers=tuple(map(str, answers)),
        corrections=tuple(map(_correction, corrections)),
        meters=_bench(entry.table("bench")),
        workers=None,
    )


def _bench(entry: Fields) -> Bench:
    meters = {
        item.name: _meter(entry.table(item.name))
        for item in fields(Bench)
        if item.name not in ("name", "assumed")
    }
    return Bench(entry.text("name"), entry.flag("assumed"), **meters)


def _meter(entry: Fields) -> MeterAccuracy:
    return MeterAccuracy(**_numbers(entry, tuple(item.name for item in fields(MeterAccuracy))))


def _correction(entry: Fields) -> AcceptedCorrection:
    made = entry.table("correction")
    try:
        correction = MeterCorrection(
            meter=made.text("meter"),
            bench=made.text("bench"),
            reason=made.text("reason"),
            evidence=tuple(map(str, made.values.get("evidence") or ())),
            **_numbers(made, _NUMBERS),
        )
        return AcceptedCorrection(correction, entry.text("accepted_by"), entry.text("accepted_on"))
    except BenchCheckError as error:
        raise DocumentError(f"{entry.where}: {error}") from error


def _numbers(entry: Fields, names: tuple[str, ...]) -> dict[str, float]:
    values = {}
    for name in names:
        value = entry.number(name)
        if value is None:
            raise DocumentError(f"{entry.where} lacks its {name}")
        values[name] = value
    return values
