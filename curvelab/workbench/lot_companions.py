"""New sweeps of tubes that a lot file holds already, judged beside what it holds of them.

The sections of a dual tube may be swept on different days, and a test with a resistor in the
grid lead or with the heater turned down may follow the usual sweep later. They are compared as
if they had come together, and what is then found on the stored sweep enters its history.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace

from curvelab.assessment.assess import Settings, assess
from curvelab.assessment.records import Assessment
from curvelab.assessment.set_ups import partners
from curvelab.catalog.listing import standing_tube
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import StoredResult, TubeIdentity
from curvelab.catalog.results import (
    StoredTest,
    documents,
    settings_used,
    stored_sources,
    tests_beside,
)
from curvelab.catalog.tubes import AmbiguousTube, key_of
from curvelab.errors import CurvelabError
from curvelab.health.records import Finding
from curvelab.sheets.results_reader import findings_of_document
from curvelab.sheets.text import plain
from curvelab.sweep.records import SourceFile, SweepKind
from curvelab.workbench.characterize import Request, characterize, settings_of
from curvelab.workbench.lot_records import identity_of
from curvelab.workbench.stored_settings import request_of_settings
from curvelab.workbench.type_library import current_families

__all__ = ["JudgedAgain", "beside_the_stored"]


@dataclass(frozen=True, slots=True, eq=False)
class JudgedAgain:
    """A stored sweep on which something else is found beside the new ones of its tube.

    Attributes
    ----------
    settings : str
        How it is judged, as it was filed.
    """

    source: SourceFile
    assessment: Assessment
    settings: str


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """A usual or a changed sweep of a tube, and how it is judged."""

    assessment: Assessment
    settings: Settings


@dataclass(frozen=True, slots=True, eq=False)
class _Stored(_Side):
    """A sweep that the lot file holds; ``found`` is what its newest judging found."""

    source: SourceFile
    text: str
    found: tuple[Finding, ...]


def beside_the_stored(
    opened: LotFile, judged: Sequence[tuple[Assessment, Request]], labels: TubeIdentity
) -> tuple[tuple[Assessment, ...], tuple[JudgedAgain, ...]]:
    """Return the new assessments beside what is stored, and the stored ones that changed.

    Parameters
    ----------
    judged : sequence of (Assessment, Request)
        What is about to be filed, each with how it was judged.
    labels : TubeIdentity
        What a person says of all of them, the lot among it.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    found = [assessment for assessment, _ in judged]
    here = {assessment.sweep.source.sha256 for assessment in found}
    again: list[JudgedAgain] = []
    for key, places in _known_tubes(opened, found, labels).items():
        new = [_Side(found[place], settings_of(judged[place][1])) for place in places]
        usual = [r for r in standing_tube(opened, key).results if r.kind is SweepKind.CURVES]
        stored = _useful(new, list(_loaded(opened, usual, here)))
        known = {result.sha256 for result in usual} & here
        tests = list(_loaded(opened, tests_beside(opened, key), here)) if stored or known else []
        if not stored and not tests:
            continue
        for place, side in zip(places, new, strict=True):
            own = tests if side.assessment.sweep.source.sha256 in known else ()
            found[place] = _beside(side, [*new, *stored, *own])
        again += _changed(stored, [*new, *stored, *tests])
    return tuple(found), tuple(again)


def _known_tubes(
    opened: LotFile, found: Sequence[Assessment], labels: TubeIdentity
) -> dict[int, list[int]]:
    """Return places of sweeps by the key of their tube, of those tubes that are in the file."""
    tubes: defaultdict[int, list[int]] = defaultdict(list)
    for place, assessment in enumerate(found):
        if assessment.sweep.kind is not SweepKind.CURVES:
            continue
        identity = identity_of(assessment, labels)
        try:
            key = key_of(opened.connection, identity.serial, identity.lot or None)
        except AmbiguousTube:  # said when it is filed
            continue
        if key is not None:
            tubes[key].append(place)
    return tubes


def _loaded(
    opened: LotFile, filed: Sequence[StoredResult | StoredTest], here: Container[str]
) -> Iterator[_Stored]:
    """Yield stored sweeps judged as they were filed; what can no longer be is left out.

    Those of files that are judged now (``here``, by SHA-256) are left out too.
    """
    results = [result for result in filed if result.sha256 not in here]
    keys = [result.key for result in results]
    texts, kept = settings_used(opened, keys), documents(opened, keys)
    for result in results:
        try:
            (source,) = stored_sources(opened, [result.sha256])
            own = request_of_settings(texts[result.key])
            batch = characterize(replace(own, sources=(source,), workers=1))
            settings = settings_of(own)
        except (CurvelabError, ValueError):  # lost bytes, or a form that is no longer known
            continue
        for assessment in batch.assessments:
            sweep = assessment.sweep
            section = None if sweep.section is None else plain(sweep.section)
            if sweep.kind is SweepKind.CURVES and (plain(sweep.tube), section) == (
                result.named, result.section,
            ):  # fmt: skip
                was = findings_of_document(kept[result.key])
                yield _Stored(assessment, settings, source, texts[result.key], was)
                break


def _useful(new: Sequence[_Side], stored: Sequence[_Stored]) -> list[_Stored]:
    """Return what is stored of another section, or under another set-up of the same one.

    A new sweep of a section takes the place of the stored one, unless it tests it.
    """
    useful = []
    for one in stored:
        section = one.assessment.sweep.section
        same = [side for side in new if side.assessment.sweep.section == section]
        if same:
            if any(partners([one.assessment.sweep, side.assessment.sweep]) for side in same):
                useful.append(one)
        elif section is not None:
            useful.append(one)
    return useful


def _beside(side: _Side, every: Sequence[_Side]) -> Assessment:
    others = [
        (other.assessment.sweep, other.settings)
        for other in every
        if other.assessment.sweep is not side.assessment.sweep
    ]
    (judged,) = assess([side.assessment.sweep], current_families(), side.settings, others)
    return judged


def _changed(stored: Sequence[_Stored], every: Sequence[_Side]) -> Iterator[JudgedAgain]:
    """Yield the stored sweeps that are usual ones and on which something else is found now."""
    for one in stored:
        assessment = _beside(one, every)
        if assessment.set_up is None and _words(assessment.findings) != _words(one.found):
            yield JudgedAgain(one.source, assessment, one.text)


def _words(findings: Sequence[Finding]) -> list[tuple[str, str, str]]:
    return [(item.code.value, item.severity.value, plain(item.evidence)) for item in findings]
