"""One tube, one grade, and the reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from curvelab.assessment.records import Assessment
from curvelab.grading.bounds import Bound, Keeping, NotMeasured, bounds_of
from curvelab.grading.rules import GRADED, GradeRules
from curvelab.health.records import Severity, Verdict
from curvelab.sweep.bench import UNSTATED_BENCH, Bench

__all__ = ["Grade", "grade", "worst"]


@dataclass(frozen=True, slots=True)
class Grade:
    """What a tube is called, and why.

    Attributes
    ----------
    decided : bool
        False where the word only says that nothing could be decided.
    reasons : tuple of str
        Plain sentences; never empty.
    bounds : tuple of Bound
        Every limit that was asked, of every grade.
    rules : str
        Name, edition and mark of the rules.
    rank : int
        Place of the word among those of the rules, 0 for the best.
    """

    word: str
    meaning: str
    decided: bool
    reasons: tuple[str, ...]
    bounds: tuple[Bound, ...]
    rules: str
    rank: int = 0


def grade(assessment: Assessment, rules: GradeRules, bench: Bench = UNSTATED_BENCH) -> Grade:
    """Return the grade of a tube, or of one section of it.

    Parameters
    ----------
    bench : Bench
        The one that the assessment was made with, for figures at a printed condition.
    """
    asked = [list(bounds_of(assessment, rules, rule, bench)) for rule in rules.grades]
    bounds = tuple(item for each in asked for item in each if isinstance(item, Bound))
    lacking = {
        item.quantity: item for each in asked for item in each if isinstance(item, NotMeasured)
    }
    words = rules.words

    def called(word: str, meaning: str, reasons: Iterable[str], decided: bool = True) -> Grade:
        rank = rules.order.index(word)
        return Grade(word, meaning, decided, tuple(reasons), bounds, rules.title, rank)

    if assessment.verdict is Verdict.REJECT:
        reasons = _finding_reasons(assessment, Severity.REJECT)
        return called(words.barred, "a finding rejects it", reasons)
    if lacking:
        reasons = [f"No {GRADED[item.quantity]}: {item.reason}." for item in lacking.values()]
        return called(words.none, "what the grade needs was not measured", reasons, False)
    by_grade = [[b for b in bounds if b.grade == rule.word] for rule in rules.grades]
    met = [_met(by_grade, at) for at in range(len(by_grade))]
    if not any(met):
        return called(*_outside(by_grade[-1], rules))
    at = met.index(True)
    reasons = [*_why_not_better(by_grade, at), *_why(by_grade[at])]
    best = [rule.word for rule in rules.grades].index(rules.hold_at_best)
    if assessment.verdict is Verdict.HOLD:
        reasons = [*_finding_reasons(assessment, Severity.CAUTION), *reasons]
        if at < best:
            figures = rules.grades[at].word
            reasons.insert(0, f"By its figures {figures}; on hold {rules.hold_at_best} at best.")
            at = best
    rule = rules.grades[at]
    return called(rule.word, rule.meaning, reasons)


def worst(grades: Sequence[Grade], rules: GradeRules) -> Grade:
    """Return the worst of the grades of a tube's sections, which is the tube's.

    Raises
    ------
    ValueError
        If there are none, or one was given under other rules.
    """
    return max(grades, key=lambda item: rules.order.index(item.word))


def _met(by_grade: Sequence[Sequence[Bound]], at: int) -> bool:
    """Tell whether a tube keeps a grade's own limits, and the printed ones of those below it.

    A printed end of life is often above what a percentage would still let pass.
    """
    floors = [bound for each in by_grade[at + 1 :] for bound in each if bound.printed]
    return all(bound.keeping is Keeping.KEEPS for bound in (*by_grade[at], *floors))


def _outside(last: Sequence[Bound], rules: GradeRules) -> tuple[str, str, list[str], bool]:
    """Return word, meaning, reasons and whether it is decided, for a tube without a grade."""
    words = rules.words
    missed = [bound for bound in last if bound.keeping is Keeping.MISSES]
    low = [bound for bound in missed if bound.side == "low"]
    if low:
        reasons = [f"Below the last grade: {bound.words}." for bound in low]
        return words.below, "below the last grade", reasons, True
    if missed:
        reasons = [f"Above the last grade: {bound.words}." for bound in missed]
        return words.above, "above the last grade", reasons, True
    straddling = [bound for bound in last if bound.keeping is Keeping.STRADDLES]
    reasons = [
        f"Its uncertainty straddles a limit of {bound.grade}: {bound.words}. Measure it again, "
        "with more readings near the point."
        for bound in straddling
    ]
    return words.undecided, "the uncertainty straddles the last limit", reasons, False


def _why_not_better(by_grade: Sequence[Sequence[Bound]], at: int) -> list[str]:
    """Return why it is none of the better grades, straddled limits said as such."""
    reasons = []
    for bound in (bound for each in by_grade[:at] for bound in each):
        if bound.keeping is Keeping.MISSES:
            reasons.append(f"Not {bound.grade}: {bound.words}.")
        elif bound.keeping is Keeping.STRADDLES:
            reasons.append(
                f"Graded down from {bound.grade}, as its uncertainty straddles the limit: "
                f"{bound.words}."
            )
    return reasons


def _why(bounds: Sequence[Bound]) -> list[str]:
    """Return one sentence for each quantity and source: both sides of a band together."""
    together: dict[tuple[str, str], list[Bound]] = {}
    for bound in bounds:
        together.setdefault((bound.quantity, bound.source), []).append(bound)
    sentences = []
    for (_, source), each in together.items():
        if len(each) == 1:
            sentences.append(f"Keeps {each[0].grade}: {each[0].words}.")
            continue
        low, high = sorted(bound.limit for bound in each)
        wanted = f"wanted {low:.4g} to {high:.4g} ({source})"
        sentences.append(f"Keeps {each[0].grade}: {each[0].measured}, {wanted}.")
    return sentences


def _finding_reasons(assessment: Assessment, severity: Severity) -> list[str]:
    return [
        f"{item.code.value}, {severity.value}: {item.evidence}"
        for item in assessment.findings
        if item.severity is severity
    ]
