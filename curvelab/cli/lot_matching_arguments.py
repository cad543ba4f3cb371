"""What may be written after ``curvelab lot match | mate | sets``."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable

from curvelab.cli.lot_paper_arguments import add_page
from curvelab.cli.values import count, file_ending, percent, point, positive

__all__ = ["add_matching", "figures"]

AddCommand = Callable[[str, str], argparse.ArgumentParser]

_WITH = re.compile(r"\s*(?:±|\+-)\s*")


def add_matching(add: AddCommand) -> None:
    """Add the commands; ``add`` makes one of a name and what it does, with the lot file."""
    _add_match(add)
    _add_mate(add)
    sets = add("sets", "list the sets of a lot file, lock one by hand, sell one, undo one")
    doing = sets.add_mutually_exclusive_group()
    doing.add_argument("--lock", metavar="NAME", help="keep the tubes named together under NAME")
    doing.add_argument("--sold", metavar="NAME", help="mark a set as sold")
    doing.add_argument("--undo", metavar="NAME", help="let the tubes of a set go again")
    sets.add_argument(
        "--tube",
        action="append",
        default=[],
        metavar="SERIAL",
        help="a tube to lock; may be repeated",
    )
    sets.add_argument("--lot", metavar="TEXT", help="the lot of the tubes to lock")
    _add_json(sets, "sets")


def _add_match(add: AddCommand) -> None:
    match = add("match", "find the most and tightest sets of matched tubes")
    match.add_argument(
        "--size", type=count, default=2, metavar="N", help="tubes of a set (default: %(default)s)"
    )
    match.add_argument(
        "--spare",
        type=count,
        nargs="?",
        const=1,
        default=0,
        metavar="N",
        help="spares that match all of a set; without a number one",
    )
    match.add_argument(
        "--type", action="append", default=[], metavar="TYPE", help="only this; may be repeated"
    )
    _add_how(match)
    match.add_argument(
        "--sections",
        action="store_true",
        help="match the two sections of each dual tube, not tubes",
    )
    match.add_argument(
        "--all-sections",
        action="store_true",
        help="let every section of a set match every other, not its namesake alone",
    )
    match.add_argument(
        "--across", nargs=2, metavar="LOT", help="let every set hold tubes of both these lots"
    )
    match.add_argument(
        "--what-if", action="store_true", help="also count the sets at 2, 5 and 10 percent"
    )
    match.add_argument(
        "--keep", metavar="NAME", help="lock the new sets in the lot file as NAME 01, NAME 02, ..."
    )
    match.add_argument(
        "--sheets",
        type=file_ending(".pdf"),
        metavar="OUT",
        help="write a sheet a set as PDF, kept or not",
    )
    add_page(match)
    match.add_argument(
        "--time-limit",
        type=positive,
        default=20.0,
        metavar="S",
        help="for the search, in seconds (default: %(default)g)",
    )
    _add_json(match, "matches")


def _add_mate(add: AddCommand) -> None:
    mate = add("mate", "rank the stock against one tube")
    mate.add_argument("tube", nargs="?", metavar="SERIAL", help="a tube of the lot file")
    mate.add_argument("--of-lot", metavar="TEXT", help="the lot of that tube")
    mate.add_argument(
        "--figures",
        type=figures,
        metavar="VP,VG,MA[,MA/V]",
        help="a tube known by its figures only, such as 250,-8,9.1+-0.2,2.6+-0.1; MA may be left "
        "empty",
    )
    mate.add_argument("--type", metavar="TYPE", help="its type, with --figures")
    mate.add_argument(
        "--screen",
        type=positive,
        metavar="V",
        help="its screen voltage, with --figures of a tube that was not connected as a triode",
    )
    _add_how(mate)
    _add_json(mate, "mates")


def _add_how(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--by",
        choices=("point", "curve", "both"),
        default="point",
        help="compare plate current and transconductance at the operating point, whole curves, or "
        "both (default: %(default)s)",
    )
    parser.add_argument(
        "--tolerance",
        type=percent,
        default=0.05,
        metavar="PERCENT",
        help="largest difference within a set, in percent of the mean of two (default: 5)",
    )
    parser.add_argument(
        "--guarded",
        action="store_true",
        help="count the uncertainty of a difference against it",
    )
    parser.add_argument(
        "--balance",
        type=percent,
        metavar="PERCENT",
        help="leave out tubes whose sections differ by more in plate current",
    )
    parser.add_argument(
        "--lot", action="append", default=[], metavar="TEXT", help="only this lot; may be repeated"
    )
    parser.add_argument(
        "--grade",
        action="append",
        default=[],
        metavar="WORD",
        help="only tubes that 'lot grade' called so; may be repeated",
    )
    parser.add_argument("--held", action="store_true", help="let tubes on hold take part")


def _add_json(parser: argparse.ArgumentParser, schema: str) -> None:
    parser.add_argument(
        "--json", metavar="FILE|-", help=f"write the result as JSON (curvelab.{schema}/1)"
    )


Figure = tuple[float, float | None]


def figures(text: str) -> tuple[tuple[float, float], Figure | None, Figure | None]:
    """Return point [V], plate current [mA] and transconductance [mA/V] of what is written.

    Each of the two is a value with its uncertainty, or None where it is left out.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) not in (3, 4) or not any(parts[2:]):
        raise _no_figures(text)
    at = point(",".join(parts[:2]))
    known = [_figure(part, text) for part in (*parts[2:], "")[:2]]
    return (at[0], at[1]), known[0], known[1]


def _figure(part: str, text: str) -> Figure | None:
    if not part:
        return None
    values = _WITH.split(part)
    if len(values) > 2:
        raise _no_figures(text)
    value, u95 = positive(values[0]), positive(values[1]) if len(values) == 2 else None
    return value, u95


def _no_figures(text: str) -> argparse.ArgumentTypeError:
    return argparse.ArgumentTypeError(
        f"{text!r} are no figures: write plate and grid volts, plate current in mA and "
        "transconductance in mA/V, each with its uncertainty where it is known, as in "
        "250,-8,9.1+-0.2,2.6"
    )
