"""May one type stand in for another? Two types side by side, and a verdict in words.

Old is the type the amplifier was built for, new the one that is to go in. Everything is said
from published figures; what the library does not hold is said to be unknown, and a rating from
memory never decides alone that something is safe.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from curvelab.errors import ReferenceDataError
from curvelab.reference.families import FamilyLibrary
from curvelab.reference.in_circuit import (
    AT_THE_POINT,
    InCircuit,
    compare_in_circuit,
    note_the_shift,
)
from curvelab.reference.rating_pairs import RatingPair, Relation, compare_ratings
from curvelab.reference.records import Figure, Heater, TubeType
from curvelab.reference.same_circuit import Settled
from curvelab.reference.sockets import Fit, SocketFit, compare_sockets
from curvelab.reference.stand_in_limits import StandInLimits
from curvelab.reference.substitution_notes import Notes, limit_words, shown

__all__ = ["CapacitancePair", "Substitution", "Suitability", "may_stand_in"]

# Limits of the circuit around the tube, which a person can look up and change; every other
# limit is the tube's own.
_OF_THE_CIRCUIT = ("grid_circuit_", "heater_cathode_", "grid_voltage_")
_NEEDED = ("plate_voltage", "plate_dissipation")
_HARMLESS = "grid_voltage_positive"  # printed as 0: to class A it says nothing


class Suitability(StrEnum):
    """The verdict."""

    DIRECT = "direct replacement"
    WITH_CONDITIONS = "with conditions"
    NOT = "not a replacement"


@dataclass(frozen=True, slots=True)
class CapacitancePair:
    """One capacitance of both types [F]; of two units the larger figure."""

    name: str
    old: Figure
    new: Figure


@dataclass(frozen=True, slots=True)
class Substitution:
    """Two types side by side.

    Attributes
    ----------
    against : tuple of str
        Why it is no replacement.
    conditions : tuple of str
        What must hold, or be looked up, before it goes in.
    unknown : tuple of str
        What the library does not hold.
    house_rules : tuple of str
        What no sheet prints and a person may change, in words.
    """

    old: str
    new: str
    suitability: Suitability
    against: tuple[str, ...]
    conditions: tuple[str, ...]
    unknown: tuple[str, ...]
    old_heaters: tuple[Heater, ...]
    new_heaters: tuple[Heater, ...]
    socket: SocketFit
    ratings: tuple[RatingPair, ...]
    capacitances: tuple[CapacitancePair, ...]
    in_circuit: InCircuit | None
    house_rules: tuple[str, ...]


_SHIPPED = StandInLimits()


def may_stand_in(  # noqa: PLR0913 (two types, their place, the house rules)
    library: FamilyLibrary,
    old_name: str,
    new_name: str,
    at: tuple[float, ...] | None = None,
    plate_circuit_resistance: float = 0.0,
    limits: StandInLimits = _SHIPPED,
) -> Substitution:
    """Compare two types for one place in an amplifier.

    Parameters
    ----------
    at : tuple of float, optional
        (Vp, Vg) of the old type in that amplifier [V], pentodes as triodes; or (Vp, Vg, Vs) with
        the screen at a voltage of its own. Without it the old type's bogey point
        serves, and a lower rating counts against the new type, as nobody knows how much of
        the rating the amplifier uses.
    plate_circuit_resistance : float
        Direct-current resistance of the plate circuit [ohm].
    limits : StandInLimits
        The house rules.

    Raises
    ------
    UnknownTypeError
        If the library does not hold one of them.
    ReferenceDataError
        If both names mean one type.
    """
    old, new = library.find(old_name)[0], library.find(new_name)[0]
    by_alias = [*_said_of(old_name, old), *_said_of(new_name, new)]
    if old is new:
        raise ReferenceDataError(
            " ".join((f"{old_name} and {new_name} are names of one type, {old.name}.", *by_alias))
        )
    notes = Notes()
    notes.conditions.extend(by_alias)
    _note_heaters(notes, old, new, limits.heater_apart_pct / 100)
    socket = compare_sockets(old, new)
    _note_socket(notes, socket)
    in_circuit = compare_in_circuit(library, old, new, at, plate_circuit_resistance)
    ratings = compare_ratings(old, new)
    _note_ratings(notes, new, ratings, in_circuit if at is not None else None)
    note_the_shift(notes, old, new, in_circuit, limits)
    capacitances = tuple(_capacitances(old, new))
    _note_capacitances(notes, new, capacitances, limits.capacitance_condition_times)
    if notes.against:
        suitability = Suitability.NOT
    else:
        suitability = Suitability.WITH_CONDITIONS if notes.conditions else Suitability.DIRECT
    return Substitution(
        old=old.name,
        new=new.name,
        suitability=suitability,
        against=tuple(notes.against),
        conditions=tuple(notes.conditions),
        unknown=tuple(notes.unknown),
        old_heaters=old.heaters,
        new_heaters=new.heaters,
        socket=socket,
        ratings=ratings,
        capacitances=capacitances,
        in_circuit=in_circuit,
        house_rules=limits.words,
    )


def _said_of(name: str, found: TubeType) -> list[str]:
    """Return what a type's notes say of another name that it was asked for by."""
    asked = name.strip().casefold()
    if asked == found.name.casefold():
        return []
    return [note for note in found.notes if note.casefold().startswith(f"{asked}:")]


def _note_heaters(notes: Notes, old: TubeType, new: TubeType, apart: float) -> None:
    lacking = [item.name for item in (old, new) if not item.heaters]
    if lacking:
        notes.doubt(f"the heater of {' and of '.join(lacking)}")
        return
    pairs = [
        (one, other)
        for one in old.heaters
        for other in new.heaters
        if abs(other.voltage.value / one.voltage.value - 1.0) <= apart
    ]
    if not pairs:
        volts = [" or ".join(f"{h.voltage.value:g} V" for h in t.heaters) for t in (old, new)]
        notes.against.append(f"its heater takes {volts[1]}, where the amplifier gives {volts[0]}")
        return
    if len(old.heaters) > len(pairs):
        volts = [f"{one.voltage.value:g} V" for one, _ in pairs]
        notes.conditions.append(f"the heater supply must be {' or '.join(volts)}")
    figures = [f for one, other in pairs for h in (one, other) for f in (h.voltage, h.current)]
    if not all(figure.verified for figure in figures):
        notes.conditions.append("check the sheet: heater figures are from memory")
    for one, other in pairs:
        _note_heater_current(notes, new, (one, other), apart)


def _note_heater_current(
    notes: Notes, new: TubeType, pair: tuple[Heater, Heater], apart: float
) -> None:
    one, other = pair
    more = other.current.value - one.current.value
    if more > apart * one.current.value:
        notes.conditions.append(
            f"the heater supply must give {more:.3g} A more a tube at {one.voltage.value:g} V "
            f"({other.current.value:g} A instead of {one.current.value:g} A)"
        )
    elif more < -apart * one.current.value:
        notes.conditions.append(
            f"heaters must be in parallel, and their voltage measured with {new.name} in: it takes "
            f"{other.current.value:g} A instead of {one.current.value:g} A at "
            f"{one.voltage.value:g} V"
        )


def _note_socket(notes: Notes, socket: SocketFit) -> None:
    if socket.fit is Fit.IMPOSSIBLE:
        notes.against.append(socket.reason)
    elif socket.fit is Fit.UNKNOWN:
        notes.doubt(socket.reason)
    elif socket.fit is Fit.ADAPTER:
        notes.conditions.append(socket.reason)
    notes.conditions.extend(socket.conditions)
    if socket.from_memory and socket.fit is not Fit.IMPOSSIBLE:
        notes.conditions.append(
            "check both base drawings before anything is wired: pins from memory"
        )


def _note_ratings(
    notes: Notes, new: TubeType, ratings: tuple[RatingPair, ...], point: InCircuit | None
) -> None:
    not_known = [limit_words(name) for name in _NEEDED if new.rating(name) is None]
    remembered = []
    for pair in ratings:
        if pair.new is None and pair.name not in _NEEDED:
            if pair.service is None and pair.name != _HARMLESS:
                not_known.append(_limit(pair))
            else:
                notes.unknown.append(f"what {new.name} is rated for: {_limit(pair)}")
        elif pair.relation is Relation.LOWER:
            _note_lower(notes, pair, point)
        elif pair.relation is Relation.NOT_COMPARABLE:
            notes.conditions.append(
                f"keep to the lower {_limit(pair)}: {_value(pair, pair.new)} ({pair.new_system}) "
                f"and {_value(pair, pair.old)} ({pair.old_system}) stand under different rating "
                "systems"
            )
        if pair.new is not None and not pair.new.verified:
            remembered.append(_limit(pair))
    if not_known:
        notes.doubt(f"what {new.name} is rated for: {', '.join(not_known)}")
    if remembered:
        notes.conditions.append(
            f"check the sheet of {new.name}, from memory: {', '.join(dict.fromkeys(remembered))}"
        )


def _note_lower(notes: Notes, pair: RatingPair, point: InCircuit | None) -> None:
    new, old = _value(pair, pair.new), _value(pair, pair.old)
    text = f"rated for less {_limit(pair)}: {new} instead of {old}"
    if pair.from_memory:
        text += " (from memory: check the sheet)"
    reach = AT_THE_POINT.get(pair.name)
    if pair.name.startswith(_OF_THE_CIRCUIT):
        notes.conditions.append(f"{text}; look at the circuit")
        return
    used = (
        None if point is None or reach is None or pair.service is not None else _most(reach, point)
    )
    if used is not None and pair.new is not None:
        if used <= pair.new.value:
            notes.conditions.append(f"{text}; it must never be asked for more than that")
    else:
        notes.against.append(text)


def _most(reach: Callable[[Settled], float | None], point: InCircuit) -> float | None:
    """Return the most that any of the tubes at rest asks of a limit; None where not known."""
    asked = [reach(item) for item in (point.cathode_bias, point.fixed_bias, point.old)]
    known = [item for item in asked if item is not None]
    return max(known, default=None)


def _capacitances(old: TubeType, new: TubeType) -> Iterator[CapacitancePair]:
    for name, figures in old.capacitances.items():
        others = new.capacitances.get(name, ())
        if others:
            one, other = (max(item, key=lambda figure: figure.value) for item in (figures, others))
            yield CapacitancePair(name, one, other)


def _note_capacitances(
    notes: Notes, new: TubeType, capacitances: tuple[CapacitancePair, ...], times: float
) -> None:
    if not capacitances:
        notes.unknown.append(f"capacitances of {new.name} against the old ones")
    for pair in capacitances:
        if pair.new.value > times * pair.old.value:
            notes.conditions.append(
                f"its {pair.name.replace('_', ' ')} capacitance is {pair.new.value * 1e12:.3g} pF "
                f"instead of {pair.old.value * 1e12:.3g} pF: look at treble and stability"
            )


def _limit(pair: RatingPair) -> str:
    return limit_words(pair.name, pair.service)


def _value(pair: RatingPair, figure: Figure | None) -> str:
    return "" if figure is None else shown(pair.name, figure.value)
