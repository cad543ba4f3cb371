"""Use case: grades for tubes that have been characterised."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from curvelab.assessment.records import Assessment
from curvelab.errors import GradeRulesError
from curvelab.grading.grade import Grade, grade
from curvelab.grading.rules import GradeRules, read_grade_rules
from curvelab.paths import resource_folder
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.user_files import own_or_shipped

__all__ = ["RULES_FILE", "grade_tubes", "load_grade_rules"]

RULES_FILE = "grades.toml"


def load_grade_rules(path: Path | None = None) -> GradeRules:
    """Return the rules of a file, else of the user's own file, else the shipped ones.

    Raises
    ------
    GradeRulesError
        If the file cannot be read; a faulty file of the user's is never passed over in
        silence.
    """
    chosen = path or own_or_shipped(RULES_FILE)
    try:
        content = chosen.read_bytes()
    except OSError as error:
        raise GradeRulesError(f"{chosen}: {error.strerror or 'cannot be opened'}") from error
    shipped = chosen == resource_folder() / RULES_FILE
    return read_grade_rules(content, RULES_FILE if shipped else str(chosen))


def grade_tubes(
    assessments: Iterable[Assessment], rules: GradeRules, bench: Path | None = None
) -> tuple[Grade, ...]:
    """Return the grade of each assessment, in their order.

    Parameters
    ----------
    bench : Path or None
        The bench description that the assessments were made with.

    Raises
    ------
    BenchDescriptionError
        If the bench description cannot be read.
    """
    meters = load_description(bench).bench
    return tuple(grade(assessment, rules, meters) for assessment in assessments)
