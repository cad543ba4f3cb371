"""Axes with round numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Axis", "round_axis"]


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis of a picture, in the unit its label names."""

    label: str
    low: float
    high: float
    ticks: tuple[float, ...]
    tick_labels: tuple[str, ...]


def round_axis(label: str, low: float, high: float, intervals: int = 7) -> Axis:
    """Return an axis that holds ``low`` to ``high`` and begins and ends on a tick.

    Parameters
    ----------
    intervals : int
        About how many intervals between ticks are wanted.
    """
    if not high > low:
        high = low + 1.0
    step = _round_step((high - low) / intervals)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    if round(step, decimals) != step:  # 0.25 needs one decimal more than 0.2
        decimals += 1
    ticks = tuple(number * step for number in range(first, last + 1))
    labels = tuple(f"{tick + 0.0:.{decimals}f}" for tick in ticks)
    return Axis(label, ticks[0], ticks[-1], ticks, labels)


def _round_step(rough: float) -> float:
    """Return the smallest of 1, 2, 2.5, 5 times a power of ten that is not below ``rough``."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(
        (factor * power for factor in (1.0, 2.0, 2.5, 5.0) if factor * power >= rough * 0.999),
        10.0 * power,
    )
