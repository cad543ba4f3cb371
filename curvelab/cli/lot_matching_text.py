"""Matched sets, mates and kept sets as people read them on a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence

from curvelab.catalog.records import TubeSet
from curvelab.cli.table import Cell, table_text
from curvelab.health.records import Verdict
from curvelab.matching.records import (
    Difference,
    Excluded,
    LeftOver,
    MatchSet,
    MateRanking,
    Neighbour,
)
from curvelab.sheets.paper_words import counted
from curvelab.sheets.text import in_one_line, plain
from curvelab.workbench.lot_matching import LotSets

__all__ = ["matches_text", "mates_text", "sets_text"]

_NONE: Cell = ("-",)
_WIDEST_SENTENCE = 100


def matches_text(found: LotSets, width: int) -> str:
    """Return the sets, what is left over and what took no part, for ``width`` columns."""
    result, parts = found.result, []
    if result.sets:
        rows: list[list[Cell]] = [
            [("set",), ("tubes",), ("spare",), ("differ by (%)",), ("bench tells them apart",)]
        ]
        rows += [_set_row(one, name) for one, name in zip(result.sets, found.names, strict=True)]
        parts.append(table_text(rows, width))
    if result.left_over:
        rows = [[("left over",), ("nearest",), ("(%)",), ("nearest left over",), ("(%)",)]]
        rows += [_left_row(one) for one in result.left_over]
        parts.append(table_text(rows, width))
    measure = min(width, _WIDEST_SENTENCE)
    parts.append("".join(_wrapped(line, measure) for line in _sentences(found)))
    return "\n".join(parts)


def _set_row(one: MatchSet, name: str | None) -> list[Cell]:
    return [
        (plain(name),) if name else _NONE,
        (", ".join(map(plain, one.tubes)),),
        (", ".join(map(plain, one.spare)),) if one.spare else _NONE,
        _percent(one.spread),
        _apart(one.spread),
    ]


def _left_row(one: LeftOver) -> list[Cell]:
    return [(plain(one.key),), *_neighbour(one.nearest), *_neighbour(one.nearest_free)]


def _neighbour(neighbour: Neighbour | None) -> tuple[Cell, Cell]:
    if neighbour is None:
        return _NONE, _NONE
    return (plain(neighbour.key),), _percent(neighbour.difference)


def _by_another(spread: Difference) -> bool:
    within = spread.u95 is not None and spread.fraction <= spread.u95
    return bool(spread.distinguishable) and within


def _how_good(found: LotSets) -> str:
    result, request = found.result, found.request
    if not found.lot.candidates:
        return "The lot file holds no tube of those that were asked for."
    if found.one_tube:
        return f"{counted(len(result.sets), 'tube')} whose two sections match."
    if not result.sets and not result.left_over:
        return "No tube is left that could be in a set."
    if not result.proven:
        return f"Not proven to be the best: at most {100 * result.gap:.2g} % from it."
    if not result.sets:
        spares = f" with {counted(request.spare, 'spare')}" if request.spare else ""
        return f"No set of {request.size}{spares} lies within {100 * request.tolerance:g} %."
    return "No choice has more sets, and none of so many is tighter."


def _excluded(excluded: Sequence[Excluded]) -> Iterator[str]:
    """Yield why tubes took no part, a line a reason: tubes that share one stand together."""
    tubes: dict[str, list[str]] = {}
    for one in excluded:
        tubes.setdefault(in_one_line(one.reasons), []).append(one.key)
    for why, keys in tubes.items():
        yield f"{', '.join(map(plain, keys))}: {plain(why)}"


def _percent(difference: Difference | None) -> Cell:
    if difference is None:
        return _NONE
    if difference.u95 is None:
        return (f"{100 * difference.fraction:.2f}",)
    return (f"{100 * difference.fraction:.2f} ± {100 * difference.u95:.2f}",)


def _apart(difference: Difference | None) -> Cell:
    if difference is None or difference.distinguishable is None:
        return ("not known",)
    return ("yes",) if difference.distinguishable else ("no",)


def _sentences(found: LotSets) -> Iterator[str]:
    result = found.result
    count = len(result.sets)
    yield f"sets: {count}, left over: {len(result.left_over)}, took no part: {len(result.excluded)}"
    yield _how_good(found)
    if any(one.spread is not None and _by_another(one.spread) for one in result.sets):
        yield (
            "Where the bench tells tubes apart although they differ by less than the uncertainty, "
            "it does so by another figure than the one that decides."
        )
    for other in found.counts or ():
        doubt = "" if other.proven else ", perhaps more"
        yield f"at {100 * other.tolerance:g} %: {other.sets} sets{doubt}"
    if any("curve" in measure for measure in found.request.measures):
        for name, words in found.lot.regions.items():
            yield f"curves of {plain(name)}: {words}"
    for known in found.held:
        for against in known.against:
            why = plain(in_one_line(against.reasons))
            yield (
                f"{plain(known.name or '')} is locked, but {plain(against.key)} would be in no "
                f"set today: {why}"
            )
    yield from _excluded(result.excluded)


def mates_text(ranking: MateRanking, width: int) -> str:
    """Return the stock, nearest first, and what took no part, for ``width`` columns."""
    by = " and ".join(ranking.measures)
    parts = [f"{plain(ranking.key)}, by {by}\n"]
    if ranking.mates:
        rows: list[list[Cell]] = [
            [("mate",), ("differs by (%)",), ("bench tells them apart",), ("within tolerance",)]
        ]
        rows += [
            [
                (plain(mate.key),),
                _percent(mate.difference),
                _apart(mate.difference),
                ("yes" if mate.within else "no",),
            ]
            for mate in ranking.mates
        ]
        parts.append(table_text(rows, width))
    else:
        parts.append("The lot file holds no other tube that can be compared with it.\n")
    measure = min(width, _WIDEST_SENTENCE)
    parts.append("".join(_wrapped(line, measure) for line in _excluded(ranking.excluded)))
    return "\n".join(part for part in parts if part)


def sets_text(
    sets: Sequence[TubeSet], verdicts: Mapping[tuple[str, str], Verdict | None], width: int
) -> str:
    """Return every set there ever was, oldest first, for ``width`` columns.

    Parameters
    ----------
    verdicts : mapping of (str, str) to Verdict or None
        How the tubes stand today, by serial and lot; said of those that are not good.
    """
    if not sets:
        return "The lot file holds no set.\n"
    rows: list[list[Cell]] = [[("set",), ("tubes",), ("state",), ("made",), ("today",)]]
    for one in sets:
        members = [
            f"{plain(member.serial)}{' (spare)' if member.spare else ''}" for member in one.members
        ]
        today = [
            f"{plain(member.serial)} {verdict or 'not tested'}"
            for member in one.members
            if (verdict := verdicts.get((member.serial, member.lot))) is not Verdict.ACCEPT
        ]
        rows.append(
            [
                (plain(one.name),),
                (", ".join(members),),
                (one.state.value,),
                (one.made_at.date().isoformat(),),
                (", ".join(today),) if today else _NONE,
            ]
        )
    return table_text(rows, width)


def _wrapped(line: str, measure: int) -> str:
    return textwrap.fill(line, measure, subsequent_indent="  ") + "\n"
