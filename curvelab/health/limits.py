"""The editable thresholds that decide where no sheet prints a limit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, TypeVar

from curvelab.errors import BenchDescriptionError
from curvelab.quantities import MICROAMPERE, SECOND, UNITY, VOLT, Unit

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

__all__ = ["COMMON_PRACTICE", "HOUSE_RULE", "HouseLimits", "Limit", "changed_limits"]

LimitSet = TypeVar("LimitSet", bound="DataclassInstance")

COMMON_PRACTICE = "common practice, no source"
HOUSE_RULE = "house rule, editable"

_PERCENT = Unit("%", 0.01)


@dataclass(frozen=True, slots=True)
class Limit:
    """A threshold as printed, with its unit and source."""

    printed: float
    unit: Unit
    source: str

    @property
    def value(self) -> float:
        """The threshold in SI; a percentage as a share."""
        return self.unit.to_si(self.printed)


@dataclass(frozen=True, slots=True)
class HouseLimits:
    """Every threshold by name; ``resources/house_limits.toml`` says what each one means."""

    reverse_grid_current: Limit = Limit(0.01, _PERCENT, COMMON_PRACTICE)
    reverse_grid_current_reject: Limit = Limit(5.0, UNITY, COMMON_PRACTICE)
    ionisation_voltage: Limit = Limit(20.0, VOLT, COMMON_PRACTICE)
    electron_grid_voltage: Limit = Limit(-1.0, VOLT, COMMON_PRACTICE)
    pass_disagreement: Limit = Limit(2.0, _PERCENT, HOUSE_RULE)
    pass_disagreement_reject: Limit = Limit(10.0, _PERCENT, HOUSE_RULE)
    weak_emission: Limit = Limit(6.0, _PERCENT, HOUSE_RULE)
    weak_emission_reject: Limit = Limit(25.0, _PERCENT, HOUSE_RULE)
    reduced_heater: Limit = Limit(10.0, _PERCENT, COMMON_PRACTICE)
    reduced_heater_reject: Limit = Limit(25.0, _PERCENT, COMMON_PRACTICE)
    no_emission: Limit = Limit(2.0, _PERCENT, COMMON_PRACTICE)
    no_emission_current: Limit = Limit(20.0, MICROAMPERE, COMMON_PRACTICE)
    section_balance: Limit = Limit(20.0, _PERCENT, HOUSE_RULE)
    over_rating_caution: Limit = Limit(1.5, UNITY, HOUSE_RULE)
    far_from_bogey: Limit = Limit(30.0, _PERCENT, COMMON_PRACTICE)
    off_type_odds: Limit = Limit(99.5, _PERCENT, HOUSE_RULE)
    off_type_deviation: Limit = Limit(15.0, _PERCENT, HOUSE_RULE)
    heater_cathode_leakage: Limit = Limit(20.0, MICROAMPERE, COMMON_PRACTICE)
    heater_cathode_leakage_reject: Limit = Limit(5.0, UNITY, COMMON_PRACTICE)
    warm_up: Limit = Limit(180.0, SECOND, COMMON_PRACTICE)
    heater_current: Limit = Limit(10.0, _PERCENT, HOUSE_RULE)
    heater_open: Limit = Limit(5.0, _PERCENT, HOUSE_RULE)
    same_tube: Limit = Limit(5.0, _PERCENT, HOUSE_RULE)
    noise: Limit = Limit(1.5, _PERCENT, HOUSE_RULE)
    noise_caution: Limit = Limit(2.5, _PERCENT, HOUSE_RULE)
    disagreement: Limit = Limit(10.0, _PERCENT, HOUSE_RULE)
    drift_band: Limit = Limit(2.0, _PERCENT, HOUSE_RULE)

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
        return changed_limits(cls(), values, "house limits")


def changed_limits(limits: LimitSet, values: Mapping[str, object], where: str) -> LimitSet:
    """Return a set of limits with some of them changed.

    Parameters
    ----------
    limits : dataclass
        Every field a `Limit`.
    values : mapping of str to number
        By name, in the unit each is printed in.
    where : str
        What the set is called in a message.

    Raises
    ------
    BenchDescriptionError
        If a name is unknown or a value is not a finite number of the right sign.
    """
    known = {item.name: getattr(limits, item.name) for item in fields(limits)}
    changed = {name: _changed(name, value, known, where) for name, value in values.items()}
    return replace(limits, **changed)


def _changed(name: str, value: object, known: Mapping[str, Limit], where: str) -> Limit:
    limit = known.get(name)
    if limit is None:
        raise BenchDescriptionError(
            f"{where}: no limit is named {name!r} (there are {', '.join(known)})"
        )
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BenchDescriptionError(f"{where}: {name} must be a number, not {value!r}")
    if value * limit.printed <= 0:
        sign = "above" if limit.printed > 0 else "below"
        raise BenchDescriptionError(f"{where}: {name} must be {sign} 0, not {value}")
    if math.isclose(value, limit.printed):
        return limit
    return Limit(float(value), limit.unit, HOUSE_RULE)
