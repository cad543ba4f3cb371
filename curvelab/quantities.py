"""Symbols, names and units: SI inside, the units of the trade at the edges.

Every number inside curvelab is in SI units (V, A, S, ohm, W, s). Files, screen and
sheets use the units of the trade; this module alone knows how they relate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = [
    "AMPLIFICATION_FACTOR",
    "DISSIPATION",
    "GRID_CURRENT",
    "GRID_VOLTAGE",
    "KILOHM",
    "MICROAMPERE",
    "MICROMHO",
    "MILLIAMPERE",
    "MILLIAMPERE_PER_VOLT",
    "OHM",
    "PLATE_CURRENT",
    "PLATE_RESISTANCE",
    "PLATE_VOLTAGE",
    "SCREEN_CURRENT",
    "SCREEN_VOLTAGE",
    "SECOND",
    "TRANSCONDUCTANCE",
    "UNITY",
    "VOLT",
    "WATT",
    "Quantity",
    "Unit",
    "format_number",
    "format_uncertain",
]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as printed, and what one of it is in SI."""

    symbol: str
    si: float

    def from_si(self, value: float) -> float:
        """Return ``value`` [SI] in this unit."""
        return value / self.si

    def to_si(self, value: float) -> float:
        """Return ``value`` in this unit as SI."""
        return value * self.si


VOLT = Unit("V", 1.0)
MILLIAMPERE = Unit("mA", 1e-3)
MICROAMPERE = Unit("µA", 1e-6)
MILLIAMPERE_PER_VOLT = Unit("mA/V", 1e-3)
MICROMHO = Unit("µmho", 1e-6)
OHM = Unit("ohm", 1.0)
KILOHM = Unit("kohm", 1e3)
WATT = Unit("W", 1.0)
SECOND = Unit("s", 1.0)
UNITY = Unit("", 1.0)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured or derived quantity: its letter symbol, name and unit on screen."""

    symbol: str
    name: str
    unit: Unit

    @property
    def axis_label(self) -> str:
        """The name with symbol and unit, for an axis or a column heading."""
        unit = f" ({self.unit.symbol})" if self.unit.symbol else ""
        return f"{self.name} {self.symbol}{unit}" if self.symbol != self.name else self.name + unit


PLATE_VOLTAGE = Quantity("Vp", "plate voltage", VOLT)
GRID_VOLTAGE = Quantity("Vg", "grid voltage", VOLT)
SCREEN_VOLTAGE = Quantity("Vs", "screen voltage", VOLT)
PLATE_CURRENT = Quantity("Ip", "plate current", MILLIAMPERE)
GRID_CURRENT = Quantity("Ig", "grid current", MICROAMPERE)
SCREEN_CURRENT = Quantity("Is", "screen current", MILLIAMPERE)
TRANSCONDUCTANCE = Quantity("gm", "transconductance", MILLIAMPERE_PER_VOLT)
PLATE_RESISTANCE = Quantity("rp", "plate resistance", KILOHM)
AMPLIFICATION_FACTOR = Quantity("mu", "amplification factor", UNITY)
DISSIPATION = Quantity("Pp", "plate dissipation", WATT)


def format_number(value: float, digits: int = 3) -> str:
    """Return ``value`` with ``digits`` significant figures, without an exponent.

    Raises
    ------
    ValueError
        If ``value`` is not finite: a missing value is the caller's to word.
    """
    if not math.isfinite(value):
        raise ValueError("only finite numbers are printed")
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def format_uncertain(value: float, u95: float | None, unit: Unit) -> str:
    """Return ``value ± u95 unit`` from SI values, rounded to two figures of ``u95``.

    The uncertainty is rounded to two significant figures and the value to the same
    decimal place (JCGM 100:2008, clause 7.2.6).
    """
    shown = unit.from_si(value)
    suffix = f" {unit.symbol}" if unit.symbol else ""
    if u95 is None or u95 <= 0 or not math.isfinite(u95):
        return format_number(shown) + suffix
    shown_u = unit.from_si(u95)
    decimals = max(0, 1 - math.floor(math.log10(shown_u)))
    return f"{shown:.{decimals}f} ± {shown_u:.{decimals}f}{suffix}"
