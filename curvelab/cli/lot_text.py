"""What a batch says on a terminal: a table, then what was found, a sentence each."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import replace

from curvelab.assessment.connection import OTHERWISE_CONNECTED, TIED_TO_PLATE
from curvelab.assessment.records import Assessment, Prediction
from curvelab.cli.table import Cell, table_text
from curvelab.fitting.records import Constant
from curvelab.quantities import MILLIAMPERE, Quantity, Unit, format_number, format_uncertain
from curvelab.sheets.document import finding_lines
from curvelab.sheets.facts import screen_text
from curvelab.sheets.reference_used import judged_type, reference_used
from curvelab.sheets.set_up_words import SET_UP_WORDS
from curvelab.sheets.tables import CONSTANT_QUANTITIES, drift_table
from curvelab.sheets.text import plain, volts
from curvelab.sheets.wording import CAUTIONS
from curvelab.sweep.records import Sweep, SweepKind
from curvelab.workbench.characterize import Batch

__all__ = ["lot_text", "tube_cell"]

_NONE: Cell = ("-",)
_WIDEST_SENTENCE = 100


def lot_text(batch: Batch, width: int) -> str:
    """Return the constants, findings and verdicts of a batch, for ``width`` columns."""
    if not batch.assessments:
        return "No tube could be read.\n"
    measure = min(width, _WIDEST_SENTENCE)
    sections = (
        table_text(list(_rows(batch.assessments)), width),
        _remarks_text(batch.assessments, measure),
        _predictions_text(batch.assessments, width),
        "".join(_wrapped(line, measure, "") for line in _reference_lines(batch.assessments)),
        "".join(_wrapped(line, measure, "") for line in CAUTIONS),
    )
    return "\n".join(section for section in sections if section)


def _rows(assessments: Iterable[Assessment]) -> Iterator[list[Cell]]:
    yield [
        ("tube",),
        ("type",),
        ("Vp,", "Vg (V)"),
        *(
            (f"{quantity.symbol}{_in_brackets(quantity.unit)}",)
            for _, quantity in CONSTANT_QUANTITIES
        ),
        ("verdict",),
    ]
    for assessment in assessments:
        yield [
            _tube_cell(assessment),
            _type_cell(assessment),
            _point_cell(assessment),
            *(_constant_cell(assessment, name, quantity) for name, quantity in CONSTANT_QUANTITIES),
            (assessment.verdict.value,),
        ]


def _in_brackets(unit: Unit) -> str:
    return f" ({unit.symbol})" if unit.symbol else ""


def tube_cell(sweep: Sweep) -> Cell:
    """Return the name of a tube, its section and whether it is a log, as parts of a cell."""
    lines = [plain(sweep.tube)]
    if sweep.section is not None:
        lines.append(f"section {plain(sweep.section)}")
    if sweep.kind is SweepKind.DRIFT_LOG:
        lines.append("log")
    return tuple(lines)


def _tube_cell(assessment: Assessment) -> Cell:
    lines = [*tube_cell(assessment.sweep)]
    if assessment.set_up is not None:
        lines.append(SET_UP_WORDS[assessment.set_up])
    return tuple(lines)


def _type_cell(assessment: Assessment) -> Cell:
    name = plain(judged_type(assessment) or "unknown")
    used = reference_used(assessment)
    if used is not None and used.why in ("stand-in", "own curves"):
        own = "own curves of " if used.why == "own curves" else ""
        return (name, f"by {own}{used.type_name}")
    return (name,)


def _point_cell(assessment: Assessment) -> Cell:
    point = assessment.operating_point
    if point is None:
        return _NONE
    at = (f"{volts(point.plate_voltage)},", volts(point.grid_voltage))
    if point.screen_voltage is None:
        return at
    return (at[0], f"{at[1]},", f"screen {volts(point.screen_voltage)}")


def _constant_cell(assessment: Assessment, name: str, quantity: Quantity) -> Cell:
    """Return value, uncertainty and percent of bogey as far as there are any."""
    constant: Constant = getattr(assessment.constants, name)
    if constant.value is None:
        return _NONE
    bare_unit = Unit("", quantity.unit.si)
    value, _, u95 = format_uncertain(constant.value, constant.u95, bare_unit).partition(" ± ")
    cell = (value, f"± {u95}") if u95 else (value,)
    of_bogey = assessment.comparison.of_bogey if assessment.comparison else {}
    return (*cell, f"{100 * of_bogey[name]:.0f} %") if name in of_bogey else cell


def _remarks_text(assessments: Iterable[Assessment], width: int) -> str:
    """Return what there is to say of each tube, in sentences."""
    text = ""
    for assessment in assessments:
        lines = [*_drift_lines(assessment), *_finding_texts(assessment), *_missing(assessment)]
        if screen := screen_text(assessment.screen):
            lines.append(f"screen: {screen}")
        if TIED_TO_PLATE in assessment.sweep.remarks:
            lines.append(TIED_TO_PLATE.text)
        if lines:
            heading = f"{plain(assessment.sweep.title)}: {assessment.verdict.value}\n"
            text += heading + "".join(_wrapped(line, width, "  ") for line in lines)
    return text


def _drift_lines(assessment: Assessment) -> Iterator[str]:
    if assessment.drift is not None:
        rows = (row.cells for row in drift_table(assessment.drift).rows)
        yield "log at fixed bias: " + "; ".join(" ".join(cells) for cells in rows)


def _finding_texts(assessment: Assessment) -> Iterator[str]:
    for line in finding_lines(assessment.findings):
        figure = f" [{line.figure}]" if line.figure else ""
        yield f"{line.severity.value}, {line.code}: {line.sentence}{figure}"


def _missing(assessment: Assessment) -> Iterator[str]:
    """Yield why there is no value, constants that lack one for the same reason together.

    What a finding says already is not said again.
    """
    if assessment.drift is not None:
        return
    said = assessment.findings
    symbols: dict[str, list[str]] = {}
    for name, quantity in CONSTANT_QUANTITIES:
        constant: Constant = getattr(assessment.constants, name)
        if constant.value is None:
            if constant.reason and any(constant.reason in item.evidence for item in said):
                continue
            why = constant.outcome.value
            if constant.reason:
                why += f": {plain(constant.reason)}"
            symbols.setdefault(why, []).append(quantity.symbol)
    for why, names in symbols.items():
        yield f"no {', '.join(names)}: {why}"


def _predictions_text(assessments: Iterable[Assessment], width: int) -> str:
    found = [(item, own) for item in assessments for own in item.predictions]
    if not found:
        return ""
    with_screen = any(own.screen_voltage is not None for _, own in found)
    heads = ["predicted", "Vp (V)", "Vg (V)", *(["Vs (V)"] if with_screen else []), "Ip (mA)", ""]
    rows: list[list[Cell]] = [[(head,) for head in heads]]
    for assessment, own in found:
        screen = "" if own.screen_voltage is None else volts(own.screen_voltage)
        rows.append(
            [
                (plain(assessment.sweep.title),),
                (volts(own.plate_voltage),),
                (volts(own.grid_voltage),),
                *([(screen,)] if with_screen else []),
                (_predicted(own),),
                (_backing(own),),
            ]
        )
    return table_text(rows, width)


def _predicted(own: Prediction) -> str:
    if own.plate_current is None:
        return "none"
    if own.u95 is None:
        return format_number(MILLIAMPERE.from_si(own.plate_current), 4)
    return format_uncertain(own.plate_current, own.u95, replace(MILLIAMPERE, symbol=""))


def _backing(own: Prediction) -> str:
    if own.plate_current is None:
        return "no family to predict from"
    if not own.extrapolated:
        return ""
    return "extrapolated" if own.u95 is not None else "extrapolated, how far off is not known"


def _reference_lines(assessments: tuple[Assessment, ...]) -> Iterator[str]:
    """Yield what the reader must know of the families compared with."""
    families = {item.reference.type_name: item.reference for item in assessments if item.reference}
    if families:
        yield "% is of the reference family at the same point; ± is at 95 %."
    if any(OTHERWISE_CONNECTED in item.notes for item in assessments):
        yield OTHERWISE_CONNECTED
    memory = sorted(name for name, family in families.items() if family.from_memory)
    unknown = dict.fromkeys(
        plain(item.sweep.type_label)
        for item in assessments
        if item.tube_type is None and item.sweep.type_label is not None
    )
    if unknown:
        names = ", ".join(unknown)
        yield f"Not in the library, so judged without ratings or printed limits: {names}."
    if memory:
        yield f"Reference families that rest on figures from memory: {', '.join(memory)}."


def _wrapped(text: str, width: int, indent: str) -> str:
    lines = textwrap.wrap(
        text, width, initial_indent=indent, subsequent_indent=2 * indent, break_long_words=False
    )
    return "".join(f"{line}\n" for line in lines)
