"""What may be written on the command line.

Nothing numeric is imported here, so that help and usage errors come at once.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from pathlib import Path

from curvelab import __version__
from curvelab.cli.lot_arguments import add_lot
from curvelab.cli.values import POINT, count, point, positive, volts
from curvelab.sheets.wording import CAUTIONS

__all__ = ["parse"]

_EXIT_STATUS = (
    "Exit status: 0 done (rows set aside are counted on standard error); 1 a result could not be "
    "written, drawn or shown; 2 wrong usage, an unknown type or bench description included; "
    "3 a whole file could not be read, and the rest was done and written. "
)


def parse(argv: Sequence[str] | None = None) -> argparse.Namespace:
    """Return the arguments; ``command`` is None where none was named.

    Raises
    ------
    SystemExit
        Status 2 on wrong usage; status 0 after help or version.
    """
    parser = argparse.ArgumentParser(
        prog="curvelab",
        description="From the CSV sweeps of a tube bench to constants, findings, verdicts and "
        "sheets. Without a command the window opens.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"curvelab {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    characterize = _add_characterize(commands)
    constants = _add_constants(commands)
    _add_netlist(commands)
    _add_stage(commands)
    types = commands.add_parser(
        "types", help="list the types of the library, or one in full", allow_abbrev=False
    )
    types.add_argument("name", nargs="?", metavar="NAME", help="a type or one of its other names")
    types.add_argument("--json", action="store_true", help="as JSON")
    _add_own_types(commands)
    _add_substitute(commands)
    identify = commands.add_parser(
        "identify",
        help="rank the types of the library by how well they explain a sweep",
        description="For tubes without a label: which type of the library has such curves?",
        allow_abbrev=False,
    )
    identify.add_argument(
        "paths", nargs="+", type=Path, metavar="PATH", help="sweep file or folder"
    )
    _add_bench(identify)
    identify.add_argument("--json", action="store_true", help="as JSON")
    commands.add_parser("samples", help="print the folder of the sample sweeps", allow_abbrev=False)
    window = commands.add_parser("window", help="open the window", allow_abbrev=False)
    window.add_argument("paths", nargs="*", type=Path, metavar="PATH", help="what to open in it")
    _add_bench(window)

    adding = add_lot(commands)

    arguments, late = parser.parse_known_args(argv)
    if late and not _taken_late(arguments, late):
        parser.error(f"unrecognized arguments: {' '.join(late)}")
    for command, owner in (("characterize", characterize), ("constants", constants)):
        if arguments.command == command and arguments.json == arguments.csv == "-":
            owner.error("only one of --json and --csv can go to standard output")
    if getattr(arguments, "lot_command", None) == "add":
        if not arguments.paths and arguments.hand_tests is None:
            adding.error("name what to add: a PATH or --hand-tests")
    return arguments


def _taken_late(arguments: argparse.Namespace, late: list[str]) -> bool:
    """Give what stands after an option to an argument that may be left out or repeated.

    argparse takes such an argument for finished as soon as an option comes.
    """
    command = getattr(arguments, "lot_command", arguments.command)
    if any(word.startswith("-") for word in late):
        return False
    if command in ("add", "window"):
        arguments.paths = [*arguments.paths, *map(Path, late)]
        return True
    if command == "mate" and len(late) == 1 and arguments.tube is None:
        (arguments.tube,) = late
        return True
    return False


def _add_characterize(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
) -> argparse.ArgumentParser:
    parser = commands.add_parser(
        "characterize",
        help="read, fit, compare and judge every tube",
        description="Read sweep files, drift logs or folders of them; print constants, findings "
        "and verdicts, or write them.",
        epilog=_EXIT_STATUS + " ".join(CAUTIONS),
        allow_abbrev=False,
    )
    _add_input(parser)
    parser.add_argument(
        "--reference", metavar="TYPE", help="compare with this type's family, as a stand-in"
    )
    parser.add_argument(
        "--reference-curves",
        type=Path,
        metavar="FILE",
        help="compare with these readings of published curves (a CSV in any shape)",
    )
    parser.add_argument(
        "--predict",
        type=point,
        metavar=POINT,
        action="append",
        default=[],
        help="plate current of the fitted family there; may be repeated",
    )
    parser.add_argument("--json", metavar="FILE|-", help="write the results as JSON")
    parser.add_argument("--csv", metavar="FILE|-", help="write a table of the lot, a row a tube")
    parser.add_argument("--sheets", type=Path, metavar="DIR", help="write a PDF sheet per tube")
    return parser


def _add_constants(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
) -> argparse.ArgumentParser:
    parser = commands.add_parser(
        "constants",
        help="give gm, rp and mu as functions of plate current, or over the plane",
        description="Read and fit as 'characterize' does; print transconductance, plate resistance "
        "and amplification factor against plate current at a constant plate voltage, or write "
        "them, each with its uncertainty; where the readings do not cover a point there is none.",
        epilog=_EXIT_STATUS + " ".join(CAUTIONS),
        allow_abbrev=False,
    )
    _add_input(parser)
    parser.add_argument(
        "--plate",
        type=volts,
        action="append",
        default=[],
        metavar="VP",
        help="plate voltage, instead of the operating point's; may be repeated",
    )
    parser.add_argument(
        "--plane", action="store_true", help="the whole swept plane too, in the files written"
    )
    parser.add_argument("--json", metavar="FILE|-", help="write them as JSON")
    parser.add_argument("--csv", metavar="FILE|-", help="write a table, a row a point")
    return parser


def _add_netlist(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "netlist",
        help="write every tube as a subcircuit for a circuit simulator",
        description="Read and fit as 'characterize' does; write the fitted family of each tube as "
        "a SPICE subcircuit with the pins plate, grid and cathode, a file a tube, and print the "
        "names of the files. Outside the readings such a tube is extrapolated.",
        epilog=_EXIT_STATUS + " ".join(CAUTIONS),
        allow_abbrev=False,
    )
    _add_input(parser)
    parser.add_argument("--out", type=Path, metavar="DIR", required=True, help="where to write")


def _add_stage(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "stage",
        help="try every tube in a single-ended class A stage",
        description="Read and fit as 'characterize' does; print the output power and the harmonics "
        "that each tube's own curves give at its operating point into a load. A tube that would "
        "rest above a rating of its type is given no figures, only the rating.",
        epilog=_EXIT_STATUS + " ".join(CAUTIONS),
        allow_abbrev=False,
    )
    _add_input(parser)
    parser.add_argument(
        "--load", type=positive, metavar="OHM", required=True, help="load as the plate sees it"
    )
    parser.add_argument(
        "--signal",
        type=positive,
        metavar="V",
        help="peak grid volts, instead of all that the bias allows",
    )


def _add_input(parser: argparse.ArgumentParser) -> None:
    """Add what every command that reads sweeps understands."""
    parser.add_argument(
        "paths", nargs="+", type=Path, metavar="PATH", help="sweep file, drift log or folder"
    )
    parser.add_argument("--type", metavar="TYPE", help="instead of the type that a file names")
    parser.add_argument(
        "--at",
        type=point,
        metavar=POINT,
        help="operating point in volts, instead of the type's own",
    )
    _add_bench(parser)
    parser.add_argument(
        "--workers",
        type=count,
        metavar="N",
        help="processes to share the work (default: as many as pay)",
    )


def _add_bench(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--bench",
        type=Path,
        metavar="FILE",
        help="bench description (TOML): its meters' limits of error, and how its files are read",
    )


def _add_own_types(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "own-types",
        help="list, copy, check, import or export types of your own, or add curves",
        description="Types of your own are files in your data folder, which no upgrade touches. "
        "Without an action they are listed.",
        allow_abbrev=False,
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    copy = actions.add_parser(
        "copy", help="make a file for a new type from a near one's", allow_abbrev=False
    )
    copy.add_argument("near", metavar="NEAR", help="the type that is copied")
    copy.add_argument("name", metavar="NAME", help="the new type")
    check = actions.add_parser("check", help="say whether files keep the rules", allow_abbrev=False)
    take = actions.add_parser("import", help="take files into your types", allow_abbrev=False)
    for action in (check, take):
        action.add_argument("files", nargs="+", type=Path, metavar="FILE", help="type file (TOML)")
    take.add_argument("--replace", action="store_true", help="also where you have the type already")
    export = actions.add_parser(
        "export", help="write a type's file, with its sources, to give away", allow_abbrev=False
    )
    export.add_argument("name", metavar="NAME", help="a type or one of its other names")
    export.add_argument("file", metavar="FILE|-", help="where to")
    curves = actions.add_parser(
        "curves",
        help="put curves that you read off a sheet into a type of yours",
        allow_abbrev=False,
    )
    curves.add_argument("name", metavar="NAME", help="the type")
    curves.add_argument("file", type=Path, metavar="FILE", help="readings, in any shape of a sweep")
    curves.add_argument(
        "--source", required=True, metavar="TITLE", help="publication, edition, page or sheet, date"
    )
    curves.add_argument(
        "--accuracy", required=True, metavar="TEXT", help="how closely they could be read off"
    )


def _add_substitute(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser(
        "substitute",
        help="say whether one type may stand in for another",
        description="Two types side by side: heater, base, ratings, and both in one circuit. "
        "Without --at the first type's bogey point serves, and any lower rating counts against.",
        epilog=" ".join(CAUTIONS),
        allow_abbrev=False,
    )
    parser.add_argument("old", metavar="FOR", help="the type the amplifier was built for")
    parser.add_argument("new", metavar="WITH", help="the type that is to go in")
    parser.add_argument(
        "--at",
        type=_place,
        metavar="VP,VG[,VS]",
        help="where that amplifier runs the first; a pentode without VS is taken as a triode",
    )
    parser.add_argument(
        "--plate-ohm",
        type=_ohm,
        default=0.0,
        metavar="OHM",
        help="direct-current resistance of the plate circuit",
    )
    parser.add_argument("--json", action="store_true", help="as JSON")


def _place(text: str) -> tuple[float, ...]:
    """Return the voltages of ``250,-8`` or ``250,-7.3,250``; plate and screen are positive."""
    found = point(text)
    if found[0] <= 0 or min(found[2:], default=1.0) <= 0:
        raise argparse.ArgumentTypeError(f"{text!r} is no place: plate and screen are above 0 V")
    return found


def _ohm(text: str) -> float:
    """Return a resistance of zero or more."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value < math.inf:
        raise argparse.ArgumentTypeError(f"{text!r} is not a resistance in ohm")
    return value
