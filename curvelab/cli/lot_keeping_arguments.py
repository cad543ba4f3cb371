"""What may be written after the commands of ``curvelab lot`` that decide and keep."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from curvelab.cli.values import moment_text, percent, positive, words

__all__ = ["add_keeping"]

AddCommand = Callable[[str, str], argparse.ArgumentParser]

_VERDICTS = ("accept", "hold", "reject")


def add_keeping(add: AddCommand) -> None:
    """Add the commands; ``add`` makes one of a name and what it does, with the lot file."""
    grade = add("grade", "grade every tube and keep the grades with the edition of their rules")
    grade.add_argument("--lot", metavar="TEXT", help="only tubes of this lot")
    grade.add_argument("--rules", type=Path, metavar="FILE", help="grade rules (TOML)")
    _add_json(grade, "grades")
    overrule = add("overrule", "set a verdict in place of the measured one, until the next test")
    overrule.add_argument("tube", metavar="SERIAL", help="the tube")
    overrule.add_argument("verdict", choices=_VERDICTS, help="the verdict it is to have")
    overrule.add_argument("--reason", type=words, required=True, metavar="TEXT", help="why")
    overrule.add_argument(
        "--person", type=words, required=True, metavar="NAME", help="who decides so"
    )
    overrule.add_argument("--lot", metavar="TEXT", help="the lot of the tube")
    claims = add("claims", "list the rejects with their reasons, the most urgent first")
    claims.add_argument("--supplier", metavar="TEXT", help="only what this supplier sold")
    _add_json(claims, "claims")
    returned = add("returned", "compare a tube that came back with what it was before")
    returned.add_argument("tube", metavar="SERIAL", help="the tube, its new sweep added already")
    returned.add_argument("--lot", metavar="TEXT", help="the lot of the tube")
    _add_json(returned, "returned")
    _add_check(add)
    bench = add("bench", "say how well the bench repeats itself, and whether it agrees")
    bench.add_argument("--bench", type=Path, metavar="FILE", help="bench description (TOML)")
    bench.add_argument(
        "--against",
        metavar="NAME",
        help="compare with this other bench of the history (default: the same one of an earlier "
        "day)",
    )
    _add_json(bench, "bench-history")


def _add_check(add: AddCommand) -> None:
    check = add("check", "say whether the bench can be trusted today, and keep the check")
    check.add_argument(
        "--golden",
        type=Path,
        nargs="+",
        default=[],
        metavar="PATH",
        help="today's sweeps of the golden tubes",
    )
    check.add_argument("--type", metavar="TYPE", help="their type, instead of the one in the files")
    check.add_argument(
        "--resistor", type=Path, metavar="PATH", help="sweep of a resistor in the tube's place"
    )
    check.add_argument("--ohm", type=positive, metavar="OHM", help="its resistance")
    check.add_argument(
        "--ohm-tolerance", type=percent, metavar="PERCENT", help="how far that may be wrong"
    )
    check.add_argument("--watt", type=positive, metavar="W", help="its rated power, as mounted")
    check.add_argument("--empty", type=Path, metavar="PATH", help="sweep of the empty socket")
    check.add_argument("--bench", type=Path, metavar="FILE", help="bench description (TOML)")
    check.add_argument(
        "--date", type=moment_text, metavar="DATE", help="when it was measured (default: now)"
    )
    check.add_argument(
        "--accept",
        metavar="NAME",
        help="accept the suggested corrections, of this check or of the bench's last one, in your "
        "name: every later 'lot add' applies them",
    )
    check.add_argument(
        "--withdraw", metavar="NAME", help="put the bench's corrections out of force, in your name"
    )
    check.add_argument(
        "--anew",
        metavar="NAME",
        help="let the golden tubes' history start again with this check, in your name",
    )
    _add_json(check, "bench-check")


def _add_json(parser: argparse.ArgumentParser, schema: str) -> None:
    parser.add_argument(
        "--json", metavar="FILE|-", help=f"write the result as JSON (curvelab.{schema}/1)"
    )
