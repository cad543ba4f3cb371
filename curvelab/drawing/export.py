"""Sheets and pictures as files: painted in memory, then written whole."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import chain
from pathlib import Path
from types import MappingProxyType

from PySide6.QtCore import QBuffer, QIODevice, QLocale, QMarginsF, QRectF, QSize, QSizeF
from PySide6.QtGui import (
    QColor,
    QImage,
    QPageLayout,
    QPageSize,
    QPaintDevice,
    QPainter,
    QPdfWriter,
)
from PySide6.QtSvg import QSvgGenerator

from curvelab.drawing.availability import require_drawing
from curvelab.drawing.curves import paint_curves, paint_stack
from curvelab.drawing.pages import paint_pages
from curvelab.drawing.palette import PAPER
from curvelab.drawing.sheet import paint_sheet
from curvelab.drawing.stickers import paint_stickers
from curvelab.sheets.document import SheetDocument
from curvelab.sheets.label import LabelDocument
from curvelab.sheets.output import write_output
from curvelab.sheets.paged import PagedDocument
from curvelab.sheets.plot_records import CurvePicture

__all__ = [
    "PAGES",
    "save_labels_pdf",
    "save_page_png",
    "save_pages_pdf",
    "save_painted_pdf",
    "save_painted_svg",
    "save_picture_pdf",
    "save_picture_png",
    "save_picture_svg",
    "save_sheet_pdf",
    "save_sheet_png",
    "save_sheet_svg",
    "save_sheets_pdf",
    "save_stack_pdf",
    "save_stack_svg",
    "sheet_page_size",
]

# ISO 216 and ANSI/ASME Y14.1 page sizes.
PAGES = MappingProxyType({"A4": QPageSize.PageSizeId.A4, "Letter": QPageSize.PageSizeId.Letter})
_PDF_RESOLUTION = 1200  # device pixels per inch, so that rounding stays below sight
_EXACT = QPageSize.SizeMatchPolicy.ExactMatch  # a near size would move what is painted
_SVG_RESOLUTION = 96  # CSS pixels per inch

Paint = Callable[[QPainter, QRectF], object]


def save_sheet_pdf(document: SheetDocument, path: Path, page: str | None = None) -> None:
    """Write a sheet as a PDF of one page, text as text and the plot as lines.

    Parameters
    ----------
    page : str, optional
        ``A4`` or ``Letter``; by default the one in use where the user lives.

    Raises
    ------
    DrawingUnavailableError
        If Qt or one of its libraries is missing.
    OutputError
        If the file cannot be written.
    """
    save_sheets_pdf([document], path, page)


def save_sheets_pdf(
    documents: Iterable[SheetDocument],
    path: Path,
    page: str | None = None,
    painted: Callable[[int], bool] = lambda _: True,
) -> bool:
    """Write sheets as one PDF, a page each, and return whether it was written.

    ``painted`` hears how many pages are done; where it says False nothing is written.
    Raises as `save_sheet_pdf` does.
    """
    require_drawing()
    buffer = _open_buffer()
    waiting = iter(documents)
    first = next(waiting)
    writer = _pdf(buffer, sheet_page_size(page), first.title, first.made_with)
    painter = QPainter(writer)
    try:
        rect = QRectF(0.0, 0.0, writer.width(), writer.height())
        for done, document in enumerate(chain([first], waiting), start=1):
            if done > 1:
                writer.newPage()
            paint_sheet(painter, rect, document)
            if not painted(done):
                return False
    finally:
        painter.end()
    _save(path, buffer)
    return True


def save_pages_pdf(documents: Sequence[PagedDocument], path: Path, page: str | None = None) -> None:
    """Write documents as one PDF, each beginning a page; raises as `save_sheet_pdf` does.

    Raises
    ------
    ValueError
        If there are none.
    """
    if not documents:
        raise ValueError("a PDF needs a document")
    require_drawing()
    buffer = _open_buffer()
    first = documents[0]
    writer = _pdf(buffer, sheet_page_size(page), first.title, first.made_with)
    size = QSizeF(writer.width(), writer.height())
    _paint(
        writer,
        size,
        lambda painter, rect: paint_pages(painter, rect, documents, writer.newPage),
    )
    _save(path, buffer)


def save_page_png(
    document: PagedDocument,
    path: Path,
    size: tuple[int, int] = (1200, 1500),
) -> None:
    """Write the first page of a document as a picture, ``size`` in pixels.

    Raises as `save_sheet_pdf` does.
    """
    require_drawing()
    _save_png(
        path,
        QSize(*size),
        lambda painter, rect: paint_pages(painter, rect, [document], lambda: False),
    )


def save_labels_pdf(document: LabelDocument, path: Path) -> None:
    """Write labels as a PDF, a page a sheet; raises as `save_sheet_pdf` does."""
    require_drawing()
    buffer = _open_buffer()
    grid = document.grid
    sheet = QPageSize(
        QSizeF(grid.page_width, grid.page_height), QPageSize.Unit.Millimeter, "", _EXACT
    )
    writer = _pdf(buffer, sheet, document.title, document.made_with)
    size = QSizeF(writer.width(), writer.height())
    _paint(
        writer,
        size,
        lambda painter, rect: paint_stickers(painter, rect, document, writer.newPage),
    )
    _save(path, buffer)


def save_sheet_png(
    document: SheetDocument, path: Path, page: str | None = None, dots_per_inch: int = 150
) -> None:
    """Write a sheet as a picture of ``dots_per_inch``; raises as `save_sheet_pdf` does."""
    require_drawing()
    size = sheet_page_size(page).sizePixels(dots_per_inch)
    _save_png(path, size, lambda painter, rect: paint_sheet(painter, rect, document))


def save_sheet_svg(document: SheetDocument, path: Path, page: str | None = None) -> None:
    """Write a sheet as SVG; raises as `save_sheet_pdf` does."""
    require_drawing()
    size = sheet_page_size(page).sizePixels(_SVG_RESOLUTION)
    _save_svg(
        path, size, document.title, lambda painter, rect: paint_sheet(painter, rect, document)
    )


def save_picture_png(
    picture: CurvePicture, path: Path, size: tuple[int, int] = (1600, 1000)
) -> None:
    """Write a plot as PNG, ``size`` in pixels; raises as `save_sheet_pdf` does."""
    require_drawing()
    _save_png(path, QSize(*size), lambda painter, rect: paint_curves(painter, rect, picture))


def save_picture_svg(picture: CurvePicture, path: Path, size: tuple[int, int] = (960, 600)) -> None:
    """Write a plot as SVG, ``size`` in CSS pixels; raises as `save_sheet_pdf` does."""
    save_stack_svg([picture], path, size)


def save_picture_pdf(picture: CurvePicture, path: Path, size: tuple[int, int] = (960, 600)) -> None:
    """Write a plot as a PDF of its size in CSS pixels; raises as `save_sheet_pdf` does."""
    save_stack_pdf([picture], path, size)


def save_stack_svg(
    pictures: Sequence[CurvePicture], path: Path, size: tuple[int, int] = (960, 600)
) -> None:
    """Write plots over one another as SVG, each of ``size``; raises as `save_sheet_pdf` does."""
    require_drawing()
    width, height = size
    _save_svg(
        path,
        QSize(width, height * len(pictures)),
        pictures[0].title,
        lambda painter, rect: paint_stack(painter, rect, pictures),
    )


def save_stack_pdf(
    pictures: Sequence[CurvePicture], path: Path, size: tuple[int, int] = (960, 600)
) -> None:
    """Write plots over one another as a PDF of one page; as `save_stack_svg`."""
    width, height = size
    save_painted_pdf(
        lambda painter, rect: paint_stack(painter, rect, pictures),
        path,
        (width, height * len(pictures)),
        pictures[0].title,
    )


def save_painted_pdf(paint: Paint, path: Path, size: tuple[int, int], title: str) -> None:
    """Write whatever ``paint`` paints as a PDF of ``size`` in CSS pixels.

    Raises as `save_sheet_pdf` does.
    """
    require_drawing()
    buffer = _open_buffer()
    points = QSizeF(*size) * (72 / _SVG_RESOLUTION)
    page = QPageSize(points, QPageSize.Unit.Point, "", _EXACT)
    writer = _pdf(buffer, page, title, "curvelab")
    _paint(writer, QSizeF(writer.width(), writer.height()), paint)
    _save(path, buffer)


def save_painted_svg(paint: Paint, path: Path, size: tuple[int, int], title: str) -> None:
    """Write whatever ``paint`` paints as SVG of ``size`` in CSS pixels, with what clips it.

    Raises as `save_sheet_pdf` does.
    """
    require_drawing()
    _save_svg(path, QSize(*size), title, paint, QSvgGenerator.SvgVersion.Svg11)


def sheet_page_size(page: str | None = None) -> QPageSize:
    """Return a page by name, or the usual one of the system's locale."""
    if page is None:
        inches = QLocale.system().measurementSystem() is QLocale.MeasurementSystem.ImperialUSSystem
        page = "Letter" if inches else "A4"
    return QPageSize(PAGES[page])


def _pdf(buffer: QBuffer, size: QPageSize, title: str, made_with: str) -> QPdfWriter:
    writer = QPdfWriter(buffer)
    writer.setResolution(_PDF_RESOLUTION)
    writer.setTitle(title)
    writer.setCreator(made_with)
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF()))
    return writer


def _save_png(path: Path, size: QSize, paint: Paint) -> None:
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(QColor(PAPER))
    _paint(image, QSizeF(size), paint)
    buffer = _open_buffer()
    image.save(buffer, "PNG")  # type: ignore[call-overload]  # the stubs want bytes
    _save(path, buffer)


def _save_svg(
    path: Path,
    size: QSize,
    title: str,
    paint: Paint,
    form: QSvgGenerator.SvgVersion = QSvgGenerator.SvgVersion.SvgTiny12,
) -> None:
    buffer = _open_buffer()
    generator = QSvgGenerator(form)
    generator.setOutputDevice(buffer)
    generator.setResolution(_SVG_RESOLUTION)
    generator.setSize(size)
    generator.setViewBox(QRectF(0.0, 0.0, size.width(), size.height()))
    generator.setTitle(title)
    _paint(generator, QSizeF(size), paint)
    _save(path, buffer)


def _paint(device: QPaintDevice, size: QSizeF, paint: Paint) -> None:
    painter = QPainter(device)
    try:
        rect = QRectF(0.0, 0.0, size.width(), size.height())
        paint(painter, rect)
    finally:
        painter.end()


def _open_buffer() -> QBuffer:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    return buffer


def _save(path: Path, buffer: QBuffer) -> None:
    write_output(path, bytes(buffer.data().data()))
