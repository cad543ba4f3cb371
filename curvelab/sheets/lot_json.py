"""A lot as JSON, schema ``curvelab.lot/1``: as it stands, or whole."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Mapping
from typing import Any

from curvelab import __version__
from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.records import (
    Characterisation,
    FindingMark,
    HandTest,
    KeptRecord,
    LotContent,
    Measurement,
    Overrule,
    StoredResult,
    StoredTube,
    TubeHistory,
    TubeIdentity,
    TubeSet,
)
from curvelab.health.records import Verdict
from curvelab.quantities import MILLIAMPERE
from curvelab.sheets.results_json import (
    conditions_entry,
    constants_entry,
    number,
    operating_point_entry,
)
from curvelab.sheets.text import plain
from curvelab.sweep.records import SourceFile

__all__ = ["LOT_SCHEMA", "lot_export_text", "lot_list_document"]

LOT_SCHEMA = "curvelab.lot/1"


def lot_list_document(tubes: Iterable[StoredTube]) -> dict[str, Any]:
    """Return the tubes as they stand as plain values, in the units the keys name."""
    return {**_head("list"), "tubes": [_standing(tube) for tube in tubes]}


def lot_export_text(content: LotContent) -> str:
    """Return a whole lot as strict JSON; `curvelab.sheets.lot_reader` reads it back.

    A line a tube and a source, made one after another: as one tree of values a large lot
    would take many times the room of its file.
    """
    parts: dict[str, Iterable[dict[str, Any]]] = {
        "tubes": map(_history, content.tubes),
        "sources": map(_source, content.sources),
        "sets": map(_set, content.sets),
        "kept": map(_kept, content.kept),
    }
    lists = (
        f'"{name}": [\n' + ",\n".join(map(_line, items)) + "\n]" for name, items in parts.items()
    )
    head = _line(_head("whole")).removesuffix("}")
    return ",\n".join((head, *lists)) + "}\n"


def _line(value: Mapping[str, Any]) -> str:
    return json.dumps(value, allow_nan=False, ensure_ascii=False, separators=(",", ":"))


def _head(extent: str) -> dict[str, Any]:
    return {"schema": LOT_SCHEMA, "made_with": f"curvelab {__version__}", "extent": extent}


def _identity(identity: TubeIdentity) -> dict[str, Any]:
    return {
        "serial": plain(identity.serial),
        "lot": plain(identity.lot),
        "type_on_label": _words(identity.type_label),
        "maker_mark": _words(identity.maker_mark),
        "box": _words(identity.box),
        "shelf": _words(identity.shelf),
        "supplier": _words(identity.supplier),
        "cost": None if identity.cost is None else str(identity.cost),
        "price": None if identity.price is None else str(identity.price),
        "return_by": None if identity.return_by is None else identity.return_by.isoformat(),
        "note": _words(identity.note),
    }


def _standing(tube: StoredTube) -> dict[str, Any]:
    overruled, state = tube.overrule, tube.set_state
    return {
        **_identity(tube.identity),
        "verdict": _word(tube.verdict),
        "measured_verdict": _word(tube.measured_verdict),
        "overruled": None if overruled is None else _overrule(overruled),
        "set": None if state is None else {"name": _words(tube.set_name), "state": state.value},
        "findings": _marks(tube.findings),
        "results": [_result(result) for result in tube.results],
        "hand_tests": [_hand_test(test) for test in tube.hand_tests],
    }


def _result(result: StoredResult) -> dict[str, Any]:
    figures = result.figures
    return {
        "section": _words(result.section),
        "kind": result.kind.value,
        "file": plain(result.file),
        "sha256": result.sha256,
        "made_at": result.made_at.isoformat(),
        "made_with": result.made_with,
        "bench": plain(result.bench),
        "type": _words(figures.type_name),
        "type_on_label": _words(figures.type_label),
        "operating_point": operating_point_entry(figures.operating_point),
        "constants": constants_entry(figures.constants, figures.of_bogey),
        "family_deviation_pct": number(figures.family_deviation, 0.01),
        "verdict": figures.verdict.value,
        "drift": figures.behaviour,
        "findings": _marks(figures.findings),
    }


def _history(history: TubeHistory) -> dict[str, Any]:
    return {
        **_identity(history.identity),
        "measurements": [_measurement(item) for item in history.measurements],
        "hand_tests": [_hand_test(test) for test in history.hand_tests],
        "overrules": [_overrule(overrule) for overrule in history.overrules],
    }


def _measurement(item: Measurement) -> dict[str, Any]:
    return {
        "named": plain(item.named),
        "section": _words(item.section),
        "kind": item.kind.value,
        "set_up": _words(item.set_up),
        "sha256": item.sha256,
        "characterisations": [_characterisation(each) for each in item.characterisations],
    }


def _characterisation(item: Characterisation) -> dict[str, Any]:
    return {
        "made_at": item.made_at.isoformat(),
        "made_with": item.made_with,
        "settings": json.loads(item.settings),
        "result": json.loads(item.document),
        "curves": None if item.curves is None else _curves(item.curves),
    }


def _curves(curves: CurveGrid) -> dict[str, Any]:
    return {
        "plate_v": [number(value) for value in curves.plate_voltage.tolist()],
        "grid_v": [number(value) for value in curves.grid_voltage.tolist()],
        "plate_ma": [
            [number(value, MILLIAMPERE.si) for value in row]
            for row in curves.plate_current.tolist()
        ],
        "covered": curves.covered.tolist(),
    }


def _hand_test(test: HandTest) -> dict[str, Any]:
    return {
        "made_at": test.made_at.isoformat(),
        "section": _words(test.section),
        "conditions": conditions_entry(test.conditions),
        "note": _words(test.note),
        "verdict": test.verdict.value,
        "findings": json.loads(test.document)["findings"],
    }


def _overrule(overrule: Overrule) -> dict[str, Any]:
    return {
        "made_at": overrule.made_at.isoformat(),
        "verdict": overrule.verdict.value,
        "reason": plain(overrule.reason),
        "person": plain(overrule.person),
        "characterisations": overrule.characterisations,
        "hand_tests": overrule.hand_tests,
    }


def _source(source: SourceFile) -> dict[str, Any]:
    content = base64.b64encode(source.content).decode("ascii") if source.content else None
    return {"sha256": source.sha256, "name": plain(source.name), "content": content}


def _set(tube_set: TubeSet) -> dict[str, Any]:
    members: list[Mapping[str, Any]] = [
        {"serial": plain(member.serial), "lot": plain(member.lot), "spare": member.spare}
        for member in tube_set.members
    ]
    return {
        "name": plain(tube_set.name),
        "state": tube_set.state.value,
        "made_at": tube_set.made_at.isoformat(),
        "members": members,
        "payload": json.loads(tube_set.payload),
    }


def _kept(record: KeptRecord) -> dict[str, Any]:
    return {
        "kind": record.kind,
        "name": plain(record.name),
        "version": record.version,
        "made_at": record.made_at.isoformat(),
        "payload": json.loads(record.payload),
    }


def _marks(marks: Iterable[FindingMark]) -> list[dict[str, str]]:
    return [{"code": mark.code, "severity": mark.severity} for mark in marks]


def _words(text: str | None) -> str | None:
    return None if text is None else plain(text)


def _word(verdict: Verdict | None) -> str | None:
    return None if verdict is None else verdict.value
