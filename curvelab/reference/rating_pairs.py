"""The ratings of two types side by side, each under its rating system."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from curvelab.reference.records import Figure, Rating, TubeType

__all__ = ["RatingPair", "Relation", "compare_ratings"]

# The rating systems, the most cautious first: a design-center figure leaves room for the
# spread of supplies and tubes, which a design-maximum figure leaves for tubes alone and an
# absolute one for nothing.
_SYSTEMS = ("design-center", "design-maximum", "absolute")
_EQUAL = 1e-3
# Figures this close under two systems may be one tube's limit (common practice, no source:
# design-center sets were reprinted as design-maximum ones about a tenth higher).
_SYSTEMS_APART = 0.15


# Limits that hold for others too: one printed for both kinds of bias or both signs, and a
# supply, below which the plate always stands. The fixed-bias limit is the tighter one.
_STANDS_FOR = {
    "plate_voltage": ("plate_supply_voltage",),
    "plate_supply_voltage": ("plate_voltage",),
    "grid_circuit_resistance": ("grid_circuit_resistance_fixed_bias",),
    "grid_circuit_resistance_fixed_bias": ("grid_circuit_resistance",),
    "grid_circuit_resistance_cathode_bias": ("grid_circuit_resistance",),
    "heater_cathode_voltage_positive": ("heater_cathode_voltage",),
    "heater_cathode_voltage_negative": ("heater_cathode_voltage",),
}


class Relation(StrEnum):
    """The new type's rating against the old one's."""

    HIGHER = "higher"
    EQUAL = "equal"
    LOWER = "lower"
    NOT_COMPARABLE = "not comparable"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class RatingPair:
    """One limit of both types.

    Attributes
    ----------
    name : str
        As in `Rating.limits`.
    service : str or None
        Class of service; None for class A or no service in particular.
    old, new : Figure or None
    old_system, new_system : str or None
        The rating systems they stand under.
    """

    name: str
    service: str | None
    old: Figure | None
    new: Figure | None
    old_system: str | None
    new_system: str | None
    relation: Relation

    @property
    def from_memory(self) -> bool:
        """Whether either figure was not seen on a published page."""
        return any(figure is not None and not figure.verified for figure in (self.old, self.new))


@dataclass(frozen=True, slots=True)
class _Rated:
    figure: Figure
    system: str


def compare_ratings(old: TubeType, new: TubeType) -> tuple[RatingPair, ...]:
    """Return every limit that either type prints, those of class A first.

    Sets of one rating system are compared where both types have one; otherwise the figure
    that guards each tube.
    """
    old_sets, new_sets = _by_service(old), _by_service(new)
    services = [*old_sets, *(service for service in new_sets if service not in old_sets)]
    services.sort(key=lambda service: service is not None)
    found: list[RatingPair] = []
    for service in services:
        of_old, of_new = old_sets.get(service, ()), new_sets.get(service, ())
        for name in _names(of_old):
            found.append(_pair(name, service, _rated(of_old, name), _rated(of_new, name)))
        for name in _names(of_new):
            if not _rated(of_old, name):
                found.append(_pair(name, service, (), _rated(of_new, name)))
    return tuple(found)


def _by_service(item: TubeType) -> Mapping[str | None, tuple[Rating, ...]]:
    found: dict[str | None, tuple[Rating, ...]] = {}
    for rating in item.ratings:
        guards = rating.guards_class_a and "triode-connected" not in (rating.service or "")
        service = None if guards else rating.service
        found[service] = (*found.get(service, ()), rating)
    return found


def _names(ratings: tuple[Rating, ...]) -> Iterator[str]:
    yield from dict.fromkeys(name for rating in ratings for name in rating.limits)


def _rated(ratings: tuple[Rating, ...], name: str) -> tuple[_Rated, ...]:
    for named in (name, *_STANDS_FOR.get(name, ())):
        found = tuple(
            _Rated(rating.limits[named], rating.system)
            for rating in ratings
            if named in rating.limits
        )
        if found:
            return found
    return ()


def _pair(
    name: str, service: str | None, old: tuple[_Rated, ...], new: tuple[_Rated, ...]
) -> RatingPair:
    if not old or not new:
        one, other = (_guarding(item) if item else None for item in (old, new))
        relation = Relation.UNKNOWN
    else:
        one, other = _alike(old, new)
        relation = _relation(one, other)
    return RatingPair(
        name=name,
        service=service,
        old=one.figure if one else None,
        new=other.figure if other else None,
        old_system=one.system if one else None,
        new_system=other.system if other else None,
        relation=relation,
    )


def _alike(old: tuple[_Rated, ...], new: tuple[_Rated, ...]) -> tuple[_Rated, _Rated]:
    """Return two figures of one system, verified ones first; else the guarding ones."""
    pairs = [
        (one, other)
        for one in old
        for other in new
        if _system(one.system) is not None and _system(one.system) == _system(other.system)
    ]
    pairs.sort(key=lambda pair: -sum(item.figure.verified for item in pair))
    return pairs[0] if pairs else (_guarding(old), _guarding(new))


def _guarding(items: tuple[_Rated, ...]) -> _Rated:
    return min(items, key=lambda item: (not item.figure.verified, item.figure.value))


def _system(text: str) -> str | None:
    return next((system for system in _SYSTEMS if text.startswith(system)), None)


def _relation(old: _Rated, new: _Rated) -> Relation:
    share = new.figure.value / old.figure.value - 1.0 if old.figure.value else 0.0
    one_system = _system(old.system) == _system(new.system)
    if abs(share) > _EQUAL and abs(share) < _SYSTEMS_APART and not one_system:
        return Relation.NOT_COMPARABLE
    if abs(share) <= _EQUAL:
        return Relation.EQUAL
    return Relation.HIGHER if share > 0 else Relation.LOWER
