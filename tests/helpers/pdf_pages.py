"""PDF files looked at by other programs than the one that drew them (poppler)."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QImage

__all__ = ["Word", "needs_poppler", "overlaps", "page_count", "page_texts", "raster", "words"]

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftotext") is None,
    reason="pdftotext (Debian: poppler-utils), which tests/run.sh installs, is not there",
)
Word = tuple[float, float, float, float, str]


def _run(*command: object) -> str:
    done = subprocess.run([str(part) for part in command], capture_output=True, check=True)
    return done.stdout.decode("utf-8")


def page_count(path: Path) -> int:
    """Return how many pages a file has."""
    return int(re.search(r"Pages:\s+(\d+)", _run("pdfinfo", path))[1])


def page_texts(path: Path) -> list[str]:
    """Return the text of each page, its blanks made single."""
    pages = _run("pdftotext", "-layout", path, "-").split("\f")
    return [" ".join(page.split()) for page in pages[:-1]]


def words(path: Path) -> list[list[Word]]:
    """Return, page by page, the box of each word [pt] as the reading program finds it."""
    box = r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>'
    pages = _run("pdftotext", "-bbox", path, "-").split("<page ")[1:]
    return [
        [(float(a), float(b), float(c), float(d), text) for a, b, c, d, text in found]
        for found in (re.findall(box, page) for page in pages)
    ]


def overlaps(boxes: list[Word]) -> list[tuple[str, str]]:
    """Return pairs of words that cover each other by a good part of a line."""
    found = []
    for number, (left, top, right, bottom, word) in enumerate(boxes):
        for other_left, other_top, other_right, other_bottom, other in boxes[number + 1 :]:
            across = min(right, other_right) - max(left, other_left)
            down = min(bottom, other_bottom) - max(top, other_top)
            if across > 1.0 and down > 0.45 * min(bottom - top, other_bottom - other_top):
                found.append((word, other))
    return found


def raster(path: Path, dots_per_inch: int, page: int = 1) -> np.ndarray:
    """Return a page as grey values, shape (rows, columns), 255 for white."""
    stem = path.with_suffix("")
    which = ("-f", page, "-l", page, "-singlefile")
    _run("pdftoppm", "-png", "-gray", "-r", dots_per_inch, *which, path, stem)
    image = QImage(f"{stem}.png").convertToFormat(QImage.Format.Format_Grayscale8)
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return flat[:, : image.width()].copy()
