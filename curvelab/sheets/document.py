"""One page about one tube: everything it says, before anything is painted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date as Date  # noqa: N812 - ``date`` is the page's own word
from types import MappingProxyType

from curvelab.assessment.records import Assessment
from curvelab.catalog.records import Overrule
from curvelab.health.records import Finding, Severity, Verdict
from curvelab.sheets.facts import Fact, facts_of
from curvelab.sheets.picture import picture_of
from curvelab.sheets.plot_records import CurvePicture, Shape
from curvelab.sheets.reference_used import judged_type, reference_used
from curvelab.sheets.tables import (
    CONSTANT_QUANTITIES,
    ConstantQuantities,
    Table,
    constants_table,
    drift_table,
    point_text,
    set_point_text,
)
from curvelab.sheets.text import decimals_of, finite, plain, printed_unit, trimmed
from curvelab.sheets.wording import CAUTIONS, NOT_SAID, SET_BY_PERSON, VERDICT_MEANING
from curvelab.sweep.records import SweepKind

__all__ = ["FindingLine", "SheetDocument", "finding_lines", "sheet_document"]

_WORST_FIRST = (Severity.REJECT, Severity.CAUTION, Severity.NOTE)


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A finding in words.

    Attributes
    ----------
    figure : str
        Value, limit and where the limit comes from; empty where there is no value.
    shape : Shape or None
        The marker of its readings in the picture.
    position : int
        Where it stands among the assessment's findings.
    """

    severity: Severity
    code: str
    sentence: str
    figure: str
    shape: Shape | None
    position: int


@dataclass(frozen=True, slots=True, eq=False)
class SheetDocument:
    """Text and numbers of one page, ready to paint.

    Attributes
    ----------
    kind : str
        What sort of sheet it is.
    title, type_line : str
        The tube with its section; its type as judged, as labelled, and any stand-in.
    verdict, verdict_meaning : Verdict, str
        The word, and what it means.
    table_title : str
        What the table holds: the constants at a point, or the log at fixed bias.
    overruled : str
        Who set the verdict in place of which and why; empty where it is the measured one.
    """

    kind: str
    title: str
    type_line: str
    verdict: Verdict
    verdict_meaning: str
    table_title: str
    table: Table
    picture: CurvePicture
    findings: tuple[FindingLine, ...]
    facts: tuple[Fact, ...]
    cautions: tuple[str, ...]
    not_said: str
    source_name: str
    sha256: str
    made_with: str
    date: str
    overruled: str = ""


def sheet_document(  # noqa: PLR0913 - what is said of one tube, each part on its own
    assessment: Assessment,
    *,
    made_with: str,
    date: Date,
    quantities: ConstantQuantities = CONSTANT_QUANTITIES,
    overrule: Overrule | None = None,
    picture: CurvePicture | None = None,
) -> SheetDocument:
    """Return what the sheet of one tube says.

    Parameters
    ----------
    made_with : str
        Program and version.
    date : datetime.date
        The day the sheet is made; the caller owns the clock.
    quantities : tuple of (str, Quantity)
        The constants with the units to print them in.
    overrule : Overrule or None
        The verdict that a person set in place of the measured one.
    picture : CurvePicture or None
        That of the tube's curves, where it has been made already.
    """
    sweep, picture = assessment.sweep, picture or picture_of(assessment)
    log = sweep.kind is SweepKind.DRIFT_LOG
    point = point_text(assessment.operating_point)
    if assessment.drift is not None:
        table = drift_table(assessment.drift)
        table_title = f"The log at {set_point_text(sweep, assessment.drift)}"
    else:
        table, table_title = constants_table(assessment, quantities), f"Constants at {point}"
        if assessment.operating_point is None:
            table_title = "Constants"
    return SheetDocument(
        kind="Drift log of one tube" if log else "Measured curves of one tube",
        title=plain(sweep.title),
        type_line=plain(_type_line(assessment)),
        verdict=overrule.verdict if overrule else assessment.verdict,
        verdict_meaning=SET_BY_PERSON if overrule else VERDICT_MEANING[assessment.verdict],
        overruled=_overruled(assessment, overrule),
        table_title=table_title,
        table=table,
        picture=picture,
        findings=finding_lines(
            assessment.findings, {mark.finding: mark.shape for mark in picture.marks}
        ),
        facts=_facts(assessment, overrule),
        cautions=CAUTIONS,
        not_said=NOT_SAID,
        source_name=plain(sweep.source.name),
        sha256=sweep.source.sha256,
        made_with=made_with,
        date=date.isoformat(),
    )


def _facts(assessment: Assessment, overrule: Overrule | None) -> tuple[Fact, ...]:
    """Return the facts, a verdict set by a person first: the page may lack room for the last."""
    facts = facts_of(assessment)
    if overrule is None:
        return facts
    return (Fact("verdict", _overruled(assessment, overrule)), *facts)


def _overruled(assessment: Assessment, overrule: Overrule | None) -> str:
    if overrule is None:
        return ""
    return plain(
        f"{overrule.verdict.value} set by {overrule.person} on "
        f"{overrule.made_at.date().isoformat()} in place of {assessment.verdict.value}: "
        f"{overrule.reason}"
    )


def _type_line(assessment: Assessment) -> str:
    judged, label = judged_type(assessment), assessment.sweep.type_label
    if assessment.tube_type is not None:
        parts = [f"judged as {judged}"]
        if label is None:
            parts.append("the file names no type")
        elif label != judged:
            parts.append(f"labelled {label}")
    elif label is None:
        parts = ["type unknown, the file names none: no ratings or printed limits apply"]
    else:
        parts = [
            f"labelled {label}, which the library does not hold: no ratings or printed limits apply"
        ]
    used = reference_used(assessment)
    if used is not None and used.why == "stand-in":
        parts.append(f"compared with the family of {used.type_name} as a stand-in")
    elif used is not None and used.why == "own curves":
        parts.append(f"compared with the user's own curves of {used.type_name}")
    return ", ".join(parts)


def finding_lines(
    findings: tuple[Finding, ...], shapes: Mapping[int, Shape] = MappingProxyType({})
) -> tuple[FindingLine, ...]:
    """Return the findings, worst first, otherwise in their own order.

    Parameters
    ----------
    shapes : mapping of int to Shape
        The marker in the picture of a finding's readings, by the finding's position.
    """
    lines = [
        FindingLine(
            severity=finding.severity,
            code=finding.code.value,
            sentence=plain(finding.evidence),
            figure=plain(_figure(finding)),
            shape=shapes.get(position),
            position=position,
        )
        for position, finding in enumerate(findings)
    ]
    return tuple(sorted(lines, key=lambda line: _WORST_FIRST.index(line.severity)))


def _figure(finding: Finding) -> str:
    """Return ``6.2 ± 0.4 µA, limit 1.0 µA (source)`` as far as it is known."""
    unit, parts = printed_unit(finding.unit), []
    value, u95, limit = finite(finding.value), finite(finding.u95), finite(finding.limit)
    if value is not None and u95 is not None and u95 > 0:
        decimals = decimals_of(u95)
        parts.append(f"{value:.{decimals}f} ± {u95:.{decimals}f}{unit}")
    elif value is not None:
        parts.append(f"{trimmed(value)}{unit}")
    if limit is not None:
        parts.append(f"limit {trimmed(limit)}{unit}")
    if not parts:
        return ""
    source = f" ({finding.limit_source})" if finding.limit_source else ""
    return ", ".join(parts) + source
