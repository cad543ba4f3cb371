"""What the list of tubes says of each, column by column."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from curvelab.fitting.records import Constant
from curvelab.health.records import Finding, Severity, Verdict
from curvelab.quantities import Quantity, format_number, format_uncertain
from curvelab.sheets.reference_used import judged_type, reference_used
from curvelab.sheets.tables import ConstantQuantities
from curvelab.sheets.text import decimals_of, finite, plain
from curvelab.window.record_table import Column
from curvelab.window.theme import Colours
from curvelab.workbench.session import Entry

__all__ = ["tube_columns", "worst_finding"]

_NONE = "–"
_VERDICT_ORDER = (Verdict.REJECT, Verdict.HOLD, Verdict.ACCEPT)
_SEVERITY_ORDER = (Severity.REJECT, Severity.CAUTION, Severity.NOTE)
_LEAST_SHOWN = 0.001  # in the unit of the column; what is less is nothing at the bench
_LAST = float("inf")  # what has no value stands after all that have one


def _tr(text: str) -> str:
    """Return a text of the list in the user's language."""
    return QCoreApplication.translate("tube list", text)


def tube_columns(quantities: ConstantQuantities, colours: Colours) -> list[Column[Entry]]:
    """Return the columns, with the constants in the units asked for.

    Verdict and constants come first, so that a small screen shows them without scrolling.
    """
    return [
        Column(_tr("tube"), _title, tip=_file, bold=True),
        Column(
            _tr("verdict"),
            lambda entry: entry.assessment.verdict.value,
            sort=lambda entry: _VERDICT_ORDER.index(entry.assessment.verdict),
            tip=_findings_tip,
            ink=lambda entry: colours.of_verdict(entry.assessment.verdict),
            bold=True,
        ),
        *(_constant_column(name, quantity) for name, quantity in quantities),
        Column(
            _tr("bogey\n(%)"),
            lambda entry: _bogey_text(entry, "plate_current"),
            sort=lambda entry: _of_bogey(entry, "plate_current"),
            tip=lambda entry: _bogey_tip(entry, quantities),
            number=True,
            explained=_tr("plate current in percent of the reference family's at the same point"),
        ),
        Column(_tr("worst finding"), _worst_text, sort=_worst_order, tip=_findings_tip),
        Column(_tr("type"), _type, tip=_type_tip),
    ]


def worst_finding(entry: Entry) -> Finding | None:
    """Return the finding that weighs most, the first of several."""
    findings = entry.assessment.findings
    return min(findings, key=lambda one: _SEVERITY_ORDER.index(one.severity), default=None)


def _constant_column(name: str, quantity: Quantity) -> Column[Entry]:
    unit = f"\n({quantity.unit.symbol})" if quantity.unit.symbol else ""

    def constant(entry: Entry) -> Constant:
        found: Constant = getattr(entry.assessment.constants, name)
        return found

    return Column(
        quantity.symbol + unit,
        lambda entry: _value_text(constant(entry), quantity),
        sort=lambda entry: _sortable(finite(constant(entry).value)),
        tip=lambda entry: _constant_tip(constant(entry), quantity),
        number=True,
        explained=quantity.axis_label,
    )


def _value_text(constant: Constant, quantity: Quantity) -> str:
    """Return the value with no more decimals than its uncertainty allows, at most four figures."""
    value = finite(constant.value)
    if value is None:
        return _NONE
    shown, u95 = quantity.unit.from_si(value), finite(constant.u95)
    if 0 < shown < _LEAST_SHOWN:
        return f"<{_LEAST_SHOWN}"
    text = format_number(shown, 4)
    if u95 is None or u95 <= 0:
        return text
    decimals = min(decimals_of(quantity.unit.from_si(u95)), len(text.partition(".")[2]))
    return f"{shown:.{decimals}f}"


def _constant_tip(constant: Constant, quantity: Quantity) -> str:
    value = finite(constant.value)
    if value is None:
        reason = f": {constant.reason}" if constant.reason else ""
        return plain(f"{quantity.name}: {constant.outcome.value}{reason}")
    return f"{quantity.name} {format_uncertain(value, constant.u95, quantity.unit)} (95 %)"


def _sortable(value: float | None) -> float:
    return _LAST if value is None else value


def _title(entry: Entry) -> str:
    return plain(entry.assessment.sweep.title)


def _file(entry: Entry) -> str:
    return plain(entry.assessment.sweep.source.path)


def _type(entry: Entry) -> str:
    name = plain(judged_type(entry.assessment) or _tr("unknown"))
    used = reference_used(entry.assessment)
    stand_in = used is not None and used.why == "stand-in"
    return f"{name} ({_tr('by')} {used.type_name})" if used and stand_in else name


def _type_tip(entry: Entry) -> str:
    label = entry.assessment.sweep.type_label
    return _tr("the file names no type") if label is None else f"{_tr('labelled')} {plain(label)}"


def _of_bogey(entry: Entry, name: str) -> float:
    comparison = entry.assessment.comparison
    return _LAST if comparison is None else comparison.of_bogey.get(name, _LAST)


def _bogey_text(entry: Entry, name: str) -> str:
    share = _of_bogey(entry, name)
    return _NONE if share == _LAST else f"{100 * share:.0f}"


def _bogey_tip(entry: Entry, quantities: ConstantQuantities) -> str:
    parts = [f"{q.symbol} {_bogey_text(entry, name)} %" for name, q in quantities]
    return _tr("of the reference family's: ") + ", ".join(parts)


def _worst_text(entry: Entry) -> str:
    worst = worst_finding(entry)
    if worst is None:
        return _tr("none")
    more = len(entry.assessment.findings) - 1
    return f"{worst.code.value} +{more}" if more else worst.code.value


def _worst_order(entry: Entry) -> str:
    worst = worst_finding(entry)
    order = len(_SEVERITY_ORDER) if worst is None else _SEVERITY_ORDER.index(worst.severity)
    return f"{order} {'' if worst is None else worst.code.value}"


def _findings_tip(entry: Entry) -> str:
    lines = [f"{one.severity.value}, {one.code.value}" for one in entry.assessment.findings]
    return "\n".join(lines) or _tr("nothing found that speaks against it")
