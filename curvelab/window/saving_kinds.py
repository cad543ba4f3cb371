"""The kinds of files that sheets and plots are saved as, with what writes each."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType

from curvelab.drawing.export import (
    save_picture_pdf,
    save_picture_png,
    save_picture_svg,
    save_sheet_pdf,
    save_sheet_png,
    save_sheet_svg,
)
from curvelab.sheets.document import SheetDocument
from curvelab.sheets.plot_records import CurvePicture

__all__ = ["PICTURE_FILTERS", "SHEET_FILTERS", "SheetKind", "save_picture", "save_sheet"]

SHEET_FILTERS = ("PDF (*.pdf)", "PNG (*.png)", "SVG (*.svg)")
PICTURE_FILTERS = ("PNG (*.png)", "SVG (*.svg)", "PDF (*.pdf)")


class SheetKind(StrEnum):
    """How several sheets are saved; the value is the ending of their files."""

    PDF = ".pdf"
    PNG = ".png"
    SVG = ".svg"
    ONE_PDF = "one.pdf"


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
