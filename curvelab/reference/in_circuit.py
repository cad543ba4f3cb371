"""Two types in one stage: how bias, current and constants shift, and what that means."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from curvelab.reference.families import FamilyLibrary
from curvelab.reference.pentode_circuit import pentode_stage_around, settle_pentode
from curvelab.reference.records import TubeType
from curvelab.reference.same_circuit import (
    Settled,
    bias_for_current,
    settle,
    stage_around,
)
from curvelab.reference.stand_in_limits import StandInLimits
from curvelab.reference.substitution_notes import (
    Notes,
    current_shown,
    limit_words,
    shown,
    signed_share,
)

__all__ = ["AT_THE_POINT", "InCircuit", "compare_in_circuit", "note_the_shift"]

# What a tube at rest says of a limit; None where it says nothing.
AT_THE_POINT: dict[str, Callable[[Settled], float | None]] = {
    "plate_voltage": lambda settled: settled.plate_voltage,
    "plate_dissipation": lambda settled: settled.plate_dissipation,
    "plate_current": lambda settled: settled.plate_current,
    "cathode_current": lambda settled: settled.cathode_current,
    "screen_voltage": lambda settled: settled.screen_voltage,
    "screen_dissipation": lambda settled: settled.screen_dissipation,
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
    at: tuple[float, ...] | None,
    plate_circuit_resistance: float,
) -> InCircuit | None:
    """Return both types in the stage around a point; None where either has no family.

    Parameters
    ----------
    at : tuple of float or None
        (Vp, Vg) of the old type [V], or (Vp, Vg, Vs) of two types whose screens have a voltage
        of their own. Where None its bogey point, with a screen where both have a family so.
    plate_circuit_resistance : float
        Direct-current resistance of the plate circuit [ohm].
    """
    bogey = old.pentode_bogey
    if at is None and bogey is not None and old.name in library.pentodes:
        if new.name in library.pentodes:
            at = bogey.plate_voltage, bogey.grid_voltage, bogey.screen_voltage
    if at is not None and len(at) > 2:
        return _with_screens(library, old, new, at, plate_circuit_resistance)
    families = library.families.get(old.name), library.families.get(new.name)
    if at is None and old.bogey is not None:
        at = old.bogey.plate_voltage, old.bogey.grid_voltage
    if families[0] is None or families[1] is None or at is None:
        return None
    by_cathode, by_supply = (
        stage_around(
            families[0], (at[0], at[1]), fixed_bias=fixed, plate_resistance=plate_circuit_resistance
        )
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


def _with_screens(
    library: FamilyLibrary,
    old: TubeType,
    new: TubeType,
    at: tuple[float, ...],
    plate_resistance: float,
) -> InCircuit | None:
    """Return both at rest with their screens at one supply; ``at`` is (Vp, Vg, Vs) [V]."""
    families = library.pentodes.get(old.name), library.pentodes.get(new.name)
    if families[0] is None or families[1] is None:
        return None
    plate, grid, screen = at
    by_cathode, by_supply = (
        pentode_stage_around(
            families[0],
            (plate, grid),
            screen,
            fixed_bias=fixed,
            plate_resistance=plate_resistance,
        )
        for fixed in (False, True)
    )
    stands = settle_pentode(families[0], by_cathode)
    seen = families[1].at_screen(screen)
    return InCircuit(
        supply_voltage=by_cathode.supply_voltage,
        cathode_resistance=by_cathode.cathode_resistance,
        plate_circuit_resistance=plate_resistance,
        old=stands,
        cathode_bias=settle_pentode(families[1], by_cathode),
        fixed_bias=settle_pentode(families[1], by_supply),
        bias_for_same_current=bias_for_current(seen, plate, stands.plate_current),
    )


def note_the_shift(
    notes: Notes, old: TubeType, new: TubeType, both: InCircuit | None, limits: StandInLimits
) -> None:
    """Note what the shift in the same circuit means, by the house rules."""
    if both is None:
        notes.doubt(
            f"bias and current in the same circuit: {old.name} or {new.name} has no reference "
            "family in this connection, or no point to compare at"
        )
        return
    new = new.as_connected(with_screen=both.old.screen_voltage is not None)
    _note_overload(notes, new, both)
    for words, settled in (
        ("with the same cathode resistor", both.cathode_bias),
        ("with the same fixed bias", both.fixed_bias),
    ):
        _note_current(notes, new, (words, settled), both, limits)
    compared = {"mu": "amplification_factor", "plate resistance": "plate_resistance"}
    if both.old.screen_voltage is not None:  # there the gain is gm times the load
        compared = {"mu to the screen": "amplification_factor", "gm": "transconductance"}
    for words, name in compared.items():
        share = getattr(both.cathode_bias, name) / getattr(both.old, name) - 1.0
        text = f"its {words} is {signed_share(share)} in the same stage"
        if abs(share) > limits.mu_other_stage_pct / 100 and name == "amplification_factor":
            notes.against.append(f"{text}: another stage")
        elif abs(share) > limits.constant_condition_pct / 100:
            notes.conditions.append(f"{text}: gain, load or distortion change with it")


def _note_overload(notes: Notes, new: TubeType, both: InCircuit) -> None:
    """Note the ratings that the new type would pass in the same circuit."""
    for name, reach in AT_THE_POINT.items():
        limit = new.rating(name)
        if limit is None:
            continue
        sheet = "" if limit.verified else " (from memory: check the sheet)"
        if both.cathode_bias.extrapolated:
            sheet += ", by curves extrapolated to there"
        used, fixed = reach(both.cathode_bias), reach(both.fixed_bias)
        if used is None or fixed is None:
            continue
        if used > limit.value:
            notes.against.append(
                f"in the same circuit its {limit_words(name)} would be {shown(name, used)}, beyond "
                f"the rated {shown(name, limit.value)}{sheet}"
            )
        if fixed > limit.value:
            notes.conditions.append(
                f"never with the same fixed bias: its {limit_words(name)} would be "
                f"{shown(name, fixed)}, beyond the rated "
                f"{shown(name, limit.value)}{sheet}"
            )


def _note_current(
    notes: Notes,
    new: TubeType,
    way: tuple[str, Settled],
    both: InCircuit,
    limits: StandInLimits,
) -> None:
    words, settled = way
    share = settled.plate_current / both.old.plate_current - 1.0
    fixed = settled is both.fixed_bias
    if abs(share) <= limits.current_condition_pct / 100:
        return
    drawn = current_shown(settled.plate_current, both.old.plate_current)
    text = f"{words} it draws {drawn} instead of {both.old.plate_current * 1e3:.3g} mA"
    if settled.extrapolated:
        text += ", by curves extrapolated to there"
    if not fixed and abs(share) > limits.current_other_stage_pct / 100:
        notes.against.append(f"{text}: another stage")
        return
    bias = both.bias_for_same_current
    if any(
        (limit := new.rating(name)) is not None and (reach(both.old) or 0.0) > limit.value
        for name, reach in AT_THE_POINT.items()
    ):
        notes.conditions.append(f"{text}; the same current would be beyond its rating")
        return
    if bias is None:
        notes.conditions.append(f"{text}; the same current is beyond it")
        return
    resistor = -bias / both.old.cathode_current
    remedy = f"{bias:.3g} V" if fixed else f"about {resistor:.3g} ohm in the cathode"
    notes.conditions.append(f"{text}; {remedy} would restore it")
