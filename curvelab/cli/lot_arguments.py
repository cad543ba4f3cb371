"""What may be written after ``curvelab lot``."""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path

from curvelab.cli.lot_keeping_arguments import add_keeping
from curvelab.cli.lot_matching_arguments import add_matching
from curvelab.cli.lot_paper_arguments import add_papers
from curvelab.cli.values import POINT, amount, count, day, point

__all__ = ["add_lot"]

_EXIT_STATUS = (
    "Exit status: 0 done; 1 the lot file cannot be opened, read or changed, or a result cannot be "
    "written; 2 wrong usage, an unknown type or bench description included; 3 a whole file could "
    "not be read or filed, and the rest was done."
)
_LABELS = (
    ("--lot", "lot", "name of the lot the tubes came in"),
    ("--box", "box", "box they are kept in"),
    ("--shelf", "shelf", "shelf the box stands on"),
    ("--supplier", "supplier", "who sold them"),
    ("--mark", "maker_mark", "what is printed on them, as free text"),
    ("--note", "note", "anything else"),
)


def add_lot(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
) -> argparse.ArgumentParser:
    """Add the command ``lot`` with its own commands, and return the parser of ``lot add``."""
    lot = commands.add_parser(
        "lot",
        help="keep tubes with their history in a lot file",
        description="A lot file keeps tubes, their sweeps and all that was made of them.",
        allow_abbrev=False,
    )
    inner = lot.add_subparsers(dest="lot_command", metavar="COMMAND", required=True)
    _add_create(inner)
    adding = _add_add(inner)
    listing = _command(inner, "list", "show the tubes as they stand")
    listing.add_argument("--json", metavar="FILE|-", help="write them as JSON (curvelab.lot/1)")
    export = _command(inner, "export", "write all that the file holds as JSON (curvelab.lot/1)")
    export.add_argument("out", metavar="OUT", help="file to write, or - for standard output")
    add_keeping(partial(_command, inner))
    add_matching(partial(_command, inner))
    add_papers(partial(_command, inner))
    return adding


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, says: str
) -> argparse.ArgumentParser:
    parser = commands.add_parser(
        name,
        help=says,
        description=f"{says[:1].upper()}{says[1:]}.",
        epilog=_EXIT_STATUS,
        allow_abbrev=False,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the lot file")
    return parser


def _add_create(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = _command(commands, "create", "make an empty lot file")
    parser.add_argument(
        "--salvage",
        type=Path,
        metavar="DAMAGED",
        help="fill it with what can still be read of a damaged one, and list what is lost",
    )


def _add_add(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
) -> argparse.ArgumentParser:
    parser = _command(commands, "add", "judge sweeps and logs and file them with their bytes")
    parser.add_argument(
        "paths",
        nargs="*",
        type=Path,
        metavar="PATH",
        help="sweep file, drift log, folder, or the export of a lot (.json)",
    )
    for option, name, says in _LABELS:
        parser.add_argument(option, dest=name, metavar="TEXT", help=f"{says}; for all of them")
    parser.add_argument("--cost", type=amount, metavar="AMOUNT", help="what each of them cost")
    parser.add_argument("--price", type=amount, metavar="AMOUNT", help="what is asked for each")
    parser.add_argument(
        "--return-by", type=day, metavar="DATE", help="until when the supplier takes them back"
    )
    parser.add_argument(
        "--hand-tests",
        type=Path,
        metavar="TABLE",
        help="enter a CSV table of hand tests, a row a tube, once the sweeps are filed",
    )
    parser.add_argument(
        "--again",
        action="store_true",
        help="judge files that the lot holds once more, as a new entry of their history",
    )
    parser.add_argument("--type", metavar="TYPE", help="instead of the type that a file names")
    parser.add_argument(
        "--reference", metavar="TYPE", help="compare with this type's family, as a stand-in"
    )
    parser.add_argument(
        "--at", type=point, metavar=POINT, help="operating point, instead of the type's own"
    )
    parser.add_argument("--bench", type=Path, metavar="FILE", help="bench description (TOML)")
    parser.add_argument(
        "--json", metavar="FILE|-", help="write the results of what was added as JSON"
    )
    parser.add_argument(
        "--workers",
        type=count,
        metavar="N",
        help="processes to share the work (default: as many as pay)",
    )
    return parser
