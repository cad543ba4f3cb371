"""Use cases: matched sets out of a lot file, and mates for one tube."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from curvelab.assessment.records import OperatingPoint
from curvelab.catalog.listing import list_tubes
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.records import SetMember, SetState, StoredTube, TubeSet
from curvelab.catalog.sets import list_sets, lock_sets
from curvelab.catalog.tubes import find_tube
from curvelab.errors import MatchingInputError, UnknownTubeError, UnknownTypeError
from curvelab.matching.match import (
    Progress,
    ShouldStop,
    match_sections,
    match_tubes,
    what_if,
    what_if_sections,
)
from curvelab.matching.mates import rank_mates
from curvelab.matching.records import (
    Candidate,
    Excluded,
    MatchRequest,
    MatchResult,
    MatchSet,
    MateRanking,
    Measured,
    WhatIf,
)
from curvelab.sheets.match_json import HeldSet, set_record
from curvelab.workbench.comparison import UNKNOWN_TYPE, class_of
from curvelab.workbench.lot_bench import golden_history
from curvelab.workbench.lot_grades import standing_grades
from curvelab.workbench.match_lot import LotCandidates, tube_by_figures
from curvelab.workbench.stored_candidates import stored_candidates, tube_names
from curvelab.workbench.type_library import current_types

__all__ = [
    "GivenFigures",
    "LotSets",
    "SetsWanted",
    "Stock",
    "count_candidates",
    "find_mates",
    "find_mates_of_figures",
    "match_candidates",
    "match_lot_file",
    "new_sets",
]

_GIVEN = "the figures given"


@dataclass(frozen=True, slots=True)
class Stock:
    """Which tubes of a lot file may be matched.

    Attributes
    ----------
    lots : tuple of str
        Tubes of these lots only; all of them by default.
    types : tuple of str
        Tubes judged as one of these types only; all of them by default.
    grades : tuple of str
        Tubes that have one of these grades only; all of them by default.
    with_held : bool
        Whether tubes on hold take part; rejects never do.
    """

    lots: tuple[str, ...] = ()
    types: tuple[str, ...] = ()
    grades: tuple[str, ...] = ()
    with_held: bool = False


@dataclass(frozen=True, slots=True)
class SetsWanted:
    """What is to be matched, and what becomes of it.

    Attributes
    ----------
    one_tube : bool
        Whether the two sections of each dual tube are matched, not tubes.
    counted : bool
        Whether the sets that other tolerances would make are counted too.
    keep : str or None
        Lock the new sets in the file under this name and a number.
    """

    request: MatchRequest
    stock: Stock = Stock()
    one_tube: bool = False
    counted: bool = False
    keep: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LotSets:
    """The sets of a lot file.

    Attributes
    ----------
    request : MatchRequest
        As it was carried out, with the sets that stay as they are.
    held : tuple of HeldSet
        What the lot file knows of each set of the result.
    counts : tuple of WhatIf or None
        How many sets other tolerances would make, where that was asked for.
    one_tube : bool
        Whether each of them is one dual tube, whose sections match.
    """

    lot: LotCandidates
    request: MatchRequest
    result: MatchResult
    held: tuple[HeldSet, ...]
    counts: tuple[WhatIf, ...] | None
    one_tube: bool = False

    @property
    def names(self) -> tuple[str | None, ...]:
        """What each set of the result is called in the lot file; None where it is not kept."""
        return tuple(one.name for one in self.held)


@dataclass(frozen=True, slots=True)
class GivenFigures:
    """A tube known by figures only: from its sheet, a label or a letter. SI units.

    Attributes
    ----------
    at : tuple of float
        (Vp, Vg) [V]
    screen_voltage : float or None
        Of a tube whose screen had a voltage of its own [V].
    """

    type_name: str
    at: tuple[float, float]
    plate_current: Measured | None
    transconductance: Measured | None
    screen_voltage: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Opened:
    """The tubes of a lot file as they may be matched."""

    tubes: tuple[StoredTube, ...]
    names: Mapping[int, str]
    lot: LotCandidates
    locked: tuple[TubeSet, ...]
    sold: tuple[TubeSet, ...]

    @property
    def members(self) -> dict[tuple[str, str], str]:
        """Names of the tubes by serial and lot."""
        return {
            (tube.identity.serial, tube.identity.lot): self.names[tube.key] for tube in self.tubes
        }

    def asked(self, request: MatchRequest) -> MatchRequest:
        """Return a request with the sets that stay as they are."""
        return replace(
            request,
            locked=tuple(self._keys(item) for item in self.locked),
            sold=tuple(self._keys(item) for item in self.sold),
        )

    def _keys(self, item: TubeSet) -> tuple[str, ...]:
        ordered = sorted(item.members, key=lambda member: member.spare)
        held = self.members
        return tuple(
            held[member.serial, member.lot]
            for member in ordered
            if (member.serial, member.lot) in held
        )


def match_lot_file(
    path: Path,
    wanted: SetsWanted,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> LotSets:
    """Match the tubes of a lot file; sets that it holds stay as they are.

    Raises
    ------
    CatalogError
        If the file cannot be read or changed, or holds no tube of a lot that was named.
    MatchingInputError
        If the request makes no sense.
    """
    request, keep = wanted.request, wanted.keep
    if keep is not None and not keep.strip():
        raise MatchingInputError("the sets to be kept need a name")
    if keep is not None and wanted.one_tube:
        raise MatchingInputError("sections of one tube need not be kept: they are together")
    with open_lot(path, write=keep is not None) as opened:
        found = _open(opened, wanted.stock, request.across)
        asked = found.asked(request)
        result = match_candidates(found.lot.candidates, asked, wanted, progress, should_stop)
        result = replace(result, sets=tuple(_with_spares(result.sets, found)))
        names: tuple[str | None, ...] = tuple(
            found.locked[place].name if one.locked else None
            for place, one in enumerate(result.sets)
        )
        if keep is not None:
            names = _kept(opened, found, result.sets, asked, keep)
    counts = count_candidates(found.lot.candidates, asked, wanted, should_stop)
    held = tuple(map(partial(_held, found), result.sets, names))
    return LotSets(found.lot, asked, result, held, counts, wanted.one_tube)


def match_candidates(
    candidates: Sequence[Candidate],
    request: MatchRequest,
    wanted: SetsWanted,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> MatchResult:
    """Match tubes, or the sections of each, as is wanted; ``request`` is it with what is kept.

    Raises
    ------
    MatchingInputError
        If the request makes no sense.
    """
    if wanted.one_tube:
        return match_sections(candidates, request)
    return match_tubes(candidates, request, progress, should_stop)


def count_candidates(
    candidates: Sequence[Candidate],
    request: MatchRequest,
    wanted: SetsWanted,
    should_stop: ShouldStop | None = None,
) -> tuple[WhatIf, ...] | None:
    """Return what other tolerances would make; None unless that is wanted."""
    if not wanted.counted:
        return None
    if wanted.one_tube:
        return what_if_sections(candidates, request)
    return what_if(candidates, request, should_stop=should_stop)


def _held(found: _Opened, one: MatchSet, name: str | None) -> HeldSet:
    """Return what the lot file knows of a set; what is new has nothing against it."""
    if not one.locked:
        return HeldSet(name)
    members = {*one.tubes, *one.spare}
    return HeldSet(
        name,
        tuple(
            Excluded(tube.key, tube.excluded)
            for tube in found.lot.candidates
            if tube.excluded and tube.key in members
        ),
    )


def find_mates(
    path: Path,
    serial: str,
    request: MatchRequest,
    stock: Stock = Stock(),
    of_lot: str | None = None,
) -> tuple[MateRanking, MatchRequest]:
    """Rank the stock of its type against a tube that the lot file holds.

    Raises
    ------
    CatalogError
        If there is no such tube, or the file cannot be read.
    MatchingInputError
        If the tube is known by none of the measures.
    """
    with open_lot(path, write=False) as opened:
        key, _ = find_tube(opened, serial, of_lot)
        found = _open(opened, stock, None, always=key)
    asked = found.asked(request)
    tube = next(one for one in found.lot.candidates if one.key == found.names[key])
    alike = [one for one in found.lot.candidates if one.type_class == tube.type_class]
    return rank_mates(tube, alike, asked), asked


def find_mates_of_figures(
    path: Path, given: GivenFigures, request: MatchRequest, stock: Stock = Stock()
) -> tuple[MateRanking, MatchRequest]:
    """Rank the stock of its type against a tube known by figures only, at their point.

    Every section of a dual tube is compared with them by itself.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    UnknownTypeError
        If the library does not hold the type.
    MatchingInputError
        If none of the measures was given.
    """
    type_name = current_types().types.find(given.type_name)[0].name
    screen = given.screen_voltage
    at = given.at if screen is None else (*given.at, screen)
    with open_lot(path, write=False) as opened:
        found = _open(opened, replace(stock, types=(type_name,)), None, at=at)
    type_class = class_of(type_name, OperatingPoint(*given.at, screen, "given"))
    tube = tube_by_figures(
        _GIVEN, type_class, given.at, given.plate_current, given.transconductance
    )
    asked = found.asked(request)
    alike = [one for one in found.lot.candidates if one.type_class == type_class]
    return rank_mates(tube, tuple(_by_section(alike)), _known(asked, found)), asked


def _by_section(candidates: Sequence[Candidate]) -> Iterator[Candidate]:
    """Yield tubes with one section as they are, the sections of others one by one."""
    for tube in candidates:
        if len(tube.sections) < 2:
            yield tube if not tube.sections else _alone(tube, tube.key, 0)
            continue
        for place, section in enumerate(tube.sections):
            yield _alone(tube, f"{tube.key} section {section.name}", place)


def _alone(tube: Candidate, key: str, place: int) -> Candidate:
    return replace(tube, key=key, sections=(replace(tube.sections[place], name=None),))


def _known(asked: MatchRequest, found: _Opened) -> MatchRequest:
    """Name the taken tubes as `_by_section` does."""
    sections = {tube.key: [one.key for one in _by_section([tube])] for tube in found.lot.candidates}

    def each(sets: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
        return tuple(tuple(name for key in keys for name in sections[key]) for keys in sets)

    return replace(asked, locked=each(asked.locked), sold=each(asked.sold))


def _open(
    opened: LotFile,
    stock: Stock,
    across: tuple[str, str] | None,
    *,
    at: tuple[float, ...] | None = None,
    always: int | None = None,
) -> _Opened:
    every = list_tubes(opened)
    lots = {tube.identity.lot for tube in every}
    for name in (*stock.lots, *(across or ())):
        if name not in lots:
            raise UnknownTubeError(str(opened.path), f"it holds no tube of lot {name!r}")
    wanted = stock.lots or (across or ())
    own = next((_types(tube) for tube in every if tube.key == always), frozenset())
    types = {*map(_library_name, stock.types)} or own  # others cannot be its mates
    tubes = tuple(
        tube
        for tube in every
        if tube.key == always
        or ((not wanted or tube.identity.lot in wanted) and (not types or types & _types(tube)))
    )
    names = tube_names(every)
    lot = stored_candidates(opened, tubes, names, with_held=stock.with_held, at=at)
    reasons = _against(opened, tubes, stock)
    whole: list[TubeSet] = []
    sold: list[TubeSet] = []
    here = {(tube.identity.serial, tube.identity.lot): tube.key for tube in tubes}
    for item in list_sets(opened):
        held = [here[m.serial, m.lot] for m in item.members if (m.serial, m.lot) in here]
        if not held or item.state is SetState.DISSOLVED:
            continue
        if item.state is SetState.SOLD:
            sold.append(item)
        elif len(held) == len(item.members):
            whole.append(item)
        else:  # the rest of it was not asked for
            for key in held:
                reasons.setdefault(key, []).append(f"in the set {item.name}")
    by_name = {names[key]: tuple(each) for key, each in reasons.items()}
    candidates = tuple(
        replace(one, excluded=(*one.excluded, *by_name.get(one.key, ()))) for one in lot.candidates
    )
    return _Opened(tubes, names, replace(lot, candidates=candidates), tuple(whole), tuple(sold))


def _types(tube: StoredTube) -> frozenset[str]:
    """Return the types that a tube was judged as."""
    return frozenset(result.figures.type_name or UNKNOWN_TYPE for result in tube.results)


def _library_name(name: str) -> str:
    """Return what the library calls a type; one that it does not hold keeps its name."""
    try:
        return current_types().types.find(name)[0].name
    except UnknownTypeError:
        return name


def _against(opened: LotFile, tubes: Sequence[StoredTube], stock: Stock) -> dict[int, list[str]]:
    """Return what bars tubes besides their readings, by their keys.

    Golden tubes stay with the bench; the stock may ask for grades.
    """
    golden = {reading.tube for reading in golden_history(opened)}
    reasons = {
        tube.key: ["a golden tube of the bench"] for tube in tubes if tube.identity.serial in golden
    }
    if not stock.grades:
        return reasons
    words = standing_grades(opened, tubes)
    for tube in tubes:
        word = words.get(tube.key)
        if word is None:
            reasons.setdefault(tube.key, []).append("not graded as it stands: grade the lot first")
        elif word not in stock.grades:
            reasons.setdefault(tube.key, []).append(f"graded {word}")
    return reasons


def _with_spares(sets: Sequence[MatchSet], found: _Opened) -> Iterator[MatchSet]:
    """Yield the sets; of those that the file holds, spares are told from the others again."""
    for place, one in enumerate(sets):
        if not one.locked:
            yield one
            continue
        count = sum(not member.spare for member in found.locked[place].members)
        yield replace(one, tubes=one.tubes[:count], spare=one.tubes[count:])


def _kept(
    opened: LotFile,
    found: _Opened,
    sets: Sequence[MatchSet],
    request: MatchRequest,
    keep: str,
) -> tuple[str | None, ...]:
    """Lock the new sets and return the names of all."""
    fresh = [one for one in sets if not one.locked]
    made = new_sets(opened, fresh, request, keep)
    lock_sets(opened, made)
    names = iter([one.name for one in made])
    return tuple(
        found.locked[place].name if one.locked else next(names) for place, one in enumerate(sets)
    )


def new_sets(
    opened: LotFile, sets: Sequence[MatchSet], request: MatchRequest, keep: str
) -> tuple[TubeSet, ...]:
    """Return sets that were found as a lot file keeps them, ``keep`` and a number by name.

    Raises
    ------
    CatalogError
        If the file cannot be read, or no longer holds one of the tubes.
    """
    tubes = list_tubes(opened)
    names = tube_names(tubes)
    identities = {names[tube.key]: tube.identity for tube in tubes}
    taken = [item.name for item in list_sets(opened)]
    numbered = (re.fullmatch(rf"{re.escape(keep)} (\d+)", name) for name in taken)
    last = max((int(match[1]) for match in numbered if match), default=0)
    now = datetime.now(UTC)
    made: list[TubeSet] = []
    for number, one in enumerate(sets, start=last + 1):
        members = []
        for keys, spare in ((one.tubes, False), (one.spare, True)):
            for key in keys:
                if key not in identities:
                    raise UnknownTubeError(str(opened.path), f"it holds no tube {key!r}")
                members.append(SetMember(identities[key].serial, identities[key].lot, spare=spare))
        payload = json.dumps(set_record(one, request), ensure_ascii=False)
        name = f"{keep} {number:02d}"
        made.append(TubeSet(name, SetState.LOCKED, tuple(members), now, payload))
    return tuple(made)
