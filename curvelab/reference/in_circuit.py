"""Two types in one stage: how bias, current and constants shift, and what that means."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from curvelab.reference.families import FamilyLibrary
from curvelab.reference.records import TubeType
from curvelab.reference.same_circuit import (
    Settled,
    bias_for_current,
    settle,
    stage_around,
)
from curvelab.reference.substitution_notes import Notes, limit_words, shown, signed_share

__all__ = ["AT_THE_POINT", "InCircuit", "compare_in_circuit", "note_the_shift"]

# House rules: how far a stage may change before it is a condition, and before it is another.
_CURRENT_CHANGES, _CURRENT_OTHER = 0.15, 0.50
_CONSTANT_CHANGES, _CONSTANT_OTHER = 0.10, 0.35
# What a tube at rest says of a limit.
AT_THE_POINT: dict[str, Callable[[Settled], float]] = {
    "plate_voltage": lambda settled: settled.plate_voltage,
    "plate_dissipation": lambda settled: settled.plate_dissipation,
    "plate_current": lambda settled: settled.plate_current,
    "cathode_current": lambda settled: settled.plate_current,
}


@dataclass(frozen=True, slots=True)
class InCircuit:
    """Both types at rest in the stage that holds the old one at the point asked for.

    Attributes
    ----------
    cathode_resistance : float
        That makes the old type's bias [ohm].
    supply_voltage : float
        Plate supply with cathode bias [V].
    old : Settled
    cathode_bias, fixed_bias : Settled
        The new type with the same cathode resistor, and with the same fixed bias.
    bias_for_same_current : float or None
        Grid voltage at which the new type passes the old one's current [V].
    """

    supply_voltage: float
    cathode_resistance: float
    plate_circuit_resistance: float
    old: Settled
    cathode_bias: Settled
    fixed_bias: Settled
    bias_for_same_current: float | None


def compare_in_circuit(
    library: FamilyLibrary,
    old: TubeType,
    new: TubeType,
    at: tuple[float, float] | None,
    plate_circuit_resistance: float,
) -> InCircuit | None:
    """Return both types in the stage around a point; None where either has no family.

    Parameters
    ----------
    at : tuple of float or None
        (Vp, Vg) of the old type [V]; its bogey point where None.
    plate_circuit_resistance : float
        Direct-current resistance of the plate circuit [ohm].
    """
    families = library.families.get(old.name), library.families.get(new.name)
    if at is None and old.bogey is not None:
        at = old.bogey.plate_voltage, old.bogey.grid_voltage
    if families[0] is None or families[1] is None or at is None:
        return None
    by_cathode, by_supply = (
        stage_around(families[0], at, fixed_bias=fixed, plate_resistance=plate_circuit_resistance)
        for fixed in (False, True)
    )
    stands = settle(families[0], by_cathode)
    return InCircuit(
        supply_voltage=by_cathode.supply_voltage,
        cathode_resistance=by_cathode.cathode_resistance,
        plate_circuit_resistance=plate_circuit_resistance,
        old=stands,
        cathode_bias=settle(families[1], by_cathode),
        fixed_bias=settle(families[1], by_supply),
        bias_for_same_current=bias_for_current(families[1], at[0], stands.plate_current),
    )


def note_the_shift(notes: Notes, old: TubeType, new: TubeType, both: InCircuit | None) -> None:
    """Note what the shift in the same circuit means."""
    if both is None:
        notes.doubt(
            f"bias and current in the same circuit: {old.name} or {new.name} has no reference "
            "family as a triode, or no point to compare at"
        )
        return
    _note_overload(notes, new, both)
    for words, settled in (
        ("with the same cathode resistor", both.cathode_bias),
        ("with the same fixed bias", both.fixed_bias),
    ):
        _note_current(notes, new, words, settled, both)
    for words, name in (("mu", "amplification_factor"), ("plate resistance", "plate_resistance")):
        share = getattr(both.cathode_bias, name) / getattr(both.old, name) - 1.0
        text = f"its {words} is {signed_share(share)} in the same stage"
        if abs(share) > _CONSTANT_OTHER and name == "amplification_factor":
            notes.against.append(f"{text}: another stage")
        elif abs(share) > _CONSTANT_CHANGES:
            notes.conditions.append(f"{text}: gain, load or distortion change with it")


def _note_overload(notes: Notes, new: TubeType, both: InCircuit) -> None:
    """Note the ratings that the new type would pass in the same circuit."""
    for name, reach in AT_THE_POINT.items():
        limit = new.rating(name)
        if limit is None:
            continue
        sheet = "" if limit.verified else " (from memory: check the sheet)"
        used = reach(both.cathode_bias)
        if used > limit.value:
            notes.against.append(
                f"in the same circuit its {limit_words(name)} would be {shown(name, used)}, beyond "
                f"the rated {shown(name, limit.value)}{sheet}"
            )
        elif reach(both.fixed_bias) > limit.value:
            notes.conditions.append(
                f"never with the same fixed bias: its {limit_words(name)} would be "
                f"{shown(name, reach(both.fixed_bias))}, beyond the rated "
                f"{shown(name, limit.value)}{sheet}"
            )


def _note_current(
    notes: Notes, new: TubeType, words: str, settled: Settled, both: InCircuit
) -> None:
    share = settled.plate_current / both.old.plate_current - 1.0
    fixed = settled is both.fixed_bias
    if abs(share) <= _CURRENT_CHANGES:
        return
    text = (
        f"{words} it draws {settled.plate_current * 1e3:.3g} mA instead of "
        f"{both.old.plate_current * 1e3:.3g} mA"
    )
    if not fixed and abs(share) > _CURRENT_OTHER:
        notes.against.append(f"{text}: another stage")
        return
    bias = both.bias_for_same_current
    if any(
        (limit := new.rating(name)) is not None and reach(both.old) > limit.value
        for name, reach in AT_THE_POINT.items()
    ):
        notes.conditions.append(f"{text}; the same current would be beyond its rating")
        return
    if bias is None:
        notes.conditions.append(f"{text}; the same current is beyond it")
        return
    resistor = -bias / both.old.plate_current
    remedy = f"{bias:.3g} V" if fixed else f"about {resistor:.3g} ohm in the cathode"
    notes.conditions.append(f"{text}; {remedy} would restore it")
