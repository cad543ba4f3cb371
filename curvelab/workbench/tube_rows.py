"""What a table says of a tube or section: of one just judged, or as a lot file keeps it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from curvelab.catalog.records import FindingMark, Overrule, StoredResult, StoredTube
from curvelab.fitting.records import Constants
from curvelab.health.records import Severity, Verdict
from curvelab.sheets.reference_used import judged_type, reference_used
from curvelab.sheets.text import plain
from curvelab.workbench.grade_book import StandingGrade
from curvelab.workbench.session import Entry

__all__ = [
    "UNGRADED",
    "Graded",
    "HouseFacts",
    "TubeRow",
    "row_of_entry",
    "row_of_stored",
    "row_of_untested",
]

_VERDICTS = (Verdict.REJECT, Verdict.HOLD, Verdict.ACCEPT)
_WEIGHTS = {severity.value: weight for weight, severity in enumerate(Severity)}
_NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Graded:
    """The grade of a tube, or why the last grading gave it none."""

    grade: StandingGrade | None = None
    why_not: str = ""


UNGRADED = Graded()


@dataclass(frozen=True, slots=True)
class HouseFacts:
    """What only a lot file knows of a tube.

    Attributes
    ----------
    tube : int
        Key of the tube in the lot file.
    tested : date or None
        Day of the newest judging.
    grade : StandingGrade or None
        None where none is kept that still rests on what is known of the tube.
    not_graded : str
        Why the last grading gave it none, where it did not.
    """

    tube: int
    lot: str
    maker_mark: str
    box: str
    shelf: str
    note: str
    in_set: str
    tested: date | None
    grade: StandingGrade | None = None
    not_graded: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class TubeRow:
    """One line of the table. SI units.

    Attributes
    ----------
    key : int
        Of the entry; negative for what a lot file keeps.
    verdict, measured : Verdict or None
        The one that holds, and the one of the readings; None for a tube not tested.
    overrule : Overrule or None
        Why they differ.
    of_bogey : mapping of str to float
        Constant over the reference family's, by name of the constant.
    findings : tuple of FindingMark
        Worst first.
    house : HouseFacts or None
        None for a tube that is in no lot file.
    text : str
        All words of the line, to be searched.
    """

    key: int
    title: str
    file: str
    verdict: Verdict | None
    measured: Verdict | None
    overrule: Overrule | None
    constants: Constants | None
    of_bogey: Mapping[str, float]
    findings: tuple[FindingMark, ...]
    type_name: str | None
    type_label: str | None
    stand_in: str | None = None
    house: HouseFacts | None = None
    text: str = field(init=False, repr=False)

    def __post_init__(self) -> None:
        words = [self.title, self.file, self.verdict, self.type_name, self.type_label]
        words += [self.stand_in, self.overrule.person if self.overrule else None]
        words += [mark.code for mark in self.findings]
        if self.house is not None:
            house = self.house
            words += [house.lot, house.maker_mark, house.box, house.shelf, house.note]
            words += [house.in_set, house.grade.word if house.grade else None]
        text = "\n".join(word for word in words if word)
        object.__setattr__(self, "text", text.casefold())


def row_of_entry(entry: Entry, key: int | None = None, house: HouseFacts | None = None) -> TubeRow:
    """Return the line of a tube that has been judged just now.

    Parameters
    ----------
    key : int, optional
        Of the line; the entry's by default.
    house : HouseFacts, optional
        What a lot file knows of it besides.
    """
    assessment = entry.assessment
    sweep, comparison = assessment.sweep, assessment.comparison
    used = reference_used(assessment)
    return TubeRow(
        key=entry.key if key is None else key,
        title=plain(sweep.title),
        file=plain(sweep.source.name if house else sweep.source.path),
        verdict=entry.verdict,
        measured=assessment.verdict,
        overrule=entry.overrule,
        constants=assessment.constants,
        of_bogey=comparison.of_bogey if comparison else _NOTHING,
        findings=_worst_first(
            FindingMark(item.code.value, item.severity.value) for item in assessment.findings
        ),
        type_name=_words(judged_type(assessment)),
        type_label=_words(sweep.type_label),
        stand_in=used.type_name if used is not None and used.why == "stand-in" else None,
        house=house,
    )


def row_of_stored(tube: StoredTube, result: StoredResult, grade: Graded = UNGRADED) -> TubeRow:
    """Return the line of one section and kind of test of a tube in a lot file."""
    figures = result.figures
    by_hand = [test for test in tube.hand_tests if test.section in (None, result.section)]
    marks = (*figures.findings, *(mark for test in by_hand for mark in test.findings))
    measured = _worst([figures.verdict, *(test.verdict for test in by_hand)])
    section = "" if result.section is None else f" section {result.section}"
    return TubeRow(
        key=-result.key,
        title=f"{tube.identity.serial}{section}",
        file=result.file,
        verdict=tube.overrule.verdict if tube.overrule else measured,
        measured=measured,
        overrule=tube.overrule,
        constants=figures.constants,
        of_bogey=figures.of_bogey,
        findings=_worst_first(dict.fromkeys(marks)),
        type_name=figures.type_name,
        type_label=figures.type_label,
        house=_house(tube, grade, result.made_at.date()),
    )


def row_of_untested(tube: StoredTube, key: int, grade: Graded = UNGRADED) -> TubeRow:
    """Return the line of a tube of a lot file that has never been swept."""
    return TubeRow(
        key=key,
        title=tube.identity.serial,
        file="",
        verdict=tube.verdict,
        measured=tube.measured_verdict,
        overrule=tube.overrule,
        constants=None,
        of_bogey=_NOTHING,
        findings=_worst_first(tube.findings),
        type_name=None,
        type_label=tube.identity.type_label,
        house=_house(tube, grade),
    )


def _house(tube: StoredTube, graded: Graded, tested: date | None = None) -> HouseFacts:
    identity, kept_in = tube.identity, tube.set_name
    if kept_in and tube.set_state is not None:
        kept_in = f"{kept_in} ({tube.set_state.value})"
    return HouseFacts(
        tube=tube.key,
        lot=identity.lot,
        maker_mark=identity.maker_mark or "",
        box=identity.box or "",
        shelf=identity.shelf or "",
        note=identity.note or "",
        in_set=kept_in or "",
        tested=tested,
        grade=graded.grade,
        not_graded=graded.why_not,
    )


def _worst(given: Iterable[Verdict]) -> Verdict:
    return min(given, key=_VERDICTS.index)


def _worst_first(marks: Iterable[FindingMark]) -> tuple[FindingMark, ...]:
    """Return findings by weight, otherwise in their order; an unknown weight comes last."""
    found = tuple(marks)
    if len(found) < 2:
        return found
    return tuple(sorted(found, key=lambda mark: -_WEIGHTS.get(mark.severity, -1)))


def _words(text: str | None) -> str | None:
    return None if text is None else plain(text)
