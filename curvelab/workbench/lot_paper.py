"""What the papers of a lot are made from, gathered from a lot file."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from curvelab.catalog.listing import list_tubes
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.records import SetMember, SetState, StoredTube, TubeIdentity, TubeSet
from curvelab.catalog.results import curve_grids, documents
from curvelab.catalog.sets import list_sets
from curvelab.catalog.tubes import find_tube, named_with_lot
from curvelab.errors import DocumentError, UnknownTubeError
from curvelab.matching.records import MatchRequest, MatchSet
from curvelab.sheets.json_fields import parsed
from curvelab.sheets.match_json import set_record
from curvelab.sheets.paper_records import Basis, Found, PaperSet, PaperTube
from curvelab.sheets.results_reader import findings_of_document
from curvelab.sweep.records import SweepKind
from curvelab.workbench.stored_grades import GradeGiven, grades_of_lot

__all__ = ["LotPaper", "Proposal", "Wanted", "gather_lot", "paper_set", "proposal_of"]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Proposal:
    """Tubes that might go together, each by its serial, where that tells, and else with its lot.

    Attributes
    ----------
    payload : str
        How they were matched, as JSON; nothing where a person named them.
    """

    tubes: tuple[str, ...]
    spare: tuple[str, ...] = ()
    payload: str = "{}"


def proposal_of(one: MatchSet, request: MatchRequest) -> Proposal:
    """Return a set that was found, and is not kept, as papers take it."""
    return Proposal(one.tubes, one.spare, json.dumps(set_record(one, request)))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which tubes and sets the papers are about; nothing named is all of them.

    Attributes
    ----------
    serials : tuple of str
        Tubes by serial, and the sets they are in.
    sets : tuple of str
        Sets by name, and the tubes that are in them.
    lot : str or None
        Tubes of one lot only.
    proposed : tuple of Proposal
        Sets that the lot file does not hold, with their tubes.
    graded : bool
        Whether the tubes are graded, for which their sweeps are judged again.
    """

    serials: tuple[str, ...] = ()
    sets: tuple[str, ...] = ()
    lot: str | None = None
    proposed: tuple[Proposal, ...] = ()
    graded: bool = True

    @property
    def everything(self) -> bool:
        """Whether no tube and no set is named."""
        return not (self.serials or self.sets or self.proposed)


@dataclass(frozen=True, slots=True, eq=False)
class LotPaper:
    """The tubes and the sets of a lot that were asked for, with their evidence.

    Attributes
    ----------
    name : str
        What the lot file is called.
    sets : tuple of PaperSet
        Those that were not dissolved, then those proposed.
    stopped : bool
        Whether it was stopped before all of the tubes were graded.
    """

    name: str
    tubes: tuple[PaperTube, ...]
    sets: tuple[PaperSet, ...]
    stopped: bool = False


def gather_lot(
    path: Path,
    wanted: Wanted = Wanted(),
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> LotPaper:
    """Return what the papers of a lot are made from.

    Raises
    ------
    CatalogError
        If the file cannot be opened or read, or holds no tube or set that was named.
    GradeRulesError
        If the grade rules cannot be read.
    """
    with open_lot(path, write=False) as opened:
        every, stored_sets = list_tubes(opened), list_sets(opened)
        sets = (
            *(paper_set(item) for item in _chosen_sets(path, stored_sets, wanted)),
            *_proposed_sets(opened, wanted.proposed),
        )
        tubes = _chosen_tubes(path, every, sets, wanted)
        keys = [result.key for tube in tubes for result in tube.results]
        kept, curves = documents(opened, keys), curve_grids(opened, keys)
        grades: dict[int, GradeGiven] = {}
        if wanted.graded:
            grades = grades_of_lot(opened, tubes, progress, should_stop)
    papers = tuple(
        PaperTube(
            stored=tube,
            found=tuple(_found(tube, kept)),
            grade=given.grade,
            not_graded=given.why_not,
            curves={r.section: curves[r.key] for r in swept if r.key in curves},
            bases={r.section: _basis(kept[r.key]) for r in swept},
        )
        for tube in tubes
        for given in (grades.get(tube.key, GradeGiven(None, "it was not asked for")),)
        for swept in ([r for r in tube.results if r.kind is SweepKind.CURVES],)
    )
    return LotPaper(
        name=path.stem,
        tubes=papers,
        sets=sets,
        stopped=should_stop is not None and should_stop(),
    )


def _chosen_sets(path: Path, stored: Sequence[TubeSet], wanted: Wanted) -> tuple[TubeSet, ...]:
    standing = [item for item in stored if item.state is not SetState.DISSOLVED]
    names = {item.name for item in standing}
    for name in wanted.sets:
        if name not in names:
            raise UnknownTubeError(str(path), f"it holds no set {name!r}")
    if wanted.everything:
        return tuple(
            item
            for item in standing
            if wanted.lot is None or any(m.lot == wanted.lot for m in item.members)
        )
    return tuple(
        item
        for item in standing
        if item.name in wanted.sets or any(_is_named(m, wanted) for m in item.members)
    )


def _chosen_tubes(
    path: Path, every: Iterable[StoredTube], sets: Collection[PaperSet], wanted: Wanted
) -> tuple[StoredTube, ...]:
    """Return the tubes asked for, and with sets that are, every tube in them."""
    of_lot = [tube for tube in every]
    in_sets = {(member.serial, member.lot) for item in sets for member in item.members}
    names = {name for tube in of_lot for name in _names(tube.identity)}
    for name in wanted.serials:
        if name not in names:
            raise UnknownTubeError(str(path), f"it holds no tube {name!r}")

    def is_wanted(tube: StoredTube) -> bool:
        identity = tube.identity
        if (identity.serial, identity.lot) in in_sets:
            return True
        if wanted.lot is not None and identity.lot != wanted.lot:
            return False
        return wanted.everything or _is_named(identity, wanted)

    return tuple(tube for tube in of_lot if is_wanted(tube))


def _names(tube: TubeIdentity | SetMember) -> tuple[str, str]:
    """Return what a tube may be called: its serial, or that with its lot."""
    return tube.serial, named_with_lot(tube.serial, tube.lot)


def _is_named(tube: TubeIdentity | SetMember, wanted: Wanted) -> bool:
    return any(name in wanted.serials for name in _names(tube))


def _proposed_sets(opened: LotFile, proposed: Sequence[Proposal]) -> Iterator[PaperSet]:
    for number, item in enumerate(proposed, start=1):
        members = []
        for name in (*item.tubes, *item.spare):
            identity = find_tube(opened, name)[1]
            members.append(SetMember(identity.serial, identity.lot, name in item.spare))
        if len(members) < 2 or len(set(members)) < len(members):
            raise UnknownTubeError(
                str(opened.path), "a set needs two tubes or more, each of them once"
            )
        yield _matched_set(
            PaperSet(f"proposed {number:02d}", tuple(members), proposed=True), item.payload
        )


def _found(tube: StoredTube, kept: dict[int, str]) -> Iterable[Found]:
    for result in tube.results:
        for finding in findings_of_document(kept[result.key]):
            yield Found(result.section, finding)
    for test in tube.hand_tests:
        for finding in findings_of_document(test.document):
            yield Found(test.section, finding, by_hand=True)


def _basis(document: str) -> Basis:
    entry = parsed(document)
    reference = entry.table("reference")
    return Basis(
        family=reference.words("type"),
        stand_in=reference.words("why") == "stand-in",
        bench_assumed=entry.table("bench").flag("assumed"),
    )


def paper_set(stored: TubeSet) -> PaperSet:
    """Return a set of the lot file with what it keeps of the matching."""
    item = PaperSet(stored.name, stored.members, state=stored.state, made_at=stored.made_at)
    return _matched_set(item, stored.payload)


def _matched_set(item: PaperSet, text: str) -> PaperSet:
    """Return a set with what a payload says of the matching, as far as it is understood.

    That is a set of a match's JSON, and under ``by`` the measures it was matched by.
    """
    spread = distinguishable = matched_by = None
    try:
        payload = parsed(text)
        told, by = (payload.values.get(key) for key in ("distinguishable", "by"))
        distinguishable = told if isinstance(told, bool) else None
        measures = by if isinstance(by, list) else [by]
        matched_by = ", ".join(item for item in measures if isinstance(item, str)) or None
        spread = payload.number("spread_pct")
    except DocumentError:  # a payload of another program's making says nothing here
        pass
    return replace(
        item, spread_percent=spread, distinguishable=distinguishable, matched_by=matched_by
    )
