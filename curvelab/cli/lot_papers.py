"""``curvelab lot report | set-sheets | labels | listing``: the papers of a lot."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from datetime import date
from pathlib import Path

from curvelab.cli.console import Progress, note, show
from curvelab.sheets.label import LabelPrint, Marks
from curvelab.sheets.output import make_folder, write_output
from curvelab.workbench.lot_documents import (
    label_sheet,
    labels_of_lot,
    listings_of_lot,
    report_of_lot,
    sheets_of_sets,
    tables_of_lot,
)
from curvelab.workbench.lot_paper import LotPaper, Proposal, Wanted, gather_lot

__all__ = ["PAPERS", "write_set_sheets"]

_TABLES = (".csv", ".xlsx")
_DONE = 0


def _gather(arguments: Namespace) -> LotPaper:
    wanted = Wanted(
        serials=tuple(arguments.tube),
        sets=tuple(arguments.set),
        lot=arguments.lot,
        proposed=tuple(Proposal(tuple(serials)) for serials in getattr(arguments, "together", ())),
        graded=not arguments.no_grades,
    )
    return _gathered(arguments.file, wanted)


def _gathered(path: Path, wanted: Wanted) -> LotPaper:
    with Progress("graded") as progress:
        return gather_lot(path, wanted, progress)


def _report(arguments: Namespace) -> int:
    paper, out, today = _gather(arguments), arguments.out, date.today()
    if out.suffix.lower() in _TABLES:
        write_output(out, tables_of_lot(paper, out, today))
        return _DONE
    _require_drawing()
    from curvelab.drawing.export import save_pages_pdf  # noqa: PLC0415 - a table needs no Qt

    save_pages_pdf([report_of_lot(paper, today)], out, arguments.page)
    return _DONE


def _set_sheets(arguments: Namespace) -> int:
    paper = _gather(arguments)
    if not paper.sets:
        note(f"{arguments.file}: it holds no set of those that were asked for; nothing is written")
        return _DONE
    _write_sheets(paper, arguments.out, arguments.page)
    return _DONE


def write_set_sheets(path: Path, wanted: Wanted, out: Path, page: str | None) -> None:
    """Write the sheets of sets that were just matched, on A4 or Letter.

    Raises
    ------
    CatalogError
        If the lot file cannot be read.
    DrawingUnavailableError, OutputError
        If nothing can be drawn, or the file cannot be written.
    """
    _write_sheets(_gathered(path, wanted), out, page)


def _write_sheets(paper: LotPaper, out: Path, page: str | None) -> None:
    _require_drawing()
    from curvelab.drawing.export import save_pages_pdf  # noqa: PLC0415 - as above

    with Progress("sheet") as progress:
        sheets = sheets_of_sets(paper, date.today(), progress)
    save_pages_pdf(sheets, out, page)


def _labels(arguments: Namespace) -> int:
    grid, paper = label_sheet(arguments.sheet, arguments.sheets_file), _gather(arguments)
    if not paper.tubes:
        return _no_tube(arguments)
    document = labels_of_lot(paper, LabelPrint(grid, arguments.start, Marks(arguments.marks)))
    without = sum(label.code is None for label in document.labels)
    if without:
        note(f"{without} labels have no QR code: one that could be read has no room on them")
    _require_drawing()
    from curvelab.drawing.export import save_labels_pdf  # noqa: PLC0415 - as above

    save_labels_pdf(document, arguments.out)
    return _DONE


def _listing(arguments: Namespace) -> int:
    paper = _gather(arguments)
    if not paper.tubes:
        return _no_tube(arguments)
    named = bool(arguments.tube or arguments.set)
    with Progress("listing") as progress:
        listings = listings_of_lot(paper, date.today(), progress, every=named)
    if not listings:
        note(f"{arguments.file}: nothing of what was asked for is to be offered")
        return _DONE
    make_folder(arguments.out)
    _require_drawing()
    from curvelab.drawing.export import save_page_png  # noqa: PLC0415 - as above

    for item in listings:
        text, picture = (arguments.out / f"{item.stem}{suffix}" for suffix in (".txt", ".png"))
        write_output(text, item.text.encode("utf-8"))
        save_page_png(item.picture, picture)
        show(f"{text}\n{picture}\n")
    return _DONE


def _no_tube(arguments: Namespace) -> int:
    note(f"{arguments.file}: it holds no tube of those that were asked for; nothing is written")
    return _DONE


def _require_drawing() -> None:
    from curvelab.drawing.availability import require_drawing  # noqa: PLC0415 - asks for Qt

    require_drawing()


PAPERS: dict[str, Callable[[Namespace], int]] = {
    "report": _report,
    "set-sheets": _set_sheets,
    "labels": _labels,
    "listing": _listing,
}
