"""Sheets on paper: one page a tube, by the same paint function as the PDF."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager

from PySide6.QtCore import QRectF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QWidget

from curvelab.drawing.pages import paint_pages
from curvelab.drawing.sheet import paint_sheet
from curvelab.drawing.stickers import paint_stickers
from curvelab.errors import OutputError
from curvelab.sheets.document import SheetDocument
from curvelab.sheets.label import LabelDocument
from curvelab.sheets.paged import PagedDocument

__all__ = ["ask_printer", "print_labels", "print_pages", "print_sheets"]


def ask_printer(parent: QWidget, title: str, chosen: Callable[[QPrinter], None]) -> QPrintDialog:
    """Ask for a printer, without blocking anything; ``chosen`` gets it once it is chosen."""
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(title)
    dialog = QPrintDialog(printer, parent)
    dialog.accepted.connect(lambda: chosen(printer))
    dialog.finished.connect(dialog.deleteLater)
    dialog.setModal(True)
    dialog.show()  # its own ``open`` is not Qt's plain one
    return dialog


def print_sheets(
    printer: QPrinter,
    documents: Iterable[SheetDocument],
    painted: Callable[[int], bool] = lambda _: True,
) -> bool:
    """Paint a page a document, in whatever thread; return whether all of them were.

    ``painted`` hears how many are done; where it says False the print is given up.

    Raises
    ------
    OutputError
        If the printer, or the file it prints to, takes nothing.
    """
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)  # the sheet has margins of its own
    with _painting(printer) as painter:
        for done, document in enumerate(documents, start=1):
            if done > 1:
                printer.newPage()
            paint_sheet(painter, QRectF(printer.paperRect(QPrinter.Unit.DevicePixel)), document)
            if not painted(done):
                printer.abort()
                return False
    return True


def print_pages(printer: QPrinter, documents: Sequence[PagedDocument]) -> None:
    """Paint documents, each beginning a page, in whatever thread.

    Raises
    ------
    OutputError
        If the printer, or the file it prints to, takes nothing.
    """
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)  # the pages have margins of their own
    with _painting(printer) as painter:
        rect = QRectF(printer.paperRect(QPrinter.Unit.DevicePixel))
        paint_pages(painter, rect, documents, printer.newPage)


def print_labels(printer: QPrinter, document: LabelDocument) -> None:
    """Paint labels on sheets of their size, in whatever thread; raises as `print_pages` does."""
    grid = document.grid
    page = QSizeF(grid.page_width, grid.page_height)
    printer.setPageSize(QPageSize(page, QPageSize.Unit.Millimeter))
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)  # the labels are measured from the sheet's edges
    with _painting(printer) as painter:
        rect = QRectF(printer.paperRect(QPrinter.Unit.DevicePixel))
        paint_stickers(painter, rect, document, printer.newPage)


@contextmanager
def _painting(printer: QPrinter) -> Iterator[QPainter]:
    painter = QPainter()
    if not painter.begin(printer):
        raise OutputError(f"cannot print to {printer.outputFileName() or printer.printerName()}")
    try:
        yield painter
    finally:
        painter.end()
