"""Reading a whole lot back from JSON, schema ``curvelab.lot/1``."""

from __future__ import annotations

import base64
import binascii
import hashlib
from typing import Any

import numpy as np

from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.records import (
    Characterisation,
    HandTest,
    KeptRecord,
    LotContent,
    Measurement,
    Overrule,
    SetMember,
    SetState,
    TubeHistory,
    TubeIdentity,
    TubeSet,
)
from curvelab.errors import DocumentError, SweepShapeError
from curvelab.health.records import Verdict
from curvelab.quantities import MILLIAMPERE
from curvelab.sheets.json_fields import Fields, parsed
from curvelab.sheets.lot_json import LOT_SCHEMA
from curvelab.sheets.results_reader import finding_marks, read_conditions, read_figures
from curvelab.sweep.records import SourceFile, SweepKind

__all__ = ["read_lot"]


def read_lot(text: str) -> LotContent:
    """Return the content of a whole lot document.

    Raises
    ------
    DocumentError
        If it is not of the schema, holds the tubes as they stand only, or the bytes of a
        source do not have the SHA-256 stated for them.
    """
    document = parsed(text)
    if document.values.get("schema") != LOT_SCHEMA:
        raise DocumentError(f"its schema is not {LOT_SCHEMA}")
    if document.values.get("extent") != "whole":
        raise DocumentError("it lists the tubes as they stand; 'curvelab lot export' writes all")
    return LotContent(
        tubes=tuple(_history(item) for item in document.tables("tubes")),
        sources=tuple(_source(item) for item in document.tables("sources")),
        sets=tuple(_set(item) for item in document.tables("sets")),
        kept=tuple(_kept(item) for item in document.tables("kept")),
    )


def _history(entry: Fields) -> TubeHistory:
    return TubeHistory(
        identity=TubeIdentity(
            serial=entry.text("serial"),
            lot=entry.text("lot"),
            type_label=entry.words("type_on_label"),
            maker_mark=entry.words("maker_mark"),
            box=entry.words("box"),
            shelf=entry.words("shelf"),
            supplier=entry.words("supplier"),
            cost=entry.money("cost"),
            price=entry.money("price"),
            return_by=entry.day("return_by"),
            note=entry.words("note"),
        ),
        measurements=tuple(_measurement(item) for item in entry.tables("measurements")),
        hand_tests=tuple(_hand_test(item) for item in entry.tables("hand_tests")),
        overrules=tuple(_overrule(item) for item in entry.tables("overrules")),
    )


def _measurement(entry: Fields) -> Measurement:
    return Measurement(
        named=entry.text("named"),
        section=entry.words("section"),
        kind=entry.word_of("kind", SweepKind),
        sha256=entry.text("sha256"),
        characterisations=tuple(
            _characterisation(item) for item in entry.tables("characterisations")
        ),
        set_up=entry.words("set_up"),
    )


def _characterisation(entry: Fields) -> Characterisation:
    result = entry.table("result")
    curves = entry.values.get("curves")
    return Characterisation(
        made_at=entry.moment("made_at"),
        made_with=entry.text("made_with"),
        bench=result.table("bench").text("name"),
        settings=entry.json("settings"),
        figures=read_figures(result),
        document=entry.json("result"),
        curves=None if curves is None else _curves(entry.table("curves")),
    )


def _curves(entry: Fields) -> CurveGrid:
    values: dict[str, Any] = {key: entry.values.get(key) for key in ("plate_v", "grid_v")}
    try:
        return CurveGrid(
            plate_voltage=values["plate_v"],
            grid_voltage=values["grid_v"],
            plate_current=np.asarray(entry.values.get("plate_ma"), dtype=float) * MILLIAMPERE.si,
            covered=np.asarray(entry.values.get("covered"), dtype=bool),
        )
    except (TypeError, ValueError) as error:
        reason = str(error) if isinstance(error, SweepShapeError) else "its values are no numbers"
        raise DocumentError(f"{entry.where} is no family of curves: {reason}") from error


def _hand_test(entry: Fields) -> HandTest:
    return HandTest(
        made_at=entry.moment("made_at"),
        section=entry.words("section"),
        conditions=read_conditions(entry.table("conditions")),
        note=entry.words("note"),
        findings=finding_marks(entry),
        verdict=entry.word_of("verdict", Verdict),
        document=f'{{"findings": {entry.json("findings")}}}',
    )


def _overrule(entry: Fields) -> Overrule:
    return Overrule(
        made_at=entry.moment("made_at"),
        verdict=entry.word_of("verdict", Verdict),
        reason=entry.text("reason"),
        person=entry.text("person"),
        characterisations=entry.whole("characterisations"),
        hand_tests=entry.whole("hand_tests"),
    )


def _source(entry: Fields) -> SourceFile:
    name, sha256, packed = entry.text("name"), entry.text("sha256"), entry.words("content")
    try:
        content = b"" if packed is None else base64.b64decode(packed, validate=True)
    except (binascii.Error, ValueError) as error:
        raise DocumentError(f"{entry.where}/content is not base64") from error
    if packed is not None and hashlib.sha256(content).hexdigest() != sha256:
        raise DocumentError(f"{entry.where}: the bytes of {name} do not have the SHA-256 stated")
    return SourceFile(name=name, path=name, sha256=sha256, content=content)


def _set(entry: Fields) -> TubeSet:
    return TubeSet(
        name=entry.text("name"),
        state=entry.word_of("state", SetState),
        members=tuple(
            SetMember(item.text("serial"), item.text("lot"), item.flag("spare"))
            for item in entry.tables("members")
        ),
        made_at=entry.moment("made_at"),
        payload=entry.json("payload"),
    )


def _kept(entry: Fields) -> KeptRecord:
    return KeptRecord(
        kind=entry.text("kind"),
        name=entry.text("name"),
        version=entry.whole("version"),
        made_at=entry.moment("made_at"),
        payload=entry.json("payload"),
    )
