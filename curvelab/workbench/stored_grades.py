"""Grades of the tubes of a lot file: their stored sweeps judged again, as they were filed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

from curvelab.assessment.records import Assessment
from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import StoredResult, StoredTube
from curvelab.catalog.results import documents, settings_used, stored_sources
from curvelab.errors import CurvelabError
from curvelab.fitting.records import Constant, Constants
from curvelab.grading.grade import Grade, grade, worst
from curvelab.grading.rules import GradeRules
from curvelab.health.records import Verdict
from curvelab.sheets.results_reader import findings_of_document
from curvelab.sweep.bench import UNSTATED_BENCH, Bench
from curvelab.sweep.records import SweepKind
from curvelab.workbench.characterize import characterize
from curvelab.workbench.grading import load_grade_rules
from curvelab.workbench.stored_settings import request_of_settings

__all__ = ["GradeGiven", "grades_of_lot"]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_SAME = 1e-6  # as a fraction: the lot file keeps ten figures
_OTHERWISE = (
    "judged again by this version its sweep gives other figures than those on file; file them "
    "with 'lot add --again' first"
)
_NOT_SWEPT = "it was not swept"


@dataclass(frozen=True, slots=True)
class GradeGiven:
    """The grade of a tube, or why it has none."""

    grade: Grade | None
    why_not: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    assessment: Assessment
    bench: Bench


def grades_of_lot(
    opened: LotFile,
    tubes: Sequence[StoredTube],
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
    rules: GradeRules | None = None,
) -> dict[int, GradeGiven]:
    """Return the grade of each tube by its key.

    A grade may need figures at a condition that the lot file does not keep, so the sweeps are
    judged again from their bytes, by the settings they were filed with. What does not come
    out as it was filed is not graded. Logs, hand tests and overruled verdicts count as they
    stand.

    Parameters
    ----------
    rules : GradeRules, optional
        Instead of the user's own or the shipped ones.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    GradeRulesError
        If the grade rules cannot be read.
    """
    rules = rules or load_grade_rules()
    swept = [r for tube in tubes for r in tube.results if r.kind is SweepKind.CURVES]
    judged: dict[tuple[str, str | None], list[_Judged]] = defaultdict(list)
    trouble: dict[str, str] = {}
    by_settings: dict[str, list[StoredResult]] = defaultdict(list)
    settings = settings_used(opened, [result.key for result in swept])
    for result in swept:
        by_settings[settings[result.key]].append(result)
    for text, results in by_settings.items():
        sources = tuple(stored_sources(opened, [result.sha256 for result in results]))
        try:
            request = replace(request_of_settings(text), sources=sources, workers=None)
            batch = characterize(request, progress, should_stop)
        except CurvelabError as error:  # a type or a form that this version no longer knows
            trouble |= {source.sha256: str(error) for source in sources}
            continue
        for item in batch.assessments:
            key = item.sweep.source.sha256, item.sweep.section
            judged[key].append(_Judged(item, request.meters or UNSTATED_BENCH))
        if batch.stopped:
            break
    kept = documents(opened, [result.key for tube in tubes for result in tube.results])
    return {tube.key: _grade_of(tube, judged, trouble, rules, kept) for tube in tubes}


def _grade_of(
    tube: StoredTube,
    judged: dict[tuple[str, str | None], list[_Judged]],
    trouble: dict[str, str],
    rules: GradeRules,
    kept: Mapping[int, str],
) -> GradeGiven:
    grades: list[Grade] = []
    for result in tube.results:
        if result.kind is not SweepKind.CURVES:
            continue
        if result.sha256 in trouble:
            return GradeGiven(None, trouble[result.sha256])
        same = next(
            (
                item
                for item in judged[result.sha256, result.section]
                if _is_same(item.assessment, result)
            ),
            None,
        )
        if same is None:
            return GradeGiven(None, _OTHERWISE)
        stands = _as_it_stands(tube, result, same.assessment, kept)
        grades.append(grade(stands, rules, same.bench))
    if not grades:
        return GradeGiven(None, _NOT_SWEPT)
    given = worst(grades, rules)
    if tube.overrule is not None:
        by_person = f"Verdict set by {tube.overrule.person}: {tube.overrule.reason}"
        given = replace(given, reasons=(by_person, *given.reasons))
    return GradeGiven(given)


def _as_it_stands(
    tube: StoredTube, result: StoredResult, assessment: Assessment, kept: Mapping[int, str]
) -> Assessment:
    """Return a judging with what the lot file holds against it, and a verdict that a person set.

    That is what was found on this sweep, beside others of its tube, and by logs and by hand.
    """
    texts = [kept[result.key]]
    texts += [kept[r.key] for r in tube.results if r.kind is SweepKind.DRIFT_LOG]
    texts += [test.document for test in tube.hand_tests]
    findings = tuple(found for text in texts for found in findings_of_document(text))
    verdict = tube.overrule.verdict if tube.overrule is not None else Verdict.of(findings)
    return replace(assessment, findings=findings, verdict=verdict)


def _is_same(assessment: Assessment, result: StoredResult) -> bool:
    if assessment.sweep.kind is not result.kind:
        return False
    for item in fields(Constants):
        now: Constant = getattr(assessment.constants, item.name)
        then: Constant = getattr(result.figures.constants, item.name)
        if (now.value is None) != (then.value is None):
            return False
        if now.value is not None and then.value is not None:
            if not math.isclose(now.value, then.value, rel_tol=_SAME):
                return False
    return True
