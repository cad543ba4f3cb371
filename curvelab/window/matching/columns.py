"""How sets, tubes left over, tubes that took no part, and mates are written."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication

from curvelab.catalog.records import SetState
from curvelab.matching.records import Difference, Excluded, LeftOver, Mate, Neighbour
from curvelab.sheets.text import in_one_line, plain
from curvelab.window.record_table import Column
from curvelab.workbench.lot_sets import SetLine

__all__ = [
    "excluded_columns",
    "left_over_columns",
    "mate_columns",
    "set_columns",
]

_NONE = "–"
_LAST = float("inf")


def _tr(text: str) -> str:
    return QCoreApplication.translate("matching", text)


def set_columns() -> list[Column[SetLine]]:
    """Return the columns of sets, found or kept."""
    return [
        Column(_tr("set"), lambda line: plain(line.name or _NONE), bold=True),
        Column(_tr("state"), _state, tip=_made),
        Column(_tr("tubes"), lambda line: ", ".join(map(plain, line.tubes)), tip=_members),
        Column(_tr("spare"), lambda line: ", ".join(map(plain, line.spare)) or _NONE),
        Column(
            _tr("differ by\n(%)"),
            lambda line: _percent(line.spread, line.spread_u95),
            sort=lambda line: _LAST if line.spread is None else line.spread,
            number=True,
            explained=_tr("the two that differ most, by the measure that decides"),
        ),
        Column(
            _tr("bench tells\nthem apart"),
            lambda line: _apart(line.distinguishable),
            explained=_tr("whether the difference is more than its uncertainty"),
        ),
        Column(_tr("type"), lambda line: plain(line.type_name or _NONE)),
    ]


def left_over_columns() -> list[Column[LeftOver]]:
    """Return the columns of tubes that are in no set."""
    return [
        Column(_tr("left over"), lambda one: plain(one.key), bold=True),
        Column(_tr("nearest"), _nearest),
        _neighbour_column(_tr("by (%)"), lambda one: one.nearest),
        Column(_tr("nearest\nleft over"), lambda one: _name(_free(one))),
        _neighbour_column(_tr("by (%)"), _free),
    ]


def excluded_columns() -> list[Column[Excluded]]:
    """Return the columns of tubes that took no part."""
    return [
        Column(_tr("took no part"), lambda one: plain(one.key), bold=True),
        Column(_tr("because"), _reasons, tip=_reasons),
    ]


def mate_columns() -> list[Column[Mate]]:
    """Return the columns of the stock ranked against one tube."""
    return [
        Column(_tr("mate"), lambda one: plain(one.key), bold=True),
        Column(
            _tr("differs by\n(%)"),
            lambda one: _difference(one.difference),
            sort=lambda one: one.difference.of_tolerance,
            number=True,
        ),
        Column(
            _tr("bench tells\nthem apart"),
            lambda one: _apart(one.difference.distinguishable),
            explained=_tr("whether the difference is more than its uncertainty"),
        ),
        Column(_tr("within\ntolerance"), lambda one: _tr("yes") if one.within else _tr("no")),
    ]


def _state(line: SetLine) -> str:
    words = {
        None: _tr("found"),
        SetState.LOCKED: _tr("locked"),
        SetState.SOLD: _tr("sold"),
        SetState.DISSOLVED: _tr("released"),
    }
    return words[line.state]


def _made(line: SetLine) -> str | None:
    if line.made_at is None:
        return None
    return _tr("made on {0}").format(line.made_at.date().isoformat())


def _members(line: SetLine) -> str:
    return "\n".join(map(plain, line.members))


def _reasons(one: Excluded) -> str:
    return plain(in_one_line(one.reasons))


def _nearest(one: LeftOver) -> str:
    return _tr("its other section") if _is_own(one.nearest, one) else _name(one.nearest)


def _free(one: LeftOver) -> Neighbour | None:
    return None if _is_own(one.nearest_free, one) else one.nearest_free


def _is_own(neighbour: Neighbour | None, one: LeftOver) -> bool:
    """Tell whether what comes nearest is the other section of the tube itself."""
    return neighbour is not None and neighbour.key == one.key


def _name(neighbour: Neighbour | None) -> str:
    return _NONE if neighbour is None else plain(neighbour.key)


def _neighbour_column(
    title: str, neighbour: Callable[[LeftOver], Neighbour | None]
) -> Column[LeftOver]:
    def text(one: LeftOver) -> str:
        found = neighbour(one)
        return _NONE if found is None else _difference(found.difference)

    def order(one: LeftOver) -> float:
        found = neighbour(one)
        return _LAST if found is None else found.difference.of_tolerance

    return Column(title, text, sort=order, number=True)


def _difference(difference: Difference) -> str:
    return _percent(difference.fraction, difference.u95)


def _percent(fraction: float | None, u95: float | None) -> str:
    if fraction is None:
        return _NONE
    value = f"{100 * fraction:.2f}"
    return value if u95 is None else f"{value} ± {100 * u95:.2f}"


def _apart(distinguishable: bool | None) -> str:
    if distinguishable is None:
        return _tr("not known")
    return _tr("yes") if distinguishable else _tr("no")
