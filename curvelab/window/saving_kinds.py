"""The kinds of files that sheets and plots are saved as, with what writes each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter, QPicture

from curvelab.drawing.export import (
    save_painted_pdf,
    save_painted_svg,
    save_picture_pdf,
    save_picture_png,
    save_picture_svg,
    save_sheet_pdf,
    save_sheet_png,
    save_sheet_svg,
    save_stack_pdf,
    save_stack_svg,
)
from curvelab.sheets.document import SheetDocument
from curvelab.sheets.output import write_output
from curvelab.sheets.plot_records import CurvePicture

__all__ = [
    "PICTURE_FILTERS",
    "SHEET_FILTERS",
    "SeenView",
    "SheetKind",
    "save_picture",
    "save_sheet",
    "save_view",
]

SHEET_FILTERS = ("PDF (*.pdf)", "PNG (*.png)", "SVG (*.svg)")
PICTURE_FILTERS = ("PNG (*.png)", "SVG (*.svg)", "PDF (*.pdf)")


class SheetKind(StrEnum):
    """How several sheets are saved; the value is the ending of their files."""

    PDF = ".pdf"
    PNG = ".png"
    SVG = ".svg"
    ONE_PDF = "one.pdf"


@dataclass(frozen=True, slots=True, eq=False)
class SeenView:
    """A view at the moment when it was asked for, in every form that it can be saved in.

    Attributes
    ----------
    png : bytes
        What was to be seen.
    pictures : tuple of CurvePicture
        Its plots, where they are lines and points that paper can have by themselves.
    recorded : QPicture
        What was to be seen, as it was painted.
    size : tuple of int
        Of that [CSS px].
    """

    title: str
    png: bytes
    pictures: tuple[CurvePicture, ...]
    recorded: QPicture
    size: tuple[int, int]


_SHEETS: MappingProxyType[str, Callable[[SheetDocument, Path], None]] = MappingProxyType(
    {".pdf": save_sheet_pdf, ".png": save_sheet_png, ".svg": save_sheet_svg}
)
_PICTURES: MappingProxyType[str, Callable[[CurvePicture, Path], None]] = MappingProxyType(
    {".png": save_picture_png, ".svg": save_picture_svg, ".pdf": save_picture_pdf}
)


def save_sheet(document: SheetDocument, path: Path) -> None:
    """Write a sheet as the ending of the path says, else as PDF."""
    _SHEETS.get(path.suffix.casefold(), save_sheet_pdf)(document, path)


def save_picture(picture: CurvePicture, path: Path) -> None:
    """Write a plot as the ending of the path says, else as PNG."""
    _PICTURES.get(path.suffix.casefold(), save_picture_png)(picture, path)


def save_view(seen: SeenView, path: Path) -> None:
    """Write a view as the ending of the path says, else as PNG.

    Lines and points are drawn anew as SVG and PDF, as on a sheet; the rest is written as it
    was painted on the screen.
    """
    vector = path.suffix.casefold() in (".svg", ".pdf")
    pdf = path.suffix.casefold() == ".pdf"
    if not vector:
        write_output(path, seen.png)
    elif seen.pictures:
        (save_stack_pdf if pdf else save_stack_svg)(seen.pictures, path)
    else:
        save = save_painted_pdf if pdf else save_painted_svg
        save(lambda painter, rect: _replay(painter, rect, seen), path, seen.size, seen.title)


def _replay(painter: QPainter, rect: QRectF, seen: SeenView) -> None:
    # Played on a finer device a picture grows by itself: it keeps its inches.
    finer = painter.device().logicalDpiX() / seen.recorded.logicalDpiX()
    width, height = seen.size
    painter.scale(rect.width() / width / finer, rect.height() / height / finer)
    seen.recorded.play(painter)
