"""How far a good tube may lie from its family: what a sheet prints, or what is common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curvelab.reference.family import ReferenceFamily
from curvelab.reference.records import PentodePoint, PrintedLimit, Status, TubeType

__all__ = ["ToleranceBand", "tolerance_band"]

# New tubes of one type, where no sheet prints an acceptance limit.
_COMMON = 0.30
_COMMON_SOURCE = "common practice, no source"
_SAME_SCREEN = 0.02


@dataclass(frozen=True, slots=True)
class ToleranceBand:
    """Plate current of a good tube at a point, and as shares of the family's.

    Attributes
    ----------
    plate_voltage, grid_voltage : float
        The point: that of the printed limit, or else the type's bogey point [V].
    least, most : float or None
        Plate current [A]; None where a sheet prints no such end.
    printed : bool
        Whether a sheet prints it.
    """

    plate_voltage: float
    grid_voltage: float
    least: float | None
    most: float | None
    family_current: float
    source: str
    printed: bool

    @property
    def shares(self) -> tuple[float | None, float | None]:
        """The two ends over the family's current."""
        low, high = (
            None if end is None else end / self.family_current for end in (self.least, self.most)
        )
        return low, high


def tolerance_band(tube_type: TubeType, family: ReferenceFamily) -> ToleranceBand | None:
    """Return the tolerance of a type's plate current; None without a point to state it at.

    A printed acceptance limit of new tubes goes first; a verified one before one from memory.
    Of a family with a screen grid the point is one at the screen voltage it is seen at.
    """
    screen = family.screen_voltage
    printed = [limit for limit in tube_type.printed_limits if _at_rest(limit, screen)]
    printed.sort(key=lambda limit: limit.status is not Status.VERIFIED)
    for limit in printed:
        assert limit.plate_voltage is not None and limit.grid_voltage is not None
        at = limit.plate_voltage, limit.grid_voltage
        memory = "" if limit.status is Status.VERIFIED else " (from memory)"
        return ToleranceBand(
            *at, limit.low, limit.high, _current(family, at), limit.source + memory, True
        )
    bogey = tube_type.bogey if screen is None else tube_type.pentode_bogey
    if bogey is None:
        return None
    if isinstance(bogey, PentodePoint) and not _same(bogey.screen_voltage, screen):
        return None
    at = bogey.plate_voltage, bogey.grid_voltage
    current = _current(family, at)
    least, most = (1.0 - _COMMON) * current, (1.0 + _COMMON) * current
    return ToleranceBand(*at, least, most, current, _COMMON_SOURCE, False)


def _at_rest(limit: PrintedLimit, screen: float | None) -> bool:
    """Tell whether a limit is that of a new tube's plate current at stated volts."""
    return (
        limit.quantity == "plate_current"
        and limit.stage == "new"
        and _same(limit.screen_voltage, screen)
        and limit.plate_voltage is not None
        and limit.grid_voltage is not None
    )


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= _SAME_SCREEN * other


def _current(family: ReferenceFamily, at: tuple[float, float]) -> float:
    return float(family.current(np.array([at[0]]), np.array([at[1]]))[0])
