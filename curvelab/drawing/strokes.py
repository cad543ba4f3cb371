"""How each kind of line and mark looks, in the plot and in its key."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from curvelab.drawing.ink import Ink
from curvelab.drawing.palette import BLACK, FAINT, GREY, step_colours
from curvelab.sheets.plot_records import Role, Shape
from curvelab.sweep.records import FloatArray

__all__ = ["STROKES", "Stroke", "member_stroke", "paint_crosses", "paint_shape"]

_MARK = 3.6  # [pt]
_CROSS = 1.9


@dataclass(frozen=True, slots=True)
class Stroke:
    """A pen: width [pt], dashes in widths, colour or None for that of the grid step."""

    width: float
    dashes: tuple[float, ...] = ()
    colour: str | None = None


STROKES = MappingProxyType(
    {
        Role.FITTED: Stroke(1.1),
        Role.PROJECTED: Stroke(1.1, (2.0, 2.0), BLACK),
        Role.EXTRAPOLATED: Stroke(0.7, (2.0, 4.0)),
        Role.REFERENCE_EXTRAPOLATED: Stroke(0.7, (1.0, 4.0), FAINT),
        Role.UP_PASS: Stroke(1.1),
        Role.DOWN_PASS: Stroke(1.1, (4.0, 2.0)),
        Role.SHARE: Stroke(0.9, (3.0, 1.5)),
        Role.UNCERTAINTY: Stroke(0.6, (1.2, 2.0)),
        Role.LIMIT: Stroke(0.9, (7.0, 2.5, 1.2, 2.5), GREY),
        Role.REFERENCE: Stroke(0.7, (5.0, 3.0), FAINT),
        Role.TOLERANCE: Stroke(0.9, (), GREY),
        Role.DISSIPATION: Stroke(0.9, (1.2, 2.2), GREY),
        Role.PLATE_LIMIT: Stroke(0.9, (7.0, 2.5, 1.2, 2.5), GREY),
    }
)

# Tubes laid over one another are told apart by their dashes, in whatever colour: what lies
# below shows through the gaps of what lies above.
_MEMBER_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (4.0, 4.0),
    (1.2, 2.4),
    (7.0, 2.0, 1.2, 2.0),
    (9.0, 5.0),
    (4.0, 1.5, 1.2, 1.5, 1.2, 1.5),
    (2.0, 6.0),
    (12.0, 3.0, 3.0, 3.0),
)
_MEMBER_WIDTH = 1.3


def member_stroke(member: int, count: int) -> Stroke:
    """Return the pen of one of ``count`` tubes laid over one another."""
    dashes = _MEMBER_DASHES[member % len(_MEMBER_DASHES)]
    return Stroke(_MEMBER_WIDTH, dashes, step_colours(count)[member])


# Corners of each shape and the angle of the first [degrees, anticlockwise from the right].
_CORNERS = MappingProxyType(
    {
        Shape.SQUARE: (4, 45.0),
        Shape.DIAMOND: (4, 0.0),
        Shape.TRIANGLE: (3, 90.0),
        Shape.INVERTED_TRIANGLE: (3, 270.0),
        Shape.PENTAGON: (5, 90.0),
    }
)


def paint_shape(ink: Ink, shape: Shape, x: FloatArray, y: FloatArray) -> None:
    """Outline a shape round each point with the pen taken last."""
    if shape is Shape.RING:
        ink.rings(x, y, _MARK)
        return
    count, first = _CORNERS[shape]
    angle = math.radians(first) + 2 * math.pi * np.arange(count) / count
    radius = 1.2 * _MARK
    for left, top in zip(x.tolist(), y.tolist(), strict=True):
        ink.polygon(left + radius * np.cos(angle), top - radius * np.sin(angle))


def paint_crosses(ink: Ink, x: FloatArray, y: FloatArray) -> None:
    """Draw a small cross at each point with the pen taken last."""
    for left, top in zip(x.tolist(), y.tolist(), strict=True):
        ink.line(left - _CROSS, top - _CROSS, left + _CROSS, top + _CROSS)
        ink.line(left - _CROSS, top + _CROSS, left + _CROSS, top - _CROSS)
