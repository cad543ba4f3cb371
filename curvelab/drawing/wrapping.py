"""Breaking text into lines: at blanks, and inside a word only where it is too long alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator

__all__ = ["wrap"]

Measure = Callable[[str], float]


def wrap(text: str, width: float, measure: Measure) -> list[str]:
    """Return ``text`` as lines no wider than ``width``, at least one.

    Parameters
    ----------
    measure : callable
        Width of a piece of text, in the unit of ``width``.
    """
    blank = measure(" ")
    lines: list[str] = []
    line, used = "", 0.0
    for word in text.split():
        for piece in _pieces(word, width, measure):
            size = measure(piece)
            if line and used + blank + size > width:
                lines.append(line)
                line, used = "", 0.0
            line, used = (f"{line} {piece}", used + blank + size) if line else (piece, size)
    return [*lines, line]


def _pieces(word: str, width: float, measure: Measure) -> Iterator[str]:
    """Yield a word whole, or in pieces that fit where it is wider than a line."""
    while len(word) > 1 and measure(word) > width:
        fits, fails = 1, len(word)  # a single letter is taken even where it does not fit
        while fails - fits > 1:
            middle = (fits + fails) // 2
            if measure(word[:middle]) <= width:
                fits = middle
            else:
                fails = middle
        yield word[:fits]
        word = word[fits:]
    yield word
