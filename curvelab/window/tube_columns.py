"""What the list of tubes says of each, column by column."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from curvelab.fitting.records import Constant
from curvelab.health.records import Verdict
from curvelab.quantities import Quantity, format_number, format_uncertain
from curvelab.sheets.tables import ConstantQuantities
from curvelab.sheets.text import decimals_of, finite, plain
from curvelab.window.record_table import Column
from curvelab.window.theme import Colours
from curvelab.workbench.tube_rows import HouseFacts, TubeRow

__all__ = ["USUALLY_HIDDEN", "tube_columns"]

# Columns that a person must ask for, by name.
USUALLY_HIDDEN = frozenset(
    {"grade", "gm_of_bogey", "findings", "label", "file", "lot", "mark", "box", "shelf", "set",
     "note", "tested"}
)  # fmt: skip

_NONE = "–"
_VERDICT_ORDER = (Verdict.REJECT, Verdict.HOLD, Verdict.ACCEPT, None)
_WEIGHTS = ("reject", "caution", "note")
_LEAST_SHOWN = 0.001  # in the unit of the column; what is less is nothing at the bench
_LAST = float("inf")  # what has no value stands after all that have one


def _tr(text: str) -> str:
    """Return a text of the list in the user's language."""
    return QCoreApplication.translate("tube list", text)


def tube_columns(quantities: ConstantQuantities, colours: Colours) -> list[Column[TubeRow]]:
    """Return the columns, with the constants in the units asked for.

    Verdict and constants come first, so that a small screen shows them without scrolling.
    """
    return [
        Column(_tr("tube"), lambda row: row.title, tip=lambda row: row.file, bold=True,
               name="tube"),
        Column(
            _tr("verdict"),
            _verdict_text,
            sort=lambda row: _VERDICT_ORDER.index(row.verdict),
            tip=_verdict_tip,
            ink=lambda row: None if row.verdict is None else colours.of_verdict(row.verdict),
            bold=True,
            name="verdict",
        ),
        *(_constant_column(name, quantity) for name, quantity in quantities),
        _share_column(_tr("bogey\n(%)"), "plate_current", "of_bogey", quantities),
        Column(_tr("worst\nfinding"), _worst_text, sort=_worst_order, tip=_findings_tip,
               name="worst"),
        Column(_tr("type"), _type, tip=_type_tip, name="type"),
        _share_column(_tr("gm of\nbogey (%)"), "transconductance", "gm_of_bogey", quantities),
        Column(_tr("all findings"), _findings_text, tip=_findings_tip, name="findings"),
        Column(_tr("type on label"), lambda row: row.type_label or _NONE, name="label"),
        Column(_tr("file"), lambda row: row.file, tip=lambda row: row.file, name="file"),
        _house_column(_tr("lot"), "lot"),
        _house_column(_tr("maker's mark"), "maker_mark", name="mark"),
        _house_column(_tr("box"), "box"),
        _house_column(_tr("shelf"), "shelf"),
        _house_column(_tr("set"), "in_set", name="set"),
        _house_column(_tr("note"), "note"),
        Column(
            _tr("judged on"),
            lambda row: row.house.tested.isoformat() if row.house and row.house.tested else _NONE,
            name="tested",
        ),
        Column(_tr("grade"), _grade, sort=_grade_order, tip=_grade_tip, bold=True, name="grade"),
    ]  # fmt: skip


def _house_column(title: str, field: str, name: str = "") -> Column[TubeRow]:
    """Return a column of what only a lot file knows."""

    def text(row: TubeRow) -> str:
        house: HouseFacts | None = row.house
        return "" if house is None else " ".join(getattr(house, field).split())

    return Column(title, text, tip=text, name=name or field)


def _grade(row: TubeRow) -> str:
    grade = None if row.house is None else row.house.grade
    return _NONE if grade is None else plain(grade.word)


def _grade_order(row: TubeRow) -> float:
    grade = None if row.house is None else row.house.grade
    return _LAST if grade is None else grade.rank


def _grade_tip(row: TubeRow) -> str:
    house = row.house
    if house is None:
        return _tr("only tubes of a lot file are graded")
    if house.grade is None:
        return plain(house.not_graded) or _tr("not graded as it stands: Lot, Grade the lot")
    grade = house.grade
    meaning = f"{plain(grade.word)}: {plain(grade.meaning)}"
    return "\n".join([meaning, *map(plain, grade.reasons), f"({plain(grade.rules)})"])


def _share_column(
    title: str, constant: str, name: str, quantities: ConstantQuantities
) -> Column[TubeRow]:
    words = dict(quantities)[constant].name
    return Column(
        title,
        lambda row: _bogey_text(row, constant),
        sort=lambda row: row.of_bogey.get(constant, _LAST),
        tip=lambda row: _bogey_tip(row, quantities),
        number=True,
        explained=_tr("{0} in percent of the reference family's at the same point").format(words),
        name=name,
    )


def _verdict_text(row: TubeRow) -> str:
    if row.verdict is None:
        return _tr("not tested")
    return _tr("{0} (person)").format(row.verdict.value) if row.overrule else row.verdict.value


def _verdict_tip(row: TubeRow) -> str:
    if row.overrule is None:
        return _findings_tip(row)
    measured = row.measured.value if row.measured else _NONE
    return _tr("{0} says: {1}\nThe readings say {2}:\n{3}").format(
        row.overrule.person, row.overrule.reason, measured, _findings_tip(row)
    )


def _constant_column(name: str, quantity: Quantity) -> Column[TubeRow]:
    unit = f"\n({quantity.unit.symbol})" if quantity.unit.symbol else ""

    def constant(row: TubeRow) -> Constant | None:
        return None if row.constants is None else getattr(row.constants, name)

    def value(row: TubeRow) -> float:
        found = constant(row)
        known = None if found is None else finite(found.value)
        return _LAST if known is None else known

    return Column(
        quantity.symbol + unit,
        lambda row: _value_text(constant(row), quantity),
        sort=value,
        tip=lambda row: _constant_tip(constant(row), quantity),
        number=True,
        explained=quantity.axis_label,
        name=name,
    )


def _value_text(constant: Constant | None, quantity: Quantity) -> str:
    """Return the value with no more decimals than its uncertainty allows, at most four figures."""
    value = None if constant is None else finite(constant.value)
    if constant is None or value is None:
        return _NONE
    shown, u95 = quantity.unit.from_si(value), finite(constant.u95)
    if 0 < shown < _LEAST_SHOWN:
        return f"<{_LEAST_SHOWN}"
    text = format_number(shown, 4)
    if u95 is None or u95 <= 0:
        return text
    decimals = min(decimals_of(quantity.unit.from_si(u95)), len(text.partition(".")[2]))
    return f"{shown:.{decimals}f}"


def _constant_tip(constant: Constant | None, quantity: Quantity) -> str:
    if constant is None:
        return _tr("never swept")
    value = finite(constant.value)
    if value is None:
        reason = f": {constant.reason}" if constant.reason else ""
        return plain(f"{quantity.name}: {constant.outcome.value}{reason}")
    return f"{quantity.name} {format_uncertain(value, constant.u95, quantity.unit)} (95 %)"


def _type(row: TubeRow) -> str:
    name = row.type_name or row.type_label or _tr("unknown")
    return f"{name} ({_tr('by')} {row.stand_in})" if row.stand_in else name


def _type_tip(row: TubeRow) -> str:
    label = row.type_label
    return _tr("the file names no type") if label is None else f"{_tr('labelled')} {plain(label)}"


def _bogey_text(row: TubeRow, name: str) -> str:
    share = row.of_bogey.get(name)
    return _NONE if share is None else f"{100 * share:.0f}"


def _bogey_tip(row: TubeRow, quantities: ConstantQuantities) -> str:
    parts = [f"{q.symbol} {_bogey_text(row, name)} %" for name, q in quantities]
    return _tr("of the reference family's: ") + ", ".join(parts)


def _worst_text(row: TubeRow) -> str:
    if not row.findings:
        return _tr("none")
    worst, more = row.findings[0].code, len(row.findings) - 1
    return f"{worst} +{more}" if more else worst


def _worst_order(row: TubeRow) -> tuple[int, str]:
    if not row.findings:
        return len(_WEIGHTS) + 1, ""
    worst = row.findings[0]
    known = worst.severity in _WEIGHTS
    return (_WEIGHTS.index(worst.severity) if known else len(_WEIGHTS)), worst.code


def _findings_text(row: TubeRow) -> str:
    return ", ".join(mark.code for mark in row.findings) or _tr("none")


def _findings_tip(row: TubeRow) -> str:
    lines = [f"{mark.severity}, {mark.code}" for mark in row.findings]
    return "\n".join(lines) or _tr("nothing found that speaks against it")
