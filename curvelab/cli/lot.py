"""``curvelab lot``: make a lot file, fill it, list it, take it out whole."""

from __future__ import annotations

from argparse import Namespace

from curvelab.catalog.records import TubeIdentity
from curvelab.cli.characterize import write_result
from curvelab.cli.console import Progress, note, show, width
from curvelab.cli.lot_keeping import KEEPING
from curvelab.cli.lot_list_text import lot_list_text
from curvelab.cli.lot_matching import MATCHING
from curvelab.cli.lot_papers import PAPERS
from curvelab.cli.lot_text import lot_text
from curvelab.cli.not_read import note_what_was_not_read
from curvelab.sheets.lot_json import lot_export_text, lot_list_document
from curvelab.sheets.results_json import results_document, results_text
from curvelab.workbench.characterize import Request
from curvelab.workbench.lot_file import (
    Added,
    Addition,
    add_to_lot,
    create_lot,
    list_lot,
    salvage_lot,
    whole_lot,
)

__all__ = ["run"]

_STANDARD_OUTPUT = "-"
_DONE, _NOT_READ = 0, 3


def run(arguments: Namespace) -> int:
    """Run one command on a lot file and return the exit status."""
    own = {"create": _create, "add": _add, "list": _list, "export": _export}
    return {**own, **KEEPING, **MATCHING, **PAPERS}[arguments.lot_command](arguments)


def _create(arguments: Namespace) -> int:
    if arguments.salvage is None:
        create_lot(arguments.file)
        return _DONE
    saved = salvage_lot(arguments.salvage, arguments.file)
    for sentence in saved.lost:
        note(f"{arguments.salvage}: {sentence}")
    counts = ", ".join(f"{count} {table.replace('_', ' ')}" for table, count in saved.kept.items())
    show(f"saved: {counts}\nlost: {len(saved.lost)}\n")
    return _NOT_READ if saved.lost else _DONE


def _addition(arguments: Namespace) -> Addition:
    """Return what is to be added, and how it is judged."""
    request = Request(
        paths=tuple(arguments.paths),
        type_name=arguments.type,
        reference=arguments.reference,
        at=arguments.at,
        bench=arguments.bench,
        workers=arguments.workers,
    )
    labels = TubeIdentity(
        serial="",
        lot=arguments.lot or "",
        maker_mark=arguments.maker_mark,
        box=arguments.box,
        shelf=arguments.shelf,
        supplier=arguments.supplier,
        cost=arguments.cost,
        price=arguments.price,
        return_by=arguments.return_by,
        note=arguments.note,
    )
    return Addition(request, labels, again=arguments.again, hand_tests=arguments.hand_tests)


def _add(arguments: Namespace) -> int:
    with Progress() as progress:
        added = add_to_lot(arguments.file, _addition(arguments), progress)
    note_what_was_not_read(added.batch)
    for row in sorted(added.not_entered, key=lambda row: row.line):
        note(f"{row.file}, line {row.line}: not entered, {row.reason}")
    for sentence in added.notices:
        note(sentence)
    if arguments.json is not None:
        batch = added.batch
        set_aside = (*batch.set_aside, *added.not_entered)
        document = results_document(batch.assessments, set_aside, batch.errors)
        write_result(arguments.json, results_text(document))
    if arguments.json != _STANDARD_OUTPUT:
        table = lot_text(added.batch, width()) if added.batch.assessments else ""
        show(table + ("\n" if table else "") + _summary(added))
    return _NOT_READ if added.batch.errors else _DONE


def _summary(added: Added) -> str:
    """Say what was filed and what was not."""
    lines = [f"filed: {added.filed}"]
    if added.judged_again:
        lines.append(f"judged again: {added.judged_again}")
    elif added.known:
        lines.append(f"in the lot already, left as they are: {len(added.known)}")
    if added.tested_by_hand:
        lines.append(f"hand tests entered: {added.tested_by_hand}")
    lines += [
        f"taken in from an export: {item.tubes} new tubes, {item.sources} files "
        f"({item.known} known already)"
        for item in added.merged
    ]
    return "".join(f"{line}\n" for line in lines)


def _list(arguments: Namespace) -> int:
    listing = list_lot(arguments.file)
    if listing.newer:
        note(f"{arguments.file}: a newer curvelab made this file; it is only read here")
    if arguments.json is not None:
        write_result(arguments.json, results_text(lot_list_document(listing.tubes)))
    if arguments.json != _STANDARD_OUTPUT:
        show(lot_list_text(listing.tubes, width()))
    return _DONE


def _export(arguments: Namespace) -> int:
    write_result(arguments.out, lot_export_text(whole_lot(arguments.file)))
    return _DONE
