"""Tables as CSV and as a workbook, in which no cell is ever taken for a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from curvelab.errors import OutputError
from curvelab.sheets.lot_tables import Cell, LotTable
from curvelab.sheets.results_csv import safe_cell

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

__all__ = ["table_csv", "workbook"]

_MOST_CHARACTERS = 32_767  # of a cell (ECMA-376 leaves it open; every spreadsheet stops there)
_WIDEST = 60  # characters
_NOT_INSTALLED = (
    "a workbook needs the package xlsxwriter, which is not installed (pip install xlsxwriter); a "
    "name that ends in .csv needs none"
)
# Every door through which text could become something else is shut.
_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}


def table_csv(table: LotTable) -> str:
    """Return a table as CSV text with a heading row.

    A text that a spreadsheet could take for a formula begins with an apostrophe.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(table.headings)
    for row in table.rows:
        writer.writerow(_csv_cell(cell) for cell in row)
    return stream.getvalue()


def _csv_cell(cell: Cell) -> str | float | Decimal:
    match cell:
        case None:
            return ""
        case date():
            return cell.isoformat()
        case str():
            return safe_cell(cell)
    return cell


def workbook(tables: Sequence[LotTable], *, title: str, made_with: str, day: date) -> bytes:
    """Return a workbook (Office Open XML) with a worksheet a table.

    Raises
    ------
    OutputError
        If the package that writes it is not installed.
    """
    try:
        # Imported here: only who wants a workbook needs the package.
        from xlsxwriter import Workbook  # noqa: PLC0415
    except ImportError as error:
        raise OutputError(_NOT_INSTALLED) from error
    stream = io.BytesIO()
    with Workbook(stream, _OPTIONS) as book:
        created = datetime(day.year, day.month, day.day)  # not the clock's: the caller owns that
        book.set_properties({"title": title, "comments": made_with, "created": created})
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        words = book.add_format({"text_wrap": True, "valign": "top"})
        days = book.add_format({"num_format": "yyyy-mm-dd", "valign": "top", "align": "left"})
        for table in tables:
            sheet = book.add_worksheet(table.name)
            _fill(sheet, table, head, words, days)
    return stream.getvalue()


def _fill(sheet: Worksheet, table: LotTable, head: Format, words: Format, days: Format) -> None:
    for column, (heading, width) in enumerate(zip(table.headings, _widths(table), strict=True)):
        sheet.set_column(column, column, width)
        sheet.write_string(0, column, heading, head)
    for number, row in enumerate(table.rows, start=1):
        for column, cell in enumerate(row):
            match cell:
                case None:
                    continue
                case str():
                    sheet.write_string(number, column, cell[:_MOST_CHARACTERS], words)
                case date():
                    at: Any = datetime(cell.year, cell.month, cell.day)
                    sheet.write_datetime(number, column, at, days)
                case _:
                    sheet.write_number(number, column, float(cell), words)
    sheet.freeze_panes(1, 0)
    if table.rows:
        sheet.autofilter(0, 0, len(table.rows), len(table.headings) - 1)


def _widths(table: LotTable) -> Iterator[float]:
    for column, heading in enumerate(table.headings):
        longest = max(
            (len(line) for row in table.rows for line in str(row[column] or "").split("\n")),
            default=0,
        )
        yield float(min(_WIDEST, max(longest, min(len(heading), 12)) + 2))
