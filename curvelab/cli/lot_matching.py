"""``curvelab lot match | mate | sets``: what belongs together."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from curvelab.catalog.records import SetMember, SetState, TubeSet
from curvelab.cli.characterize import write_result
from curvelab.cli.console import Progress, note, show, width
from curvelab.cli.lot_matching_arguments import Figure
from curvelab.cli.lot_matching_text import matches_text, mates_text, sets_text
from curvelab.cli.lot_papers import write_set_sheets
from curvelab.errors import MatchingInputError
from curvelab.matching.records import BY_BOTH, BY_CURVE, BY_POINT, MatchRequest, Measured
from curvelab.quantities import MILLIAMPERE, MILLIAMPERE_PER_VOLT, Unit
from curvelab.sheets.match_json import matches_document, mates_document
from curvelab.sheets.results_json import results_text
from curvelab.sheets.sets_json import sets_document
from curvelab.workbench.lot_matching import (
    GivenFigures,
    LotSets,
    SetsWanted,
    Stock,
    find_mates,
    find_mates_of_figures,
    match_lot_file,
)
from curvelab.workbench.lot_paper import Wanted, proposal_of
from curvelab.workbench.lot_upkeep import change_set, lock_set, standing_sets, tube_identity

__all__ = ["MATCHING"]

_STANDARD_OUTPUT = "-"
_DONE = 0
_BY = {"point": BY_POINT, "curve": BY_CURVE, "both": BY_BOTH}


def _match(arguments: Namespace) -> int:
    across = None if arguments.across is None else (arguments.across[0], arguments.across[1])
    request = MatchRequest(
        size=arguments.size,
        spare=arguments.spare,
        tolerance=arguments.tolerance,
        measures=_BY[arguments.by],
        all_sections=arguments.all_sections,
        section_balance=arguments.balance,
        across=across,
        guarded=arguments.guarded,
        time_limit=arguments.time_limit,
    )
    wanted = SetsWanted(
        request,
        replace(_stock(arguments), types=tuple(arguments.type)),
        one_tube=arguments.sections,
        counted=arguments.what_if,
        keep=arguments.keep,
    )
    if arguments.sheets is not None and arguments.sections:
        raise MatchingInputError("--sheets are of sets of tubes, and --sections makes none")
    with Progress("matched") as progress:
        found = match_lot_file(arguments.file, wanted, progress)
    if arguments.json is not None:
        document = matches_document(
            found.result, found.request, found.held, found.lot.regions, found.counts
        )
        write_result(arguments.json, results_text(document))
    if arguments.json != _STANDARD_OUTPUT:
        show(matches_text(found, width()))
    if arguments.sheets is not None:
        if found.result.sets:
            write_set_sheets(
                arguments.file, _wanted_sheets(found), arguments.sheets, arguments.page
            )
        else:
            note(f"{arguments.file}: no set was found, so no sheet is written")
    return _DONE


def _wanted_sheets(found: LotSets) -> Wanted:
    """Return the sets of a match: those that the lot file holds by name, the others as proposed."""
    pairs = list(zip(found.result.sets, found.names, strict=True))
    return Wanted(
        sets=tuple(name for _, name in pairs if name is not None),
        proposed=tuple(proposal_of(one, found.request) for one, name in pairs if name is None),
    )


def _mate(arguments: Namespace) -> int:
    request = MatchRequest(
        tolerance=arguments.tolerance,
        measures=_BY[arguments.by],
        section_balance=arguments.balance,
        guarded=arguments.guarded,
    )
    stock = _stock(arguments)
    if arguments.screen is not None and arguments.figures is None:
        raise MatchingInputError("--screen goes with --figures")
    if (arguments.tube is None) == (arguments.figures is None):
        raise MatchingInputError("name one tube of the lot file, or its --figures")
    if arguments.figures is None:
        ranking, asked = find_mates(
            arguments.file, arguments.tube, request, stock, arguments.of_lot
        )
    else:
        if arguments.type is None:
            raise MatchingInputError("say with --type of which type the figures are")
        at, current, slope = arguments.figures
        given = GivenFigures(
            arguments.type,
            at,
            _measured(current, MILLIAMPERE),
            _measured(slope, MILLIAMPERE_PER_VOLT),
            arguments.screen,
        )
        ranking, asked = find_mates_of_figures(arguments.file, given, request, stock)
    if arguments.json is not None:
        write_result(arguments.json, results_text(mates_document(ranking, asked)))
    if arguments.json != _STANDARD_OUTPUT:
        show(mates_text(ranking, width()))
    return _DONE


def _measured(figure: Figure | None, unit: Unit) -> Measured | None:
    if figure is None:
        return None
    value, u95 = figure
    return Measured(unit.to_si(value), None if u95 is None else unit.to_si(u95))


def _stock(arguments: Namespace) -> Stock:
    return Stock(lots=tuple(arguments.lot), grades=tuple(arguments.grade), with_held=arguments.held)


def _sets(arguments: Namespace) -> int:
    if bool(arguments.tube) != (arguments.lock is not None):
        raise MatchingInputError("--lock NAME and the --tube of the set go together")
    if arguments.lock is not None:
        lock_set(arguments.file, _by_hand(arguments))
    for name, state in (
        (arguments.sold, SetState.SOLD),
        (arguments.undo, SetState.DISSOLVED),
    ):
        if name is not None:
            change_set(arguments.file, name, state)
            note(f"the set {name!r} is {state.value}")
    sets, verdicts = standing_sets(arguments.file)
    if arguments.json is not None:
        write_result(arguments.json, results_text(sets_document(sets, verdicts)))
    if arguments.json != _STANDARD_OUTPUT:
        show(sets_text(sets, verdicts, width()))
    return _DONE


def _by_hand(arguments: Namespace) -> TubeSet:
    """Return a set of the tubes that a person names, in whichever lot they are."""
    members = []
    for serial in arguments.tube:
        identity = tube_identity(arguments.file, serial, arguments.lot)
        members.append(SetMember(identity.serial, identity.lot))
    return TubeSet(arguments.lock, SetState.LOCKED, tuple(members), datetime.now(UTC))


MATCHING: dict[str, Callable[[Namespace], int]] = {"match": _match, "mate": _mate, "sets": _sets}
