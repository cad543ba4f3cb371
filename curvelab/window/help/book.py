"""The pages of help as they are shipped: Markdown files, one folder a language."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from curvelab.errors import CurvelabError
from curvelab.paths import resource_folder

__all__ = ["Book", "Page", "book_folder", "load_book"]

_WRITTEN_IN = "en"
# A page begins with a heading that bears its key: "# Gas {#gas}".
_HEADING = re.compile(r"^# (?P<title>.+?) \{#(?P<key>[a-z0-9-]+)\}\s*$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Page:
    """One page: ``key`` is what links and the window call it by, ``text`` is Markdown."""

    key: str
    title: str
    text: str

    def holds(self, words: tuple[str, ...]) -> bool:
        """Tell whether every word occurs, in whatever case."""
        here = f"{self.title}\n{self.text}".casefold()
        return all(word in here for word in words)


@dataclass(frozen=True, slots=True)
class Book:
    """All pages, in the order in which they are read."""

    pages: tuple[Page, ...]

    def page(self, key: str) -> Page | None:
        """Return the page of a key, None where there is none."""
        return next((page for page in self.pages if page.key == key), None)

    def found(self, text: str) -> tuple[Page, ...]:
        """Return the pages that hold all words of ``text``; those that name one first."""
        words = tuple(text.casefold().split())
        hits = [page for page in self.pages if page.holds(words)]
        if not words:
            return tuple(hits)
        return tuple(
            sorted(hits, key=lambda page: not any(word in page.title.casefold() for word in words))
        )


def book_folder(language: str) -> Path:
    """Return the folder of the pages in a language such as ``de_AT``, or as first written.

    Raises
    ------
    CurvelabError
        If the installation lacks its resources.
    """
    books = resource_folder() / "help"
    for name in (language, language.split("_")[0]):
        if re.fullmatch(r"[A-Za-z]+(_[A-Za-z]+)*", name) and (books / name).is_dir():
            return books / name
    return books / _WRITTEN_IN


def load_book(folder: Path) -> Book:
    """Read all pages of a folder, the files in the order of their names.

    Raises
    ------
    CurvelabError
        If a file cannot be read, or there is no page.
    """
    try:
        texts = [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.md"))]
    except (OSError, UnicodeDecodeError) as error:
        raise CurvelabError(f"the pages of help cannot be read: {error}") from error
    pages = tuple(page for text in texts for page in _pages(text))
    if not pages:
        raise CurvelabError("this installation lacks its pages of help; install curvelab again")
    return Book(pages)


def _pages(text: str) -> Iterator[Page]:
    starts = list(_HEADING.finditer(text))
    ends = [*(start.start() for start in starts[1:]), len(text)]
    for start, end in zip(starts, ends, strict=True):
        yield Page(start["key"], start["title"], text[start.end() : end].strip())
