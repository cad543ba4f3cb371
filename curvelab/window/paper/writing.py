"""Writing the papers of a lot: run in a thread beside the window."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

from curvelab.drawing.export import save_page_png, save_pages_pdf
from curvelab.errors import OutputError
from curvelab.sheets.output import make_folder, write_output
from curvelab.sheets.paged import PagedDocument
from curvelab.window.paper.about import About
from curvelab.workbench.lot_documents import (
    listings_of_lot,
    report_of_lot,
    sheets_of_sets,
    tables_of_lot,
)
from curvelab.workbench.lot_paper import gather_lot

__all__ = [
    "listing_words",
    "report_pages",
    "set_pages",
    "write_listings",
    "write_report",
    "write_set_sheets",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_TABLES = (".csv", ".xlsx")


def write_report(
    lot: Path, about: About, target: Path, progress: Progress, should_stop: ShouldStop
) -> bool:
    """Write the report of a lot, as a table where the target's name ends so, else as PDF.

    Returns False, with nothing written, where it was stopped.

    Raises
    ------
    CatalogError, GradeRulesError
        If the lot file, or the grade rules, cannot be read.
    OutputError
        If the file cannot be written.
    """
    if target.suffix.casefold() not in _TABLES:
        return _write_pages(report_pages(lot, about, progress, should_stop), about, target)
    paper = gather_lot(lot, about.wanted, progress, should_stop)
    if paper.stopped:
        return False
    write_output(target, tables_of_lot(paper, target, date.today()))
    return True


def write_set_sheets(
    lot: Path, about: About, target: Path, progress: Progress, should_stop: ShouldStop
) -> bool:
    """Write a sheet a set into one PDF; raises and returns as `write_report` does."""
    return _write_pages(set_pages(lot, about, progress, should_stop), about, target)


def report_pages(
    lot: Path, about: About, progress: Progress, should_stop: ShouldStop
) -> tuple[PagedDocument, ...]:
    """Return the report of a lot, nothing where it was stopped; raises as `write_report` does."""
    paper = gather_lot(lot, about.wanted, progress, should_stop)
    return () if paper.stopped else (report_of_lot(paper, date.today()),)


def set_pages(
    lot: Path, about: About, progress: Progress, should_stop: ShouldStop
) -> tuple[PagedDocument, ...]:
    """Return a sheet a set, nothing where it was stopped; raises as `write_report` does."""
    paper = gather_lot(lot, about.wanted, progress, should_stop)
    if not paper.stopped and not paper.sets:
        raise OutputError(f"{lot.name} keeps no set of those tubes; nothing is written")
    sheets = sheets_of_sets(paper, date.today(), progress, should_stop)
    return () if paper.stopped or should_stop() else sheets


def _write_pages(pages: tuple[PagedDocument, ...], about: About, target: Path) -> bool:
    if pages:
        save_pages_pdf(pages, target, about.page)
    return bool(pages)


def write_listings(
    lot: Path, about: About, folder: Path, progress: Progress, should_stop: ShouldStop
) -> bool:
    """Write text and picture of each listing; stopped, those written stay.

    Raises and returns as `write_report` does.
    """
    paper = gather_lot(lot, about.wanted, progress, should_stop)
    if paper.stopped:
        return False
    every = bool(about.serials or about.sets)
    listings = listings_of_lot(paper, date.today(), progress, should_stop, every=every)
    if not listings:
        raise OutputError(
            "nothing is offered: sets that are sold, rejects and tubes not tested have no listing "
            "unless they are chosen"
        )
    make_folder(folder)
    for done, item in enumerate(listings, start=1):
        if should_stop():
            return False
        write_output(folder / f"{item.stem}.txt", item.text.encode("utf-8"))
        save_page_png(item.picture, folder / f"{item.stem}.png")
        progress(done, len(listings), item.stem)
    return True


def listing_words(
    lot: Path, about: About, progress: Progress, should_stop: ShouldStop
) -> str | bool:
    """Return the text of the first listing; False where it was stopped.

    Raises
    ------
    CatalogError, GradeRulesError
        If the lot file, or the grade rules, cannot be read.
    """
    paper = gather_lot(lot, about.wanted, progress, should_stop)
    if paper.stopped:
        return False
    return listings_of_lot(paper, date.today(), every=True)[0].text
