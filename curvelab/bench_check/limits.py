"""The editable thresholds of a bench check."""
# ruff: noqa: RUF009 (a Limit is frozen, so that it may be a default)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from curvelab.health.limits import COMMON_PRACTICE, HOUSE_RULE, Limit, changed_limits
from curvelab.quantities import MICROAMPERE, UNITY, Unit

__all__ = ["CheckLimits"]

_PERCENT = Unit("%", 0.01)


@dataclass(frozen=True, slots=True)
class CheckLimits:
    """Every threshold by name; ``resources/bench_check.toml`` says what each one means."""

    repeatability: Limit = Limit(1.0, _PERCENT, HOUSE_RULE)
    firm_history: Limit = Limit(20.0, UNITY, COMMON_PRACTICE)
    odds: Limit = Limit(20.0, UNITY, HOUSE_RULE)
    meter_gain: Limit = Limit(0.5, _PERCENT, HOUSE_RULE)
    resistor_bend: Limit = Limit(0.2, _PERCENT, HOUSE_RULE)
    resistor_load: Limit = Limit(50.0, _PERCENT, COMMON_PRACTICE)
    plate_zero: Limit = Limit(10.0, MICROAMPERE, HOUSE_RULE)
    plate_leakage: Limit = Limit(10.0, MICROAMPERE, HOUSE_RULE)
    grid_zero: Limit = Limit(0.05, MICROAMPERE, HOUSE_RULE)
    grid_leakage: Limit = Limit(0.05, MICROAMPERE, HOUSE_RULE)

    @classmethod
    def from_mapping(cls, values: Mapping[str, object]) -> CheckLimits:
        """Return the limits with some of them changed, as a user's file has them.

        Raises
        ------
        BenchDescriptionError
            If a name is unknown or a value is not a finite number of the right sign.
        """
        return changed_limits(cls(), values, "limits of the bench check")
