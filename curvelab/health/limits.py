"""The editable thresholds that decide where no sheet prints a limit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from curvelab.errors import BenchDescriptionError
from curvelab.quantities import MICROAMPERE, SECOND, UNITY, VOLT, Unit

__all__ = ["COMMON_PRACTICE", "HOUSE_RULE", "HouseLimits", "Limit"]

COMMON_PRACTICE = "common practice, no source"
HOUSE_RULE = "house rule, editable"

_PERCENT = Unit("%", 0.01)


@dataclass(frozen=True, slots=True)
class Limit:
    """A threshold in SI (a share for percent), the unit it is printed in, and its source."""

    value: float
    unit: Unit
    source: str

    @property
    def printed(self) -> float:
        """The value in the unit it is printed in."""
        return self.unit.from_si(self.value)


def _common(printed: float, unit: Unit = UNITY) -> Limit:
    return Limit(unit.to_si(printed), unit, COMMON_PRACTICE)


def _house(printed: float, unit: Unit = UNITY) -> Limit:
    return Limit(unit.to_si(printed), unit, HOUSE_RULE)


@dataclass(frozen=True, slots=True)
class HouseLimits:
    """Every threshold by name; ``resources/house_limits.toml`` says what each one means."""

    reverse_grid_current: Limit = _common(0.01, _PERCENT)
    reverse_grid_current_reject: Limit = _common(5.0)
    ionisation_voltage: Limit = _common(20.0, VOLT)
    electron_grid_voltage: Limit = _common(-1.0, VOLT)
    pass_disagreement: Limit = _house(3.0, _PERCENT)
    pass_disagreement_reject: Limit = _house(10.0, _PERCENT)
    weak_emission: Limit = _house(10.0, _PERCENT)
    weak_emission_reject: Limit = _house(25.0, _PERCENT)
    no_emission: Limit = _common(2.0, _PERCENT)
    no_emission_current: Limit = _common(20.0, MICROAMPERE)
    section_balance: Limit = _house(20.0, _PERCENT)
    over_rating_caution: Limit = _house(1.5)
    far_from_bogey: Limit = _common(30.0, _PERCENT)
    off_type_odds: Limit = _house(99.0, _PERCENT)
    off_type_deviation: Limit = _house(15.0, _PERCENT)
    heater_cathode_leakage: Limit = _common(20.0, MICROAMPERE)
    heater_cathode_leakage_reject: Limit = _common(5.0)
    warm_up: Limit = _common(180.0, SECOND)
    noise: Limit = _house(1.5, _PERCENT)
    noise_caution: Limit = _house(3.0, _PERCENT)
    disagreement: Limit = _house(10.0, _PERCENT)
    drift_band: Limit = _house(2.0, _PERCENT)

    @classmethod
    def from_mapping(cls, values: Mapping[str, object]) -> HouseLimits:
        """Return the limits with some of them changed.

        Parameters
        ----------
        values : mapping of str to number
            By name, in the unit each is printed in, as a user's file has them.

        Raises
        ------
        BenchDescriptionError
            If a name is unknown or a value is not a finite number of the right sign.
        """
        limits = cls()
        known = {item.name: getattr(limits, item.name) for item in fields(cls)}
        return replace(limits, **{name: _changed(name, value, known) for name, value in values.items()})


def _changed(name: str, value: object, known: Mapping[str, Limit]) -> Limit:
    limit = known.get(name)
    if limit is None:
        raise BenchDescriptionError(
            f"house limits: no limit is named {name!r} (there are {', '.join(known)})"
        )
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BenchDescriptionError(f"house limits: {name} must be a number, not {value!r}")
    if value * limit.value <= 0:
        sign = "above" if limit.value > 0 else "below"
        raise BenchDescriptionError(f"house limits: {name} must be {sign} 0, not {value}")
    if math.isclose(value, limit.printed):
        return limit
    return Limit(limit.unit.to_si(float(value)), limit.unit, HOUSE_RULE)
