"""The plots of the grid current: measured, explained, and the share of each cause."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.health.grid_shares import GridShares, split_grid_current
from curvelab.health.limits import HouseLimits
from curvelab.quantities import GRID_CURRENT, MICROAMPERE, PLATE_VOLTAGE
from curvelab.sheets.plot_parts import LINE_POINTS, marks_of
from curvelab.sheets.plot_records import CurvePicture, Role, Series
from curvelab.sheets.text import decimals_of, volts
from curvelab.sheets.ticks import Axis, round_axis
from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = ["GridCurrentPictures", "grid_current_pictures"]

_CAUSES = (
    ("gas", "gas"),
    ("leakage", "leakage"),
    ("emission", "grid emission"),
    ("electrons", "electrons"),
)
# A share below this part of the largest current of the plot is not worth a line of its own.
_WORTH_A_LINE = 0.01
_LEAST = 1e-3  # [µA]: below a nanoampere a bench measures itself
_MOST_DECIMALS = 3


@dataclass(frozen=True, slots=True, eq=False)
class GridCurrentPictures:
    """The two plots with what is to be said of them.

    Attributes
    ----------
    plots : tuple of CurvePicture
        All grid steps, then the shares of one; without the second where the current could
        not be told apart, and empty where none was logged.
    note : str or None
        The shares at the operating point, or why there are none.
    reason : str or None
        Why there is no plot.
    """

    plots: tuple[CurvePicture, ...] = ()
    note: str | None = None
    reason: str | None = None


def grid_current_pictures(assessment: Assessment, limits: HouseLimits) -> GridCurrentPictures:
    """Return the grid current of a sweep against its plate voltage, with its explained shares.

    Lines are the sum of what gas, leakage, grid emission and electrons explain; readings
    that did not serve to tell them apart are crossed.
    """
    readings = assessment.sweep.readings
    if readings.grid_current is None or not np.isfinite(readings.grid_current).any():
        return GridCurrentPictures(reason="no grid current was logged")
    shares = split_grid_current(
        readings,
        assessment.fit.used.astype(np.bool_),
        ionisation_voltage=limits.ionisation_voltage.value,
        electron_grid_voltage=limits.electron_grid_voltage.value,
    )
    parts = _Parts(assessment, readings.grid_current, split_curves(readings), shares)
    every = parts.every_step()
    if shares is None:
        note = "too few readings carry a grid current to tell its causes apart"
        return GridCurrentPictures((every,), note)
    said = [_note(assessment, shares)]
    if any(every.of_role(Role.LEFT_OUT)):
        said.append("crossed: not used to tell the causes apart")
    note = "; ".join(part for part in said if part)
    return GridCurrentPictures((every, parts.one_step(shares, every.x)), note or None)


def _note(assessment: Assessment, shares: GridShares) -> str | None:
    """Return the reverse currents at the operating point in words."""
    point, current = assessment.operating_point, assessment.constants.plate_current.value
    if point is None or current is None:
        return None
    at = (point.plate_voltage, point.grid_voltage, current)
    named = (
        ("gas", shares.gas(at)),
        ("leakage", shares.leakage(at)),
        ("grid emission", shares.emission(at)),
    )
    said = ", ".join(f"{name} {_said(*share)}" for name, share in named)
    place = f"Vp {volts(point.plate_voltage)} V, Vg {volts(point.grid_voltage)} V"
    return f"reverse grid current at {place} (µA): {said}"


def _said(current: float, u95: float) -> str:
    """Return a share with its uncertainty, or that it is lost in it."""
    value, spread = MICROAMPERE.from_si(current), MICROAMPERE.from_si(u95)
    if value <= max(spread, _LEAST):
        return "none"
    decimals = min(decimals_of(max(spread, _LEAST)), _MOST_DECIMALS)
    return f"{value:.{decimals}f} ± {max(spread, 10.0**-decimals):.{decimals}f}"


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    assessment: Assessment
    grid_current: FloatArray
    curves: Curves
    shares: GridShares | None

    @property
    def microamperes(self) -> FloatArray:
        return self.grid_current / MICROAMPERE.si

    def every_step(self) -> CurvePicture:
        """Return all grid steps: readings, and the sum of the causes where it is known."""
        readings, micro = self.assessment.sweep.readings, self.microamperes
        plate = readings.plate_voltage
        lines = () if self.shares is None else tuple(self._sums(self.shares))
        series = (*lines, *self._points({line.step for line in lines}))
        lowest = min(0.0, float(plate.min()))
        reach = [line.y for line in lines] + [micro[self._served() & np.isfinite(micro)]]
        return CurvePicture(
            title=self.assessment.sweep.title,
            x=round_axis(PLATE_VOLTAGE.axis_label, lowest, float(plate.max())),
            y=_current_axis(GRID_CURRENT.axis_label, reach),
            series=series,
            marks=marks_of(self.assessment.findings, plate, micro),
            step_count=self.curves.grid_voltage.size,
        )

    def one_step(self, shares: GridShares, x: Axis) -> CurvePicture:
        """Return one grid step with a line for each cause."""
        readings, micro, step = self.assessment.sweep.readings, self.microamperes, self._step()
        at = np.flatnonzero((self.curves.step == step) & self._served() & np.isfinite(micro))
        at = at[np.argsort(readings.plate_voltage[at], kind="stable")]
        plate, current = readings.plate_voltage[at], readings.plate_current[at]
        parts = shares.parts_at(plate, readings.grid_voltage[at], current)
        each = [(words, getattr(parts, name) / MICROAMPERE.si) for name, words in _CAUSES]
        largest = max([1e-6, *(float(np.abs(y).max(initial=0.0)) for _, y in each)])
        series = [
            Series(Role.SHARE, words, plate, y, number, end_label=True)
            for number, (words, y) in enumerate(each, start=1)
            if plate.size > 1 and float(np.abs(y).max()) >= _WORTH_A_LINE * largest
        ]
        if len(series) > 1:  # of a single cause the sum would hide it
            together = parts.together / MICROAMPERE.si
            series.insert(0, Series(Role.FITTED, "sum", plate, together, 0, end_label=True))
        points = Series(Role.MEASURED, "", plate, micro[at], 0, readings=at)
        grid = volts(round(float(self.curves.grid_voltage[step]), 2))
        return CurvePicture(
            title=self.assessment.sweep.title,
            x=x,
            y=_current_axis(f"Ig at Vg {grid} V (µA)", [micro[at], *(line.y for line in series)]),
            series=(*series, points),
            marks=(),
            step_count=len(each) + 1,
        )

    def _served(self) -> BoolArray:
        """Tell which readings told the causes apart; all that no bench fault spoilt without."""
        used: BoolArray = self.assessment.fit.used.astype(np.bool_)
        if self.shares is None:
            return used
        served = np.zeros(used.size, dtype=np.bool_)
        served[self.shares.index] = True
        return served

    def _step(self) -> int:
        """Return the grid step nearest to the operating point, of those that served."""
        steps = np.unique(self.curves.step[self._served()])
        point = self.assessment.operating_point
        grid = self.curves.grid_voltage[steps]
        wanted = float(np.median(grid)) if point is None else point.grid_voltage
        return int(steps[np.argmin(np.abs(grid - wanted))])

    def _sums(self, shares: GridShares) -> Iterator[Series]:
        readings, served = self.assessment.sweep.readings, self._served()
        for step, grid in enumerate(self.curves.grid_voltage.tolist()):
            at = np.flatnonzero((self.curves.step == step) & served)
            at = at[np.argsort(readings.plate_voltage[at], kind="stable")][: 4 * LINE_POINTS]
            if at.size < 2:
                continue
            plate, current = readings.plate_voltage[at], readings.plate_current[at]
            found = shares.parts_at(plate, readings.grid_voltage[at], current)
            y = found.together / MICROAMPERE.si
            yield Series(Role.FITTED, _step_label(grid), plate, y, step, end_label=True)

    def _points(self, labelled: set[int | None]) -> Iterator[Series]:
        readings, micro, served = self.assessment.sweep.readings, self.microamperes, self._served()
        known = np.isfinite(micro)
        for role, part in ((Role.MEASURED, served & known), (Role.LEFT_OUT, ~served & known)):
            for step, grid in enumerate(self.curves.grid_voltage.tolist()):
                at = np.flatnonzero(part & (self.curves.step == step))
                at = at[np.argsort(readings.plate_voltage[at], kind="stable")]
                if at.size:
                    ends = role is Role.MEASURED and step not in labelled
                    x, y = readings.plate_voltage[at], micro[at]
                    yield Series(role, _step_label(grid), x, y, step, ends, at)


def _step_label(grid_voltage: float) -> str:
    return f"{volts(round(grid_voltage, 2))} V"


def _current_axis(label: str, currents: list[FloatArray]) -> Axis:
    """Return an axis of small currents with zero in it."""
    every = np.concatenate([*currents, np.zeros(1)])
    every = every[np.isfinite(every)]
    low, high = float(every.min()), float(every.max())
    if high - low < 1e-3:
        high = low + 1e-3
    return round_axis(label, low, high, intervals=5)
