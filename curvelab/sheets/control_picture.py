"""Control charts of the golden tubes, ready to be drawn. Trade units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curvelab.bench_check.golden import QuantityCheck, TubeChart
from curvelab.bench_check.verdict import BenchCheck
from curvelab.quantities import PLATE_CURRENT, TRANSCONDUCTANCE, Quantity
from curvelab.sheets.text import plain, signed_percent
from curvelab.sweep.records import FloatArray

__all__ = ["ControlPicture", "control_pictures"]

_QUANTITIES = {"plate_current": PLATE_CURRENT, "transconductance": TRANSCONDUCTANCE}


@dataclass(frozen=True, slots=True, eq=False)
class ControlPicture:
    """One golden tube in one quantity, session by session; the last one is today's.

    Attributes
    ----------
    title : str
        The tube and the quantity.
    values : ndarray, shape (n,)
        In the unit of ``y_label``; empty where there is no chart.
    baseline : int
        How many of them make the limits.
    centre, lower, upper : float
        Mean of those, and the three-sigma limits.
    signals : tuple of (int, str)
        Positions that break a rule of the chart, each with the rule.
    shift : str
        Today's value against the mean of the history, in words.
    reason : str or None
        Why there is no chart.
    """

    title: str
    y_label: str
    values: FloatArray
    baseline: int = 0
    centre: float = 0.0
    lower: float = 0.0
    upper: float = 0.0
    signals: tuple[tuple[int, str], ...] = ()
    shift: str = ""
    reason: str | None = None

    @property
    def out_of_control(self) -> bool:
        """Whether today's value breaks a rule."""
        return any(position == self.values.size - 1 for position, _ in self.signals)


def control_pictures(check: BenchCheck) -> tuple[ControlPicture, ...]:
    """Return a picture for each golden tube and quantity of a check, empty without any."""
    found = () if check.golden is None else check.golden.quantities
    return tuple(picture for item in found for picture in _pictures(item))


def _pictures(item: QuantityCheck) -> Iterator[ControlPicture]:
    quantity = _QUANTITIES[item.quantity]
    for each in item.charts:
        yield _picture(each, quantity)


def _picture(each: TubeChart, quantity: Quantity) -> ControlPicture:
    title = f"{plain(each.tube)}: {quantity.name}"
    shift = "no history yet" if each.shift is None else signed_percent(each.shift)
    chart, unit = each.chart, quantity.unit
    if chart is None:
        sessions = f"{each.sessions} session{'' if each.sessions == 1 else 's'}"
        reason = f"its history counts {sessions}; a chart needs two that differ"
        return ControlPicture(title, quantity.axis_label, np.empty(0), shift=shift, reason=reason)
    return ControlPicture(
        title=title,
        y_label=quantity.axis_label,
        values=np.array([unit.from_si(value) for value in chart.values]),
        baseline=chart.baseline,
        centre=unit.from_si(chart.centre),
        lower=unit.from_si(chart.lower),
        upper=unit.from_si(chart.upper),
        signals=tuple((signal.position, signal.rule) for signal in chart.signals),
        shift=shift,
    )
