"""What may be written after the commands of ``curvelab lot`` that write papers."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from curvelab.cli.values import count, file_ending

__all__ = ["add_page", "add_papers"]

AddCommand = Callable[[str, str], argparse.ArgumentParser]

_MARKS = ("none", "outline", "crop")
_PAGES = ("A4", "Letter")


def add_papers(add: AddCommand) -> None:
    """Add the commands; ``add`` makes one of a name and what it does, with the lot file."""
    report = add("report", "write a report: counts, histograms, rejects with reasons, sets, tubes")
    report.add_argument(
        "out",
        type=file_ending(".pdf", ".csv", ".xlsx"),
        metavar="OUT",
        help="a .pdf to print, or a .csv or .xlsx to work with",
    )
    add_page(report)
    sheets = add("set-sheets", "write a sheet a set: curves over one another, figures side by side")
    sheets.add_argument("out", type=file_ending(".pdf"), metavar="OUT", help="PDF file")
    sheets.add_argument(
        "--together",
        action="append",
        nargs="+",
        default=[],
        metavar="SERIAL",
        help="one sheet of these tubes, although no set holds them; may be repeated",
    )
    add_page(sheets)
    labels = add("labels", "write labels for sheets of stickers, with a QR code of the figures")
    labels.add_argument("out", type=file_ending(".pdf"), metavar="OUT", help="PDF file")
    labels.add_argument(
        "--sheet",
        default="70x37",
        metavar="NAME",
        help="the sheet by its dimensions (default: %(default)s, mm)",
    )
    labels.add_argument(
        "--sheets-file", type=Path, metavar="TOML", help="file that describes sheets"
    )
    labels.add_argument(
        "--start",
        type=count,
        default=1,
        metavar="N",
        help="first label left on the first sheet, counted row by row from 1",
    )
    labels.add_argument(
        "--marks",
        choices=_MARKS,
        default=_MARKS[0],
        help="show the labels' edges, for a test print (default: %(default)s)",
    )
    listing = add("listing", "write text and a picture for a shop, of each set and each other tube")
    listing.add_argument("out", type=Path, metavar="DIR", help="folder to write to")
    for parser in (report, sheets, labels, listing):
        _add_choice(parser)


def add_page(parser: argparse.ArgumentParser) -> None:
    """Add what paper a PDF is for."""
    parser.add_argument("--page", choices=_PAGES, help="paper (default: that of the locale)")


def _add_choice(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--tube",
        action="append",
        default=[],
        metavar="SERIAL",
        help="only this tube and its set; may be repeated",
    )
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME",
        help="only this set; may be repeated",
    )
    parser.add_argument("--lot", metavar="TEXT", help="only tubes of this lot")
    parser.add_argument(
        "--no-grades",
        action="store_true",
        help="leave out the grades, for which every sweep is judged again",
    )
