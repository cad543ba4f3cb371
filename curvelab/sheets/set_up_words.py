"""What was changed for a test of a tube, in words."""

from __future__ import annotations

from types import MappingProxyType

from curvelab.health.case import SetUp

__all__ = ["SET_UP_WORDS"]

SET_UP_WORDS = MappingProxyType(
    {SetUp.GRID_RESISTOR: "resistor in the grid lead", SetUp.LOW_HEATER: "heater turned down"}
)
