"""Colours of paper, ink and grid steps.

The sequence over the grid steps is our own: lightness rises steadily from indigo to ochre
and the hue crosses from blue to yellow, the axis that people with red-green blindness
see; each curve carries its grid voltage at its end as well.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "ACCENT",
    "BLACK",
    "FAINT",
    "GREY",
    "PAPER",
    "RULE",
    "diverging_colours",
    "ink_on",
    "step_colours",
    "text_ink",
]

PAPER = "#ffffff"
BLACK = "#16181a"
GREY = "#5a6066"
FAINT = "#9aa1a8"
RULE = "#d3d7db"
ACCENT = "#0b5670"

Rgb = tuple[int, int, int]
_LEAST = 4.5  # contrast of a text with its ground, WCAG 2.1, success criterion 1.4.3
# Searched for so that of eight steps each differs from the next for every kind of eyes
# (tests/drawing/test_colour_blind.py); lightness L* (CIE 1976) about 12, 34, 40, 45, 60 and
# 50, 61, 77, 84, 85.
_ON_PAPER: tuple[Rgb, ...] = (
    (27, 21, 85),
    (45, 62, 199),
    (61, 100, 106),
    (95, 115, 41),
    (187, 137, 25),
)
_ON_DARK: tuple[Rgb, ...] = (
    (116, 105, 212),
    (111, 139, 255),
    (39, 208, 238),
    (147, 228, 142),
    (231, 216, 50),
)
# From one end of a scale through zero to the other: blue and ochre, which red-green blindness
# keeps apart; on paper lightness falls toward both ends, on a dark background it rises.
_DIVERGING_ON_PAPER: tuple[Rgb, ...] = (
    (20, 74, 140),
    (104, 158, 208),
    (246, 246, 243),
    (236, 172, 92),
    (158, 84, 4),
)
_DIVERGING_ON_DARK: tuple[Rgb, ...] = (
    (126, 190, 255),
    (54, 108, 172),
    (44, 48, 53),
    (158, 98, 26),
    (255, 196, 92),
)


def step_colours(count: int, *, dark: bool = False) -> list[str]:
    """Return ``count`` colours as ``#rrggbb``, from the most negative grid step up.

    Parameters
    ----------
    dark : bool
        For a dark background instead of paper.
    """
    anchors = _ON_DARK if dark else _ON_PAPER
    if count == 1:
        return [_hex(anchors[1])]
    along = [step * (len(anchors) - 1) / (count - 1) for step in range(count)]
    return [_hex(_between(anchors, position)) for position in along]


def diverging_colours(share: NDArray[np.float64], *, dark: bool = False) -> NDArray[np.uint8]:
    """Return a colour for shares of a scale from -1 through 0 to 1.

    Parameters
    ----------
    share : ndarray, shape (...)
        What lies beyond the ends has the colour of the end.
    dark : bool
        For a dark background instead of paper.

    Returns
    -------
    ndarray of uint8, shape (..., 3)
        Red, green, blue.
    """
    anchors = np.array(_DIVERGING_ON_DARK if dark else _DIVERGING_ON_PAPER, dtype=float)
    at = np.linspace(-1.0, 1.0, len(anchors))
    parts = [np.interp(share, at, anchors[:, part]) for part in range(3)]
    return np.asarray(np.rint(np.stack(parts, axis=-1)), dtype=np.uint8)


def ink_on(colour: NDArray[np.uint8]) -> str:
    """Return black or white, whichever contrasts more with a colour (WCAG 2.1, 1.4.3)."""
    scaled = (int(part) for part in colour)
    level = _luminance(*scaled)
    return "#ffffff" if _contrast(level, 1.0) > _contrast(level, 0.0) else "#000000"


@cache
def text_ink(colour: str, ground: str) -> str:
    """Return the ink nearest to a colour in which a text on a ground can be read.

    It is the colour itself or, where that contrasts less than text must (4.5:1, WCAG 2.1,
    1.4.3), the colour on its way to black or white.
    """
    under = _luminance(*_parts(ground))
    end = (0, 0, 0) if _contrast(under, 0.0) > _contrast(under, 1.0) else (255, 255, 255)
    steps = (_between((_parts(colour), end), step / 50) for step in range(51))
    return next(_hex(ink) for ink in steps if _contrast(_luminance(*ink), under) >= _LEAST)


def _contrast(one: float, other: float) -> float:
    """Return the contrast ratio of two luminances (WCAG 2.1, definitions)."""
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


def _luminance(red: int, green: int, blue: int) -> float:
    """Return the relative luminance of a colour (WCAG 2.1, definitions)."""
    scaled = np.array([red, green, blue]) / 255
    linear = np.where(scaled <= 0.04045, scaled / 12.92, ((scaled + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


def _parts(colour: str) -> Rgb:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _between(anchors: tuple[Rgb, ...], position: float) -> Rgb:
    first = min(int(position), len(anchors) - 2)
    share = position - first
    red, green, blue = (
        round((1 - share) * low + share * high)
        for low, high in zip(anchors[first], anchors[first + 1], strict=True)
    )
    return red, green, blue


def _hex(colour: Rgb) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
