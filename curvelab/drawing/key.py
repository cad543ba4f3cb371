"""The key of a picture: only what is in it, in the words of its roles and findings."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from curvelab.drawing.ink import Ink
from curvelab.drawing.palette import BLACK, GREY, step_colours
from curvelab.drawing.strokes import (
    STROKES,
    Stroke,
    member_stroke,
    paint_crosses,
    paint_shape,
)
from curvelab.sheets.plot_records import CurvePicture, Mark, Role

__all__ = ["paint_key"]

_TEXT = 7.0
_ROW = 11.0
_SAMPLE = 20.0
_POINT = 9.0
_BETWEEN = 14.0

Sample = Callable[[float, float], None]


def paint_key(ink: Ink, left: float, top: float, width: float, picture: CurvePicture) -> float:
    """Write the key from ``left``, ``top`` in rows of ``width``; return its height [pt]."""
    x, y = left, top
    for sample_width, paint, label in _entries(ink, picture):
        needed = sample_width + 3.0 + ink.text_width(label, _TEXT)
        if x > left and x + needed > left + width:
            x, y = left, y + _ROW
        paint(x, y + 0.6 * _TEXT)
        ink.text(x + sample_width + 3.0, y, label, _TEXT, colour=GREY)
        x += needed + _BETWEEN
    return y - top + _ROW + 2.0


def _entries(ink: Ink, picture: CurvePicture) -> Iterator[tuple[float, Sample, str]]:
    present = {series.role for series in picture.series}
    labelled = any(series.end_label for series in picture.series)
    for number, name in enumerate(picture.members):
        yield _SAMPLE, _line_sample(ink, member_stroke(number, len(picture.members)), BLACK), name
    if picture.members:
        present.discard(Role.FITTED)  # named tube by tube
    for role in Role:
        if role in present:
            size = _POINT if role.is_points else _SAMPLE
            yield size, _role_sample(ink, role, picture), _words(role, picture, labelled=labelled)
    for mark in picture.marks:
        yield _POINT, _mark_sample(ink, mark), mark.code


def _words(role: Role, picture: CurvePicture, *, labelled: bool) -> str:
    if role is Role.REFERENCE and picture.reference_label:
        return f"family of {picture.reference_label}, same grid volts"
    if role is Role.FITTED and labelled:
        return "fitted, grid volts at the end"
    return str(role)


def _role_sample(ink: Ink, role: Role, picture: CurvePicture) -> Sample:
    colours = step_colours(max(picture.step_count, 1))
    colour = colours[len(colours) // 2]

    def points(x: float, y: float) -> None:
        at = np.array([x + _POINT / 2]), np.array([y])
        if role is Role.MEASURED:
            ink.dots(*at, 1.6, colour)
        else:
            ink.pen(colour if role is Role.LEFT_OUT else GREY, 0.9)
            paint_crosses(ink, *at)

    return points if role.is_points else _line_sample(ink, STROKES[role], colour)


def _line_sample(ink: Ink, stroke: Stroke, colour: str) -> Sample:
    def line(x: float, y: float) -> None:
        ink.pen(stroke.colour or colour, stroke.width, stroke.dashes)
        ink.line(x, y, x + _SAMPLE, y)

    return line


def _mark_sample(ink: Ink, mark: Mark) -> Sample:
    def paint(x: float, y: float) -> None:
        ink.pen(BLACK, 0.9)
        paint_shape(ink, mark.shape, np.array([x + _POINT / 2]), np.array([y]))

    return paint
