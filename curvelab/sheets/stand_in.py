"""Two types side by side as rows of a table, for any edge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from curvelab.reference.in_circuit import InCircuit
from curvelab.reference.rating_pairs import RatingPair, Relation
from curvelab.reference.records import Figure, Heater
from curvelab.reference.same_circuit import Settled
from curvelab.reference.sockets import SocketFit
from curvelab.reference.substitution import CapacitancePair, Substitution
from curvelab.reference.substitution_notes import current_shown, limit_words, shown

__all__ = ["StandInCell", "StandInRow", "stand_in_rows", "wiring_words"]


@dataclass(frozen=True, slots=True)
class StandInCell:
    """What is said of one type, in parts that may be set below one another.

    ``from_memory`` tells that a figure in it was not seen on a published page.
    """

    parts: tuple[str, ...]
    from_memory: bool = False


@dataclass(frozen=True, slots=True)
class StandInRow:
    """One line of the comparison: what it is of, both types, and what came of it."""

    what: str
    old: StandInCell
    new: StandInCell
    outcome: str


_NOTHING = StandInCell(("",))


def stand_in_rows(found: Substitution) -> tuple[StandInRow, ...]:
    """Return heater, base, ratings, capacitances, and both types in one circuit."""
    return tuple(_rows(found))


def wiring_words(socket: SocketFit) -> str | None:
    """Return how an adapter is wired; None where there is none."""
    if not socket.wiring:
        return None
    wires = ", ".join(
        f"{wire.electrode}: {wire.socket_pin} to {wire.tube_pin}" for wire in socket.wiring
    )
    return f"adapter, pin of the socket to pin of the tube: {wires}"


def _rows(found: Substitution) -> Iterator[StandInRow]:
    old, new = found.old_heaters, found.new_heaters
    yield StandInRow("heater", _heater(old), _heater(new), _heaters_compared(old, new))
    yield StandInRow("base and pins", _NOTHING, _NOTHING, found.socket.fit.value)
    yield from map(_rating_row, found.ratings)
    yield from map(_capacitance_row, found.capacitances)
    if found.in_circuit is not None:
        yield from _circuit_rows(found.in_circuit)


def _heater(heaters: tuple[Heater, ...]) -> StandInCell:
    words = " or ".join(f"{item.voltage.value:g} V {item.current.value:g} A" for item in heaters)
    remembered = any(
        not figure.verified for item in heaters for figure in (item.voltage, item.current)
    )
    return StandInCell((words or "not known",), remembered)


def _heaters_compared(old: tuple[Heater, ...], new: tuple[Heater, ...]) -> str:
    if not old or not new:
        return Relation.UNKNOWN.value
    before, after = (
        {(item.voltage.value, item.current.value) for item in heaters} for heaters in (old, new)
    )
    if before & after:
        return "same"
    drawn, wanted = dict(before), dict(after)
    volts = sorted(drawn.keys() & wanted.keys())
    if not volts:
        return "other voltage"
    return "more current" if wanted[volts[0]] > drawn[volts[0]] else "less current"


def _rating_row(pair: RatingPair) -> StandInRow:
    old, new = (_limit(pair.name, figure) for figure in (pair.old, pair.new))
    return StandInRow(limit_words(pair.name, pair.service), old, new, pair.relation.value)


def _limit(name: str, figure: Figure | None) -> StandInCell:
    if figure is None:
        return StandInCell(("not known",))
    return StandInCell((shown(name, figure.value),), not figure.verified)


def _capacitance_row(pair: CapacitancePair) -> StandInRow:
    old, new = (
        StandInCell((f"{figure.value * 1e12:.3g} pF",), not figure.verified)
        for figure in (pair.old, pair.new)
    )
    if old.parts == new.parts:
        relation = Relation.EQUAL
    else:
        relation = Relation.HIGHER if pair.new.value > pair.old.value else Relation.LOWER
    return StandInRow(f"{limit_words(pair.name)} capacitance", old, new, relation.value)


def _circuit_rows(both: InCircuit) -> Iterator[StandInRow]:
    stage = f"{both.supply_voltage:.4g} V, {both.cathode_resistance:.4g} ohm in the cathode"
    yield StandInRow("at rest", _settled(both.old, both), _settled(both.cathode_bias, both), stage)
    fixed = f"{both.old.grid_voltage:.4g} V fixed"
    yield StandInRow("at rest", _settled(both.old, both), _settled(both.fixed_bias, both), fixed)
    mu = "mu there" if both.old.screen_voltage is None else "mu to the screen there"
    for words, name, unit, scale in (
        (mu, "amplification_factor", "", 1.0),
        ("gm there", "transconductance", " mA/V", 1e3),
        ("rp there", "plate_resistance", " kohm", 1e-3),
    ):
        old, new = (
            StandInCell((f"{getattr(item, name) * scale:.3g}{unit}",))
            for item in (both.old, both.cathode_bias)
        )
        yield StandInRow(words, old, new, "same cathode resistor")


def _settled(item: Settled, both: InCircuit) -> StandInCell:
    beyond = " (extrapolated)" if item.extrapolated else ""
    return StandInCell(
        (
            f"{item.plate_voltage:.4g} V,",
            f"{item.grid_voltage:.3g} V,",
            *_screen(item),
            f"{current_shown(item.plate_current, both.old.plate_current)}{beyond}",
        )
    )


def _screen(item: Settled) -> tuple[str, ...]:
    if item.screen_voltage is None or item.screen_current is None:
        return ()
    return (f"screen {item.screen_voltage:.4g} V {item.screen_current * 1e3:.3g} mA,",)
