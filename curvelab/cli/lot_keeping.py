"""``curvelab lot grade | overrule | claims | returned | check | bench``: decided and kept."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from datetime import UTC, date, datetime

from curvelab.bench_check.correction import AcceptedCorrection
from curvelab.bench_check.resistor import ResistorStandard
from curvelab.catalog.records import Overrule
from curvelab.cli.bench_history_text import bench_history_text
from curvelab.cli.characterize import write_result
from curvelab.cli.console import Progress, note, show, width
from curvelab.cli.lot_keeping_text import claims_text, grades_text, returned_text, sentences
from curvelab.errors import BenchCheckError
from curvelab.health.records import Verdict
from curvelab.sheets.bench_check_text import bench_check_lines
from curvelab.sheets.bench_history_json import bench_history_document
from curvelab.sheets.claims_json import claims_document, returned_document
from curvelab.sheets.grade_json import grades_document
from curvelab.sheets.results_json import results_text
from curvelab.workbench.bench_check import CheckRequest
from curvelab.workbench.bench_history import bench_history
from curvelab.workbench.lot_bench import Decided, accept_last, check_for_lot, withdraw
from curvelab.workbench.lot_grades import grade_lot
from curvelab.workbench.lot_upkeep import (
    compare_returned,
    list_claims,
    overrule_verdict,
    tube_identity,
)

__all__ = ["KEEPING"]

_STANDARD_OUTPUT = "-"
_DONE, _NOT_READ = 0, 3


def _grade(arguments: Namespace) -> int:
    with Progress("graded") as progress:
        graded = grade_lot(arguments.file, arguments.lot, arguments.rules, progress)
    if arguments.json is not None:
        records = [item.record for item in graded.tubes]
        why_not = [item.given.why_not for item in graded.tubes]
        document = grades_document(graded.rules.title, records, why_not)
        write_result(arguments.json, results_text(document))
    if arguments.json != _STANDARD_OUTPUT:
        show(grades_text(graded, width()))
    return _DONE


def _overrule(arguments: Namespace) -> int:
    overrule = Overrule(
        made_at=datetime.now(UTC),
        verdict=Verdict(arguments.verdict),
        reason=arguments.reason,
        person=arguments.person,
    )
    overrule_verdict(arguments.file, arguments.tube, overrule, arguments.lot)
    show(
        f"{arguments.tube}: {arguments.verdict}, set by {arguments.person}, until it is tested "
        "again\n"
    )
    return _DONE


def _claims(arguments: Namespace) -> int:
    claims = list_claims(arguments.file, date.today(), arguments.supplier)
    if arguments.json is not None:
        write_result(arguments.json, results_text(claims_document(claims)))
    if arguments.json != _STANDARD_OUTPUT:
        show(claims_text(claims, arguments.supplier, width()))
    return _DONE


def _returned(arguments: Namespace) -> int:
    identity = tube_identity(arguments.file, arguments.tube, arguments.lot)
    retests = compare_returned(arguments.file, identity.serial, identity.lot)
    if arguments.json is not None:
        write_result(arguments.json, results_text(returned_document(identity, retests)))
    if arguments.json != _STANDARD_OUTPUT:
        show(returned_text(identity, retests, width()))
    return _DONE


def _check(arguments: Namespace) -> int:
    measured = arguments.golden or arguments.resistor or arguments.empty
    if arguments.withdraw is not None:
        if measured or arguments.accept is not None:
            raise BenchCheckError("--withdraw stands alone: check again once it is done")
        withdrawn = withdraw(arguments.file, arguments.bench, arguments.withdraw)
        return _said("withdrawn", withdrawn)
    if not measured:
        if arguments.accept is None:
            raise BenchCheckError("name what was measured: --golden, --resistor or --empty")
        return _said("in force", accept_last(arguments.file, arguments.bench, arguments.accept))
    with Progress("checked") as progress:
        kept = check_for_lot(
            arguments.file,
            _check_request(arguments),
            Decided(arguments.accept, arguments.anew),
            progress,
        )
    for error in kept.result.errors:
        note(f"{error.file}: {error.reason}")
    if arguments.json is not None:
        write_result(arguments.json, results_text(kept.document))
    if arguments.json != _STANDARD_OUTPUT:
        show(sentences(bench_check_lines(kept.result.check), width()))
        _said("in force from now on", kept.accepted)
    return _NOT_READ if kept.result.errors else _DONE


def _bench(arguments: Namespace) -> int:
    history = bench_history(arguments.file, arguments.bench, arguments.against)
    if arguments.json is not None:
        write_result(arguments.json, results_text(bench_history_document(history)))
    if arguments.json != _STANDARD_OUTPUT:
        show(bench_history_text(history, width()))
    return _DONE


def _check_request(arguments: Namespace) -> CheckRequest:
    stated = (arguments.ohm, arguments.ohm_tolerance, arguments.watt)
    if any(item is None for item in stated) != (arguments.resistor is None) or (
        arguments.resistor is None and any(item is not None for item in stated)
    ):
        raise BenchCheckError("--resistor, --ohm, --ohm-tolerance and --watt go together")
    return CheckRequest(
        date=arguments.date or datetime.now(UTC).isoformat(timespec="seconds"),
        golden=tuple(arguments.golden),
        resistor=arguments.resistor,
        standard=None if arguments.resistor is None else ResistorStandard(*stated),
        empty_socket=arguments.empty,
        bench=arguments.bench,
        type_name=arguments.type,
    )


def _said(what: str, corrections: tuple[AcceptedCorrection, ...]) -> int:
    for item in corrections:
        words = f"{item.correction.bench}: {item.correction.words}"
        show(f"{what}: {words} (accepted by {item.accepted_by}, {item.accepted_on})\n")
    return _DONE


KEEPING: dict[str, Callable[[Namespace], int]] = {
    "grade": _grade,
    "overrule": _overrule,
    "claims": _claims,
    "returned": _returned,
    "check": _check,
    "bench": _bench,
}
