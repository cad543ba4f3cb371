"""A document of several pages as blocks, before anything is painted."""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.sheets.histogram import Histogram
from curvelab.sheets.plot_records import CurvePicture

__all__ = [
    "Block",
    "Column",
    "Curves",
    "Heading",
    "Histograms",
    "NewPage",
    "PagedDocument",
    "Paragraph",
    "RuledTable",
]


@dataclass(frozen=True, slots=True)
class Heading:
    """A line that stays with what follows it."""

    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; ``strong`` where it must not be overlooked."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, its share of the width, and whether it holds numbers."""

    heading: str
    share: float = 1.0
    numbers: bool = False


@dataclass(frozen=True, slots=True)
class RuledTable:
    """Rows of as many cells as there are columns; its heading is repeated on every page."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Histograms:
    """Histograms side by side."""

    items: tuple[Histogram, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """A picture of curves; pictures share the room that the other blocks leave on a page."""

    picture: CurvePicture


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins a page."""


Block = Heading | Paragraph | RuledTable | Histograms | Curves | NewPage


@dataclass(frozen=True, slots=True, eq=False)
class PagedDocument:
    """Text, tables and pictures that flow over as many pages as they need.

    Attributes
    ----------
    kind, title, subtitle : str
        The head of the first page; the title stands on every page.
    feet : tuple of (str, str)
        Label and text of what stands at the foot of every page, so that a page by itself
        still says it.
    """

    kind: str
    title: str
    subtitle: str
    blocks: tuple[Block, ...]
    feet: tuple[tuple[str, str], ...]
    made_with: str
    date: str
