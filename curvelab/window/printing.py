"""Sheets on paper: one page a tube, by the same paint function as the PDF."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPageLayout, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QWidget

from curvelab.drawing.sheet import paint_sheet
from curvelab.errors import OutputError
from curvelab.sheets.document import SheetDocument

__all__ = ["ask_and_print", "print_sheets"]


def ask_and_print(
    parent: QWidget, documents: Sequence[SheetDocument], told: Callable[[str], None]
) -> QPrintDialog:
    """Ask for a printer, without blocking anything; ``told`` hears what came of it."""
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(documents[0].title if len(documents) == 1 else "curvelab")
    dialog = QPrintDialog(printer, parent)

    def start() -> None:
        try:
            print_sheets(printer, documents)
        except OutputError as error:
            told(str(error))
        else:
            told(parent.tr("Sent to the printer"))

    dialog.accepted.connect(start)
    dialog.finished.connect(dialog.deleteLater)
    dialog.setModal(True)
    dialog.show()  # its own ``open`` is not Qt's plain one
    return dialog


def print_sheets(printer: QPrinter, documents: Sequence[SheetDocument]) -> None:
    """Paint a page a document.

    Raises
    ------
    OutputError
        If the printer, or the file it prints to, takes nothing.
    """
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)  # the sheet has margins of its own
    painter = QPainter()
    if not painter.begin(printer):
        raise OutputError(f"cannot print to {printer.outputFileName() or printer.printerName()}")
    try:
        for number, document in enumerate(documents):
            if number:
                printer.newPage()
            paint_sheet(painter, QRectF(printer.paperRect(QPrinter.Unit.DevicePixel)), document)
    finally:
        painter.end()
