"""Use cases: the sets of a lot as a table shows them, kept and sold one by one, or taken back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from curvelab.assessment.records import Assessment
from curvelab.catalog import sets
from curvelab.catalog.lot_file import open_lot
from curvelab.catalog.records import SetMember, SetState, StoredTube, TubeSet
from curvelab.matching.mates import rank_mates
from curvelab.matching.records import MatchRequest, MatchSet, Mate, MateRanking
from curvelab.sheets.match_json import HeldSet
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.lot_matching import (
    LotSets,
    SetsWanted,
    count_candidates,
    match_candidates,
    new_sets,
)
from curvelab.workbench.lot_paper import paper_set
from curvelab.workbench.match_lot import lot_candidates
from curvelab.workbench.stored_candidates import tube_names

__all__ = [
    "SetLine",
    "line_of_mates",
    "lock_found",
    "lock_sets",
    "match_loose",
    "mates_of_loose",
    "set_by_hand",
    "set_lines",
    "take_back_change",
    "take_back_sets",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class SetLine:
    """A set as a line of a table.

    Attributes
    ----------
    name, state : str or None, SetState or None
        None for one that was found and is not kept.
    tubes, spare : tuple of str
        What the tubes are called, as `tube_names` calls them.
    spread, spread_u95 : float or None
        Of the two that differ most, as a fraction; None where it is not known.
    distinguishable : bool or None
        Whether the bench can tell them apart; None where nobody knows.
    type_name : str or None
        Type that its tubes were judged as; None where it is not known.
    found : MatchSet or None
        As it was found, where it is not kept.
    """

    name: str | None
    state: SetState | None
    tubes: tuple[str, ...]
    spare: tuple[str, ...]
    spread: float | None
    spread_u95: float | None
    distinguishable: bool | None
    type_name: str | None = None
    made_at: datetime | None = None
    found: MatchSet | None = None

    @property
    def members(self) -> tuple[str, ...]:
        """All tubes, spares last."""
        return (*self.tubes, *self.spare)


def set_lines(
    kept: Sequence[TubeSet], tubes: Sequence[StoredTube], found: LotSets | None
) -> tuple[SetLine, ...]:
    """Return the sets found and not kept, tightest first, then those locked, then those sold.

    A set that was found is left out where one of its tubes is in a kept set by now; a dual tube
    whose sections match stays.
    """
    calls = tube_names(tubes)
    names = {(t.identity.serial, t.identity.lot): calls[t.key] for t in tubes}
    types = {calls[t.key]: _type_of(t) for t in tubes}
    if found is not None:
        types |= {one.key: one.type_class for one in found.lot.candidates}
    locked = [_of_kept(one, names) for one in kept if one.state is SetState.LOCKED]
    sold = [_of_kept(one, names) for one in kept if one.state is SetState.SOLD]
    taken = {name for line in (*locked, *sold) for name in line.members}
    fresh = [] if found is None else [_of_found(one) for one in found.result.sets if not one.locked]
    free = [line for line in fresh if len(line.members) == 1 or not taken & set(line.members)]
    lines = (*free, *locked, *sold)
    return tuple(replace(line, type_name=types.get(line.members[0])) for line in lines)


def _type_of(tube: StoredTube) -> str | None:
    named = (result.figures.type_name for result in tube.results)
    return next((name for name in named if name), None)


def _of_found(one: MatchSet) -> SetLine:
    spread = one.spread
    return SetLine(
        name=None,
        state=None,
        tubes=one.tubes,
        spare=one.spare,
        spread=None if spread is None else spread.fraction,
        spread_u95=None if spread is None else spread.u95,
        distinguishable=None if spread is None else spread.distinguishable,
        found=one,
    )


def _of_kept(one: TubeSet, names: Mapping[tuple[str, str], str]) -> SetLine:
    told = paper_set(one)
    calls = [
        (names.get((member.serial, member.lot), member.serial), member.spare)
        for member in one.members
    ]
    return SetLine(
        name=one.name,
        state=one.state,
        tubes=tuple(name for name, spare in calls if not spare),
        spare=tuple(name for name, spare in calls if spare),
        spread=None if told.spread_percent is None else told.spread_percent / 100,
        spread_u95=None,
        distinguishable=told.distinguishable,
        made_at=one.made_at,
    )


def match_loose(
    assessments: Sequence[Assessment],
    bench: Path | None,
    wanted: SetsWanted,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> LotSets:
    """Match tubes that are in no lot file; of the stock only its types and held tubes count.

    Raises
    ------
    BenchDescriptionError
        If the bench description cannot be read.
    MatchingInputError
        If the request makes no sense.
    """
    stock, request = wanted.stock, wanted.request
    lot = lot_candidates(assessments, load_description(bench).bench, with_held=stock.with_held)
    asked = (one for one in lot.candidates if not stock.types or one.type_class in stock.types)
    lot = replace(lot, candidates=tuple(asked))
    result = match_candidates(lot.candidates, request, wanted, progress, should_stop)
    counts = count_candidates(lot.candidates, request, wanted, should_stop)
    held = (HeldSet(),) * len(result.sets)
    return LotSets(lot, request, result, held, counts, wanted.one_tube)


def mates_of_loose(
    assessments: Sequence[Assessment],
    bench: Path | None,
    name: str,
    request: MatchRequest,
    *,
    with_held: bool = False,
) -> MateRanking:
    """Rank tubes that are in no lot file against one of them.

    Raises
    ------
    BenchDescriptionError
        If the bench description cannot be read.
    MatchingInputError
        If the tube is known by none of the measures.
    """
    lot = lot_candidates(assessments, load_description(bench).bench, with_held=with_held)
    tube = next(one for one in lot.candidates if one.key == name)
    alike = [one for one in lot.candidates if one.type_class == tube.type_class]
    return rank_mates(tube, alike, request)


def line_of_mates(ranking: MateRanking, mates: Sequence[Mate]) -> SetLine:
    """Return a tube with one mate as a set that was found; with several their spread is open."""
    spread = mates[0].difference if len(mates) == 1 else None
    return _of_found(MatchSet((ranking.key, *(mate.key for mate in mates)), spread))


def set_by_hand(name: str, tubes: Sequence[StoredTube]) -> TubeSet:
    """Return a set of tubes that a person puts together."""
    members = tuple(SetMember(tube.identity.serial, tube.identity.lot) for tube in tubes)
    return TubeSet(name, SetState.LOCKED, members, datetime.now(UTC))


def lock_found(
    path: Path, request: MatchRequest, chosen: Sequence[MatchSet], keep: str
) -> tuple[TubeSet, ...]:
    """Lock some of the sets that were found, under a name and numbers, and return them.

    Raises
    ------
    CatalogError
        If a tube is in another set by now, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        made = new_sets(opened, chosen, request, keep)
        sets.lock_sets(opened, made)
    return made


def lock_sets(path: Path, made: Sequence[TubeSet]) -> None:
    """Lock sets as they were once before.

    Raises
    ------
    CatalogError
        If a name is taken, a tube is in another set, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        sets.lock_sets(opened, made)


def take_back_sets(path: Path, names: Sequence[str]) -> None:
    """Remove sets that were just locked, as if they never had been.

    Raises
    ------
    CatalogError
        If one of them is not there or no longer locked, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        sets.take_back_sets(opened, names)


def take_back_change(path: Path, name: str, now: SetState, before: SetState) -> None:
    """Give a set the state back that it had.

    Raises
    ------
    CatalogError
        If it has become something else since, one of its tubes is in another set, or the
        file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        sets.take_back_change(opened, name, now, before)
