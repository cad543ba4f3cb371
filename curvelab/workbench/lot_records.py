"""From an assessment to what a lot file keeps of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime

from curvelab import __version__
from curvelab.assessment.assess import Settings
from curvelab.assessment.records import Assessment
from curvelab.catalog.curves import sample_curves
from curvelab.catalog.records import (
    Characterisation,
    FindingMark,
    HandTest,
    Measurement,
    TubeIdentity,
)
from curvelab.health.hand_test import judge_hand_test
from curvelab.health.limits import HouseLimits
from curvelab.health.records import Verdict
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.ingest.metadata import read_conditions, value_of
from curvelab.reference.records import TubeType
from curvelab.sheets.results_json import finding_entry, result_entry
from curvelab.sheets.results_reader import figures_of_result
from curvelab.sheets.text import plain
from curvelab.sweep.records import Conditions
from curvelab.workbench.bench_choices import stored_choices
from curvelab.workbench.characterize import Request

__all__ = [
    "ByHand",
    "by_hand_of",
    "characterisation_of",
    "hand_test_of",
    "identity_of",
    "measurement_of",
    "settings_text",
]

_LOT_KEY, _NOTE_KEY = "lot", "note"


@dataclass(frozen=True, slots=True)
class ByHand:
    """A hand test as it is entered; quantities that were not measured are left out."""

    conditions: Conditions
    section: str | None = None
    note: str | None = None


def by_hand_of(values: Mapping[str, str], section: str | None, note: str | None) -> ByHand | str:
    """Return a hand test of what a person wrote, by the keys of a file's metadata.

    Where something cannot be understood, the reason is returned in its place.
    """
    conditions, remarks = read_conditions(values)
    if remarks:
        return remarks[0].text
    if conditions == Conditions():
        return "nothing was tested"
    return ByHand(conditions, section, note)


def settings_text(
    settings: Settings, request: Request, reading: ReadingChoices = NOTHING_CHOSEN
) -> str:
    """Return how tubes were read and judged, with bench, corrections, limits, as JSON; SI units."""
    limits = settings.limits
    return _json(
        {
            "type": settings.type_name,
            "reference": settings.reference,
            "at": settings.at,
            "predict": settings.predict,
            "answers": request.answers,
            "reading": stored_choices(reading),
            "corrections": [asdict(item) for item in request.corrections],
            "bench": asdict(settings.bench),
            "limits": {item.name: getattr(limits, item.name).printed for item in fields(limits)},
        }
    )


def identity_of(assessment: Assessment, labels: TubeIdentity) -> TubeIdentity:
    """Return which tube was swept: what its file says, under what a person says of the lot."""
    sweep = assessment.sweep
    return replace(
        labels,
        serial=plain(sweep.tube),
        lot=plain(labels.lot or value_of(sweep.metadata, _LOT_KEY) or ""),
        type_label=_words(labels.type_label or sweep.type_label),
        maker_mark=_words(labels.maker_mark),
        box=_words(labels.box),
        shelf=_words(labels.shelf),
        supplier=_words(labels.supplier),
        note=_words(labels.note or value_of(sweep.metadata, _NOTE_KEY)),
    )


def measurement_of(assessment: Assessment, settings: str, made_at: datetime) -> Measurement:
    """Return a sweep or log with its first judging."""
    sweep = assessment.sweep
    return Measurement(
        named=plain(sweep.tube),
        section=_words(sweep.section),
        kind=sweep.kind,
        sha256=sweep.source.sha256,
        characterisations=(characterisation_of(assessment, settings, made_at),),
        set_up=None if assessment.set_up is None else assessment.set_up.value,
    )


def characterisation_of(
    assessment: Assessment, settings: str, made_at: datetime
) -> Characterisation:
    """Return a judging; its columns are read from the very document that is kept."""
    document = _json(result_entry(assessment))
    return Characterisation(
        made_at=made_at,
        made_with=f"curvelab {__version__}",
        bench=plain(assessment.bench.name),
        settings=settings,
        figures=figures_of_result(document),
        document=document,
        curves=sample_curves(assessment.fit),
    )


def hand_test_of(
    entered: ByHand, limits: HouseLimits, tube_type: TubeType | None, made_at: datetime
) -> HandTest:
    """Return a hand test with what it says against the tube."""
    findings = judge_hand_test(entered.conditions, limits, tube_type)
    return HandTest(
        made_at=made_at,
        section=entered.section,
        conditions=entered.conditions,
        note=entered.note,
        findings=tuple(FindingMark(item.code.value, item.severity.value) for item in findings),
        verdict=Verdict.of(findings),
        document=_json({"findings": [finding_entry(item) for item in findings]}),
    )


def _json(value: object) -> str:
    text = json.dumps(value, allow_nan=False, ensure_ascii=False)
    return text.encode("utf-8", "replace").decode("utf-8")


def _words(text: str | None) -> str | None:
    return None if text is None else plain(text)
