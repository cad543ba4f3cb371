"""The plots of a tube's constants against plate current, at one plate voltage."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from curvelab.assessment.constant_courses import (
    constants_along_current,
    usual_plate_voltage,
    why_no_course,
)
from curvelab.assessment.records import Assessment
from curvelab.fitting.constant_map import ConstantMap
from curvelab.fitting.records import Constant
from curvelab.quantities import AMPLIFICATION_FACTOR, PLATE_CURRENT, Quantity
from curvelab.reference.records import Figure
from curvelab.sheets.plot_parts import reference_name
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.tables import CONSTANT_QUANTITIES, ConstantQuantities
from curvelab.sheets.text import volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.records import FloatArray

__all__ = [
    "ConstantPanel",
    "ConstantsPicture",
    "CourseLine",
    "Spot",
    "constant_curves",
    "constants_picture",
]

_SAME_PLATE = 0.5  # [V]: a handbook's point at this plate voltage belongs into the plot
# Toward cut-off rp grows without end: an axis need not show all of it.
_SHOWN_FROM = 0.05  # of the largest current
_REFERENCE_POINTS = 121


@dataclass(frozen=True, slots=True, eq=False)
class CourseLine:
    """A line in the units of the axes, with what is left open of it; always finite.

    ``low`` and ``high`` are None where nothing is known of that.
    """

    x: FloatArray
    y: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """One point; ``open`` is the half-width of its uncertainty, None where none is known."""

    x: float
    y: float
    open: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ConstantPanel:
    """One constant.

    Attributes
    ----------
    at_point : Spot or None
        The tube's own at its operating point.
    printed : tuple of Spot
        What handbooks print for the type at this plate voltage.
    """

    name: str
    y: Axis
    tube: CourseLine
    reference: CourseLine | None
    at_point: Spot | None
    printed: tuple[Spot, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ConstantsPicture:
    """Panels over one axis of plate currents.

    Attributes
    ----------
    panels : tuple of ConstantPanel
        Transconductance, plate resistance, amplification factor; those that could be had.
    reason : str or None
        Why there is no panel.
    """

    title: str
    plate_voltage: float | None
    x: Axis
    panels: tuple[ConstantPanel, ...]
    reference_label: str | None = None
    reason: str | None = None


def constants_picture(
    assessment: Assessment,
    plate_voltage: float | None = None,
    quantities: ConstantQuantities = CONSTANT_QUANTITIES,
) -> ConstantsPicture:
    """Return the constants of a tube against its plate current.

    Parameters
    ----------
    plate_voltage : float or None
        [V]; the operating point's where None.
    quantities : ConstantQuantities
        The units they are shown in.
    """
    title = assessment.sweep.title
    if plate_voltage is None:
        plate_voltage = usual_plate_voltage(assessment)
    reason = why_no_course(assessment)
    if reason is not None or plate_voltage is None:
        return _empty(title, plate_voltage, reason or "no usable reading")
    found = constants_along_current(assessment, plate_voltage)
    if not np.isfinite(found.plate_current.value).any():
        at = volts(round(plate_voltage, 1))
        return _empty(title, plate_voltage, f"the readings give no plate current at {at} V")
    current = PLATE_CURRENT.unit.from_si(1.0) * found.plate_current.value
    x = round_axis(PLATE_CURRENT.axis_label, 0.0, float(np.nanmax(current)))
    parts = _Parts(assessment, plate_voltage, found, current, x)
    panels = tuple(
        panel for name, quantity in quantities[1:] for panel in parts.panels(name, quantity)
    )
    reason = None if panels else "the readings determine none of the constants there"
    return ConstantsPicture(title, plate_voltage, x, panels, reference_name(assessment), reason)


def constant_curves(picture: ConstantsPicture) -> tuple[CurvePicture, ...]:
    """Return the panels as plots of lines and points, to be painted on paper."""
    return tuple(_curves(picture, panel) for panel in picture.panels)


def _curves(picture: ConstantsPicture, panel: ConstantPanel) -> CurvePicture:
    line, points = panel.tube, [*panel.printed]
    series = [Series(Role.FITTED, panel.name, line.x, line.y, step=0)]
    for edge in (line.low, line.high):
        if edge is not None:
            known = np.isfinite(edge)
            series.append(Series(Role.UNCERTAINTY, panel.name, line.x[known], edge[known], step=0))
    if panel.reference is not None:
        of = panel.reference
        series.append(Series(Role.REFERENCE, panel.name, of.x, of.y))
    if panel.at_point is not None:
        x, y = np.array([panel.at_point.x]), np.array([panel.at_point.y])
        series.append(Series(Role.MEASURED, panel.name, x, y, step=0))
    if points:
        x, y = (np.array([getattr(spot, side) for spot in points]) for side in ("x", "y"))
        series.append(Series(Role.PRINTED, panel.name, x, y, step=0))
    at = "" if picture.plate_voltage is None else f", Vp {volts(round(picture.plate_voltage, 1))} V"
    return CurvePicture(
        title=picture.title,
        x=picture.x,
        y=replace(panel.y, label=f"{panel.y.label}{at}"),
        series=tuple(series),
        marks=(),
        step_count=1,
    )


def _empty(title: str, plate_voltage: float | None, reason: str) -> ConstantsPicture:
    axis = round_axis(PLATE_CURRENT.axis_label, 0.0, 1.0)
    return ConstantsPicture(title, plate_voltage, axis, (), None, reason)


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    assessment: Assessment
    plate_voltage: float
    found: ConstantMap
    current: FloatArray
    x: Axis

    def panels(self, name: str, quantity: Quantity) -> Iterator[ConstantPanel]:
        """Yield the panel of one constant, where it has any value."""
        part, unit = getattr(self.found, name), quantity.unit.si
        known = np.isfinite(part.value) & np.isfinite(self.current)
        if known.sum() < 2:
            return
        y, half = part.value[known] / unit, part.u95[known] / unit
        tube = CourseLine(self.current[known], y, y - half, y + half)
        reference = self._reference(name, unit)
        at_point = self._at_point(name, unit)
        printed = tuple(self._printed(name, unit))
        yield ConstantPanel(
            name=name,
            y=_axis(quantity, tube, reference, printed),
            tube=tube,
            reference=reference,
            at_point=at_point,
            printed=printed,
        )

    def _reference(self, name: str, unit: float) -> CourseLine | None:
        family, hull = self.assessment.reference, self.assessment.fit.hull
        if family is None or hull is None:
            return None
        low, high = float(hull.origin[1]), float(hull.origin[1] + hull.span[1])
        if not high > low:
            return None
        grid = np.linspace(low - 0.3 * (high - low), high, _REFERENCE_POINTS)
        plate = np.full(grid.size, self.plate_voltage)
        current = family.current(plate, grid) / PLATE_CURRENT.unit.si
        by_plate, by_grid = family.slopes(plate, grid)
        with np.errstate(divide="ignore", invalid="ignore"):
            values = {
                "transconductance": by_grid,
                "plate_resistance": 1.0 / by_plate,
                "amplification_factor": by_grid / by_plate,
            }[name] / unit
        shown = np.isfinite(values) & (current > 0) & (current <= self.x.high)
        shown &= current >= float(np.nanmin(self.current))
        return CourseLine(current[shown], values[shown]) if shown.sum() > 1 else None

    def _at_point(self, name: str, unit: float) -> Spot | None:
        point, constants = self.assessment.operating_point, self.assessment.constants
        current = constants.plate_current
        constant: Constant = getattr(constants, name)
        if point is None or abs(point.plate_voltage - self.plate_voltage) > _SAME_PLATE:
            return None
        if current.value is None or constant.value is None:
            return None
        half = None if constant.u95 is None else constant.u95 / unit
        return Spot(PLATE_CURRENT.unit.from_si(current.value), constant.value / unit, half)

    def _printed(self, name: str, unit: float) -> Iterator[Spot]:
        tube_type = self.assessment.tube_type
        for point in tube_type.points if tube_type is not None else ():
            figure: Figure | None = getattr(point, name)
            near = abs(point.plate_voltage - self.plate_voltage) <= _SAME_PLATE
            if near and figure is not None and point.plate_current is not None:
                current = PLATE_CURRENT.unit.from_si(point.plate_current.value)
                yield Spot(current, figure.value / unit)


def _axis(
    quantity: Quantity, tube: CourseLine, reference: CourseLine | None, printed: tuple[Spot, ...]
) -> Axis:
    """Return an axis for what is worth seeing: from zero, save for the amplification factor."""
    least = _SHOWN_FROM * float(tube.x.max())
    lines = [tube] if reference is None else [tube, reference]
    seen = [line.y[line.x >= least] for line in lines]
    seen += [np.array([spot.y for spot in printed])]
    values = np.concatenate(seen)
    low, high = float(values.min()), float(values.max())
    if quantity.symbol != AMPLIFICATION_FACTOR.symbol:
        low = 0.0
    unit = f" ({quantity.unit.symbol})" if quantity.unit.symbol else ""
    return round_axis(quantity.symbol + unit, low, high, intervals=4)
