"""The papers of a lot: report, sheets of sets, labels, listings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from curvelab import __version__
from curvelab.catalog.records import SetState
from curvelab.errors import LabelSheetError
from curvelab.fitting.records import PlateFamily
from curvelab.health.records import Verdict
from curvelab.sheets.label import LabelDocument, LabelPrint, label_document
from curvelab.sheets.label_grid import LabelGrid, read_label_sheets
from curvelab.sheets.listing import listing_picture, listing_text
from curvelab.sheets.lot_report import lot_report
from curvelab.sheets.lot_tables import lot_tables, tube_table
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.paged import PagedDocument
from curvelab.sheets.paper_records import PaperSet, PaperTube
from curvelab.sheets.set_sheet import set_sheet
from curvelab.sheets.spreadsheet import table_csv, workbook
from curvelab.workbench.lot_paper import LotPaper
from curvelab.workbench.type_library import current_families
from curvelab.workbench.user_files import own_or_shipped

__all__ = [
    "LotListing",
    "family_of",
    "label_sheet",
    "label_sheets",
    "labels_of_lot",
    "listings_of_lot",
    "report_of_lot",
    "sheets_of_sets",
    "tables_of_lot",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_LABEL_SHEETS = "label_sheets.toml"
_OFFERED = (Verdict.ACCEPT, Verdict.HOLD)
_MADE_WITH = f"curvelab {__version__}"


@dataclass(frozen=True, slots=True, eq=False)
class LotListing:
    """What a shop says of a tube or a set; ``stem`` names its files."""

    stem: str
    text: str
    picture: PagedDocument


def report_of_lot(paper: LotPaper, today: date) -> PagedDocument:
    """Return the report of a lot."""
    return lot_report(paper.tubes, paper.sets, name=paper.name, made_with=_MADE_WITH, date=today)


def sheets_of_sets(
    paper: LotPaper,
    today: date,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> tuple[PagedDocument, ...]:
    """Return a sheet a set, as many as were made before it was told to stop."""
    sheets: list[PagedDocument] = []
    for item in paper.sets:
        if should_stop is not None and should_stop():
            break
        sheets.append(set_sheet(item, paper.tubes, family_of, made_with=_MADE_WITH, date=today))
        if progress is not None:
            progress(len(sheets), len(paper.sets), item.name)
    return tuple(sheets)


def family_of(type_name: str, screen_voltage: float | None = None) -> PlateFamily | None:
    """Return the reference family of a type, or None.

    Parameters
    ----------
    screen_voltage : float, optional
        Of a screen at a voltage of its own [V]; without it, the family is that of a triode, or of
        the triode connection.
    """
    library = current_families()
    if screen_voltage is None:
        return library.families.get(type_name)
    found = library.pentodes.get(type_name)
    return None if found is None else found.at_screen(screen_voltage)


def tables_of_lot(paper: LotPaper, path: Path, today: date) -> bytes:
    """Return the report of a lot as a workbook, or its tubes as CSV, as the name of a file says.

    Raises
    ------
    OutputError
        If the package that writes workbooks is not installed.
    """
    if path.suffix.lower() != ".xlsx":
        return table_csv(tube_table(paper.tubes)).encode("utf-8")
    tables = lot_tables(paper.tubes, paper.sets, today)
    return workbook(tables, title=f"Report of {paper.name}", made_with=_MADE_WITH, day=today)


def labels_of_lot(paper: LotPaper, wanted: LabelPrint) -> LabelDocument:
    """Return a label for every tube.

    Raises
    ------
    LabelSheetError
        If the sheet has no label to start with.
    """
    title = f"Labels of {paper.name}"
    return label_document(paper.tubes, wanted, title=title, made_with=_MADE_WITH)


def listings_of_lot(
    paper: LotPaper,
    today: date,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
    *,
    every: bool = False,
) -> tuple[LotListing, ...]:
    """Return a listing for every set and for every tube that is in none.

    A set with a tube that is not in the lot file is left out, as nothing is known of it, and
    so is one with a tube that was rejected since.

    Parameters
    ----------
    every : bool
        Whether sets that are sold or hold a reject, and tubes that are rejects or not
        tested, have one too.
    """
    by_name = {(t.stored.identity.serial, t.stored.identity.lot): t for t in paper.tubes}
    offers: list[tuple[PaperSet | None, tuple[PaperTube, ...]]] = []
    for item in paper.sets:
        members = [by_name.get((member.serial, member.lot)) for member in item.members]
        rejected = any(tube is not None and tube.verdict is Verdict.REJECT for tube in members)
        offered = every or (item.state is not SetState.SOLD and not rejected)
        if offered and None not in members:
            offers.append((item, tuple(tube for tube in members if tube is not None)))
    offers += [
        (None, (tube,))
        for tube in paper.tubes
        if tube.stored.set_name is None and (every or tube.verdict in _OFFERED)
    ]
    listings: list[LotListing] = []
    used: set[str] = set()
    for of_set, tubes in offers:
        if should_stop is not None and should_stop():
            break
        stem = safe_file_stem(f"set {of_set.name}" if of_set else tubes[0].serial, None, used)
        used.add(stem)
        picture = listing_picture(tubes, family_of, of_set, made_with=_MADE_WITH, date=today)
        listings.append(LotListing(stem, listing_text(tubes, of_set), picture))
        if progress is not None:
            progress(len(listings), len(offers), stem)
    return tuple(listings)


def label_sheets(path: Path | None = None) -> Mapping[str, LabelGrid]:
    """Return the sheets of labels that a file describes, by their names.

    Parameters
    ----------
    path : Path or None
        The file, else the user's own or the shipped one.

    Raises
    ------
    LabelSheetError
        If the file cannot be read.
    """
    chosen = path or own_or_shipped(_LABEL_SHEETS)
    try:
        content = chosen.read_bytes()
    except OSError as error:
        raise LabelSheetError(f"{chosen}: {error.strerror or 'cannot be opened'}") from error
    return read_label_sheets(content, str(path or _LABEL_SHEETS))


def label_sheet(name: str, path: Path | None = None) -> LabelGrid:
    """Return a sheet of labels by its name; ``path`` is that of `label_sheets`.

    Raises
    ------
    LabelSheetError
        If the file cannot be read, or describes no such sheet.
    """
    sheets = label_sheets(path)
    if name not in sheets:
        raise LabelSheetError(f"no sheet of labels {name!r} (there are: {', '.join(sheets)})")
    return sheets[name]
