"""Colours of paper, ink and grid steps.

The sequence over the grid steps is our own: lightness rises steadily from indigo to ochre
and the hue crosses from blue to yellow, the axis that people with red-green blindness
see; each curve carries its grid voltage at its end as well.
"""

from __future__ import annotations

__all__ = ["ACCENT", "BLACK", "FAINT", "GREY", "PAPER", "RULE", "step_colours"]

PAPER = "#ffffff"
BLACK = "#16181a"
GREY = "#5a6066"
FAINT = "#9aa1a8"
RULE = "#d3d7db"
ACCENT = "#0b5670"

Rgb = tuple[int, int, int]
# Lightness L* (CIE 1976) about 20, 32, 44, 55, 60.
_ON_PAPER: tuple[Rgb, ...] = (
    (46, 30, 112),
    (28, 76, 152),
    (8, 114, 134),
    (90, 138, 62),
    (182, 130, 12),
)
_ON_DARK: tuple[Rgb, ...] = (
    (160, 140, 240),
    (104, 164, 248),
    (84, 200, 214),
    (160, 214, 130),
    (244, 208, 96),
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
