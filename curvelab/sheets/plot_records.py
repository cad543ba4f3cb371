"""The records of a plot: axes, series and marks, in V, mA and s or min."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from curvelab.health.records import Severity
from curvelab.sheets.ticks import Axis
from curvelab.sweep.records import FloatArray, IntArray

__all__ = ["CurvePicture", "Mark", "Role", "Series", "Shape"]


class Role(StrEnum):
    """What a series stands for; the words are those of the key."""

    MEASURED = "measured"
    LEFT_OUT = "left out of the fit"
    PRINTED = "printed by handbooks"
    FITTED = "fitted"
    PROJECTED = "projected"
    UP_PASS = "way up"
    DOWN_PASS = "way down"
    SHARE = "share"
    EXTRAPOLATED = "extrapolated"
    UNCERTAINTY = "uncertainty (95 %)"
    REFERENCE = "reference family"
    REFERENCE_EXTRAPOLATED = "reference family, extrapolated"
    LIMIT = "limit"
    TOLERANCE = "tolerance of new tubes at one point"
    DISSIPATION = "maximum plate dissipation"
    PLATE_LIMIT = "maximum plate voltage"

    @property
    def is_points(self) -> bool:
        """Whether the series is drawn as separate points."""
        return self in (Role.MEASURED, Role.LEFT_OUT, Role.PRINTED)


class Shape(StrEnum):
    """Marker shapes that tell findings apart without colour."""

    RING = "ring"
    SQUARE = "square"
    DIAMOND = "diamond"
    TRIANGLE = "triangle"
    INVERTED_TRIANGLE = "inverted triangle"
    PENTAGON = "pentagon"


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Points or one line.

    Attributes
    ----------
    label : str
        Its name, such as the grid step ``-8 V``.
    x, y : ndarray, shape (n,)
        In the units of the axes; always finite. A line may leave the axes.
    step : int or None
        Which grid step, counted from 0 at the most negative; None where it belongs to none.
    end_label : bool
        Whether the label is to be written at the line's end.
    readings : ndarray of int, shape (n,), or None
        Position of each point among the sweep's readings.
    member : int or None
        Which of the tubes laid over one another, counted from 0; None in a plot of one tube.
    """

    role: Role
    label: str
    x: FloatArray
    y: FloatArray
    step: int | None = None
    end_label: bool = False
    readings: IntArray | None = None
    member: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """The readings that show one finding, which stands at ``finding`` among the tube's."""

    finding: int
    code: str
    severity: Severity
    shape: Shape
    x: FloatArray
    y: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class CurvePicture:
    """Axes, series and marks of one plot.

    Attributes
    ----------
    step_count : int
        How many grid steps there are, for the colour of each.
    reference_label : str or None
        Whose family the quiet lines are.
    levels : tuple of float
        What is constant along each line [V] or [A], where another tube's lines are to be
        taken at the same.
    members : tuple of str
        Names of the tubes that are laid over one another.
    """

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    marks: tuple[Mark, ...]
    step_count: int
    reference_label: str | None = None
    levels: tuple[float, ...] = ()
    members: tuple[str, ...] = ()

    def of_role(self, role: Role) -> Iterator[Series]:
        """Return the series of one role."""
        return (series for series in self.series if series.role is role)
