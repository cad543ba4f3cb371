"""Reading results back: the elements of ``curvelab.characteristics/1`` as records."""

from __future__ import annotations

from curvelab.assessment.records import OperatingPoint
from curvelab.catalog.records import Figures, FindingMark
from curvelab.errors import DocumentError
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.records import Finding, FindingCode, Severity, Verdict
from curvelab.sheets.json_fields import Fields, parsed
from curvelab.sheets.results_json import CONDITION_KEYS, CONDITION_WORDS, CONSTANT_KEYS
from curvelab.sweep.records import Conditions

__all__ = [
    "figures_of_result",
    "finding_marks",
    "findings_of_document",
    "read_conditions",
    "read_figures",
    "source_of_result",
]

_PERCENT = 0.01


def figures_of_result(document: str) -> Figures:
    """Return the figures of one tube's results.

    Parameters
    ----------
    document : str
        JSON of an element of ``tubes``.

    Raises
    ------
    DocumentError
        If it is not of that form.
    """
    return read_figures(parsed(document))


def read_figures(entry: Fields) -> Figures:
    """Return the figures of an element of ``tubes``.

    Raises
    ------
    DocumentError
        If it is not of that form.
    """
    constants = entry.table("constants")
    shares = {
        name: constants.table(key).number("of_bogey_pct", _PERCENT)
        for key, name, _ in CONSTANT_KEYS
    }
    drift = entry.values.get("drift")
    return Figures(
        type_name=entry.words("type"),
        type_label=entry.words("type_on_label"),
        operating_point=_operating_point(entry.table("operating_point")),
        constants=Constants(
            **{name: _constant(constants.table(key), unit.si) for key, name, unit in CONSTANT_KEYS}
        ),
        of_bogey={name: share for name, share in shares.items() if share is not None},
        family_deviation=entry.number("family_deviation_pct", _PERCENT),
        findings=finding_marks(entry),
        verdict=entry.word_of("verdict", Verdict),
        behaviour=None if drift is None else entry.table("drift").text("behaviour"),
    )


def finding_marks(entry: Fields) -> tuple[FindingMark, ...]:
    """Return code and severity of every element of ``findings``.

    Raises
    ------
    DocumentError
        If one of them is not a single word.
    """
    marks = tuple(
        FindingMark(item.text("code"), item.text("severity")) for item in entry.tables("findings")
    )
    for mark in marks:
        if any(len(word.split()) != 1 or ":" in word for word in (mark.code, mark.severity)):
            raise DocumentError(f"{entry.where}/findings holds a code that is no word")
    return marks


def findings_of_document(document: str) -> tuple[Finding, ...]:
    """Return the findings of a tube's results, or of a hand test, with their evidence.

    Raises
    ------
    DocumentError
        If the document is not of that form, or holds a code that this version does not know.
    """
    return tuple(_finding(item) for item in parsed(document).tables("findings"))


def source_of_result(document: str) -> tuple[str, str] | None:
    """Return name and SHA-256 of the file that a tube's results came from, or None."""
    try:
        source = parsed(document).table("source")
        return source.text("file"), source.text("sha256")
    except DocumentError:
        return None


def read_conditions(entry: Fields) -> Conditions:
    """Return ``conditions``; what an entry leaves out is not known.

    Raises
    ------
    DocumentError
        If a value has the wrong type.
    """
    words = {name: entry.words(name) for name in CONDITION_WORDS}
    numbers = {name: entry.number(key, unit) for key, name, unit in CONDITION_KEYS}
    return Conditions(**words, **numbers)  # type: ignore[arg-type]


def _operating_point(entry: Fields) -> OperatingPoint | None:
    plate, grid = entry.number("plate_v"), entry.number("grid_v")
    if plate is None or grid is None:
        return None
    return OperatingPoint(plate, grid, entry.number("screen_v"), entry.text("origin"))


def _constant(entry: Fields, unit: float) -> Constant:
    return Constant(
        value=entry.number("value", unit),
        u95=entry.number("u95", unit),
        outcome=entry.word_of("outcome", Outcome),
        reason=entry.words("reason"),
    )


def _finding(entry: Fields) -> Finding:
    rows = entry.values.get("rows") or ()
    if not all(isinstance(row, int) for row in rows):
        raise DocumentError(f"{entry.where}/rows holds what is no position")
    return Finding(
        code=entry.word_of("code", FindingCode),
        severity=entry.word_of("severity", Severity),
        evidence=entry.text("evidence"),
        value=entry.number("value"),
        u95=entry.number("u95"),
        unit=entry.words("unit"),
        limit=entry.number("limit"),
        limit_source=entry.words("limit_source"),
        readings=tuple(rows),
    )
