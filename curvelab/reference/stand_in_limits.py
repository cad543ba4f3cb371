"""The editable house rules of a substitution."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass

from curvelab.errors import ReferenceDataError

__all__ = ["StandInLimits"]


@dataclass(frozen=True, slots=True)
class StandInLimits:
    """Every rule by name, as printed; ``resources/stand_in.toml`` says what each one means."""

    heater_apart_pct: float = 2.0
    current_condition_pct: float = 15.0
    current_other_stage_pct: float = 50.0
    constant_condition_pct: float = 10.0
    mu_other_stage_pct: float = 35.0
    capacitance_condition_times: float = 1.5

    @classmethod
    def from_mapping(cls, values: Mapping[str, object]) -> StandInLimits:
        """Return the rules with some of them changed, as a user's file has them.

        Raises
        ------
        ReferenceDataError
            If a name is unknown or a value is not a number above 0.
        """
        known = asdict(cls())
        for name, value in values.items():
            if name not in known:
                raise ReferenceDataError(
                    f"house rules of a substitution: none is named {name!r} "
                    f"(there are {', '.join(known)})"
                )
            good = isinstance(value, int | float) and not isinstance(value, bool)
            if not good or not math.isfinite(value) or value <= 0:  # type: ignore[arg-type, operator]
                raise ReferenceDataError(
                    f"house rules of a substitution: {name} must be a number above 0, not {value!r}"
                )
            known[name] = float(value)  # type: ignore[arg-type]
        return cls(**known)

    @property
    def words(self) -> tuple[str, ...]:
        """The rules in words, for whoever reads the verdict."""
        return (
            f"a current {self.current_condition_pct:g} % apart is a condition, "
            f"{self.current_other_stage_pct:g} % with the same cathode resistor another stage",
            f"mu, gm or plate resistance {self.constant_condition_pct:g} % apart is a condition, "
            f"mu {self.mu_other_stage_pct:g} % apart another stage",
            f"a capacitance {self.capacitance_condition_times:g} times as large is a condition",
            f"heaters are alike within {self.heater_apart_pct:g} %",
        )
