"""Whether one type's base goes into another's socket, and what an adapter would have to do."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from curvelab.reference.records import Status, TubeType

__all__ = ["Fit", "SocketFit", "Wire", "compare_sockets"]

# What the words of a base say of its socket, the telling ones first.
_SOCKETS = (
    ("loctal", "loctal"),
    ("lock-in", "loctal"),
    ("octal", "octal"),
    ("noval", "nine-pin miniature"),
    ("9-pin", "nine-pin miniature"),
    ("9-contact", "nine-pin miniature"),
    ("miniature 7-pin", "seven-pin miniature"),
    ("jumbo 4", "jumbo four-pin"),
    ("4-pin", "four-pin"),
    ("5-pin", "five-pin"),
    ("6-pin", "six-pin"),
)
# Parts that no circuit needs; IC must never be wired to.
_SCREENING = frozenset({"S", "IS", "SHELL", "BASE SLEEVE", "SLEEVE"})
_FREE = frozenset({"NC"})
_INSIDE = frozenset({"IC"})
_ELECTRODE = re.compile(r"(P|G|K|HCT|H|F)([1-9])?(?: ?\(unit (\w)\))?[+-]?")
_UNITS = {"A": "1", "B": "2"}
Role = tuple[str, str]  # electrode, unit; the unit is empty in a tube of one
_ALONE = frozenset({("G3", "")})  # a suppressor grid on a pin of its own


class Fit(StrEnum):
    """How a tube goes into another's socket."""

    SAME = "same"
    ADAPTER = "adapter needed"
    IMPOSSIBLE = "impossible"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire of an adapter: from a pin of the socket to the tube's pin."""

    electrode: str
    socket_pin: str
    tube_pin: str


@dataclass(frozen=True, slots=True)
class SocketFit:
    """How the base of the new type goes into the socket of the old one.

    Attributes
    ----------
    reason : str
        One plain sentence.
    conditions : tuple of str
        What must hold of the socket's wiring.
    wiring : tuple of Wire
        Of an adapter, where the pins of both are known.
    from_memory : bool
        Whether base or pins of either were not seen on a published page.
    """

    fit: Fit
    reason: str
    conditions: tuple[str, ...] = ()
    wiring: tuple[Wire, ...] = ()
    from_memory: bool = False


@dataclass(frozen=True, slots=True)
class _Pinout:
    """What each pin carries: electrodes, and the pins that carry none."""

    electrodes: Mapping[str, frozenset[Role]]
    screening: frozenset[str]
    inside: frozenset[str]

    @property
    def units(self) -> tuple[str, ...]:
        return tuple(
            sorted({unit for roles in self.electrodes.values() for _, unit in roles if unit})
        )

    @property
    def roles(self) -> frozenset[Role]:
        return frozenset(role for roles in self.electrodes.values() for role in roles)

    def swapped(self) -> _Pinout:
        """Return the same with its two like units exchanged."""
        first, second = self.units
        other = {first: second, second: first}
        electrodes = {
            pin: frozenset((name, other.get(unit, unit)) for name, unit in roles)
            for pin, roles in self.electrodes.items()
        }
        return _Pinout(electrodes, self.screening, self.inside)


def compare_sockets(old: TubeType, new: TubeType) -> SocketFit:
    """Return how ``new`` goes into the socket wired for ``old``."""
    memory = _from_memory(old) or _from_memory(new)
    if old.directly_heated is not new.directly_heated:
        one, other = (
            ("the filament", "a cathode") if new.directly_heated else ("a cathode", "the filament")
        )
        reason = f"{new.name} emits from {one} and {old.name} from {other}, so the circuits differ"
        return SocketFit(Fit.IMPOSSIBLE, reason)
    sockets = _socket_of(old.base), _socket_of(new.base)
    pins = _pinout(old), _pinout(new)
    if None in sockets or (None in pins and sockets[0] == sockets[1] and not _same_code(old, new)):
        missing = " and ".join(
            item.name
            for item, socket, pinout in zip((old, new), sockets, pins, strict=True)
            if socket is None or pinout is None
        )
        return SocketFit(Fit.UNKNOWN, f"base or pins of {missing} are not in the library")
    if pins[0] is not None and pins[1] is not None:
        return _compare(old, new, (str(sockets[0]), str(sockets[1])), (pins[0], pins[1]), memory)
    if sockets[0] == sockets[1]:
        return SocketFit(Fit.SAME, "the basing code is the same", from_memory=memory)
    reason = f"{_article(sockets[1])} base does not go into {_article(sockets[0])} socket"
    return SocketFit(Fit.ADAPTER, reason, from_memory=memory)


def _compare(
    old: TubeType,
    new: TubeType,
    sockets: tuple[str, str],
    pins: tuple[_Pinout, _Pinout],
    memory: bool,
) -> SocketFit:
    wanted, given = pins
    if len(given.units) == 2 and _agreeing(wanted, given.swapped()) > _agreeing(wanted, given):
        given = given.swapped()
    lacking = _lacking(wanted, given)
    if lacking:
        reason = f"{new.name} has no {' and no '.join(lacking)}, which {old.name} has"
        return SocketFit(Fit.IMPOSSIBLE, reason, from_memory=memory)
    wiring = _wiring(wanted, given)
    if sockets[0] != sockets[1]:
        reason = (
            f"{_article(sockets[1])} base does not go into {_article(sockets[0])} socket: it takes "
            f"an adapter wired for {new.name} in place of {old.name}, no other"
        )
        return SocketFit(Fit.ADAPTER, reason, _of_the_adapter(wanted, given), wiring, memory)
    differences = _differences(wanted, given, wiring)
    if differences:
        reason = (
            f"the base goes in, but the pins differ ({', '.join(differences)}): never plug "
            f"it in without an adapter wired for {new.name} in place of {old.name}, no other"
        )
        return SocketFit(Fit.ADAPTER, reason, _of_the_adapter(wanted, given), wiring, memory)
    return SocketFit(
        Fit.SAME, "base and pins are the same", tuple(_on_the_socket(wanted, given)), (), memory
    )


def _lacking(wanted: _Pinout, given: _Pinout) -> list[str]:
    """Return the electrodes that no adapter can supply."""
    if len(wanted.units) > max(len(given.units), 1):
        return ["second unit"]
    has_screen = any(name == "G2" for name, _ in given.roles)
    if any(name == "G2" for name, _ in wanted.roles) and not has_screen:
        return ["screen grid"]
    return []


def _tapped_otherwise(wanted: _Pinout, given: _Pinout) -> bool:
    first, second = (any(name == "HCT" for name, _ in one.roles) for one in (wanted, given))
    return first is not second


def _of_the_adapter(wanted: _Pinout, given: _Pinout) -> tuple[str, ...]:
    """Return what an adapter must see to beyond its wires."""
    heater = "its heater pins are wired to suit the heater supply, after both base drawings"
    found = [*_strapped(wanted, given), *_suppressor(wanted, given)]
    return (*found, heater) if _tapped_otherwise(wanted, given) else tuple(found)


def _strapped(wanted: _Pinout, given: _Pinout) -> tuple[str, ...]:
    screens = [any(name == "G2" for name, _ in pinout.roles) for pinout in (wanted, given)]
    if screens == [False, True]:
        return ("the adapter joins the screen grid to the plate: connected as a triode",)
    return ()


def _differences(wanted: _Pinout, given: _Pinout, wiring: tuple[Wire, ...]) -> list[str]:
    """Return in what the pins differ on one and the same socket."""
    found = [
        f"{wire.electrode} on {_pin(wire.tube_pin)}"
        for wire in wiring
        if wire.socket_pin != wire.tube_pin
    ]
    served = {wire.socket_pin for wire in wiring}
    found += [
        f"nothing for {_pin(pin)}"
        for pin, roles in wanted.electrodes.items()
        if pin not in served and not {name for name, _ in roles} <= {"G3", "H", "HCT"}
    ]
    if _tapped_otherwise(wanted, given):
        found.append("only one of the heaters is tapped")
    if _strapped(wanted, given):
        found.append("a screen grid more")
    return found


def _plain_name(name: str) -> str:
    return "G" if name == "G1" else name


def _wiring(wanted: _Pinout, given: _Pinout) -> tuple[Wire, ...]:
    """Return where each electrode that the socket serves is to be found on the new base."""
    single = len(wanted.units) < 2
    unit = given.units[0] if given.units and single else None
    places: dict[Role, list[str]] = {}
    for pin, roles in given.electrodes.items():
        for name, of in roles:
            key = (_plain_name(name), "" if of == unit else of)
            places.setdefault(key, []).append(pin)
    apart = {"G3", *(("H", "HCT") if _tapped_otherwise(wanted, given) else ())}
    wires = []
    for pin, roles in wanted.electrodes.items():
        for name, of in sorted(roles):
            found = places.get((_plain_name(name), "" if single else of))
            if name in apart or not found:
                continue
            # Heater pins are two of a kind: one at its own place stays there.
            at = pin if pin in found else found[0]
            found.remove(at)
            wires.append(Wire(name if single else f"{name} of unit {of}" if of else name, pin, at))
            if not found:
                places.pop((_plain_name(name), "" if single else of))
    return tuple(wires)


def _agreeing(wanted: _Pinout, given: _Pinout) -> int:
    return sum(given.electrodes.get(pin) == roles for pin, roles in wanted.electrodes.items())


def _on_the_socket(wanted: _Pinout, given: _Pinout) -> list[str]:
    """Return what must hold of pins that only the new type uses."""
    conditions = _suppressor(wanted, given)
    for pin, roles in given.electrodes.items():
        names = {name for name, _ in roles} - {"G3"}
        if names and pin not in wanted.electrodes:
            conditions.append(f"nothing may be wired to {_pin(pin)}, an electrode of the new tube")
    for pin in sorted(given.inside - wanted.inside):
        conditions.append(f"nothing may be wired to {_pin(pin)}, which is connected inside")
    for pin in sorted(given.screening - wanted.screening):
        conditions.append(f"{_pin(pin)} is a shield: it may carry nothing but earth")
    return conditions


def _suppressor(wanted: _Pinout, given: _Pinout) -> list[str]:
    """Return that a suppressor grid on a pin of its own must be joined, if it is new."""
    if any(roles == _ALONE for roles in wanted.electrodes.values()):
        return []
    return [
        f"{_pin(pin)} is the suppressor grid and must be joined to the cathode"
        for pin, roles in given.electrodes.items()
        if roles == _ALONE
    ]


def _pin(number: str) -> str:
    return "the top cap" if number == "cap" else f"pin {number}"


def _article(socket: object) -> str:
    return f"{'an' if str(socket)[0] in 'aeiou' else 'a'} {socket}"


def _socket_of(base: str | None) -> str | None:
    text = (base or "").casefold()
    return next((socket for words, socket in _SOCKETS if words in text), None)


def _same_code(old: TubeType, new: TubeType) -> bool:
    codes = old.basing_code, new.basing_code
    return codes[0] is not None and codes[1] is not None and codes[0].text == codes[1].text


def _from_memory(item: TubeType) -> bool:
    words = [*item.pins.values(), *([item.basing_code] if item.basing_code else [])]
    return any(word.status is Status.FROM_MEMORY for word in words)


def _pinout(item: TubeType) -> _Pinout | None:
    """Return what each pin carries; None where the library does not say, or not clearly."""
    if not item.pins:
        return None
    electrodes: dict[str, frozenset[Role]] = {}
    kinds: dict[str, set[str]] = {"screening": set(), "inside": set()}
    for pin, words in item.pins.items():
        roles = set()
        text = re.sub(r" \((?!unit)[^)]*\)", "", words.text)
        for name in re.split(r" ?\+ ?(?=\w)| ?/ ?| or ", text):
            if name.upper() in _FREE or name == "beam plates":
                continue
            if name.upper() in _SCREENING:
                kinds["screening"].add(pin)
            elif name.upper() in _INSIDE:
                kinds["inside"].add(pin)
            elif role := _role(name, item.has_screen):
                roles.add(role)
            else:
                return None
        if roles:
            electrodes[pin] = frozenset(roles)
            kinds["screening"].discard(pin)
    return _Pinout(electrodes, frozenset(kinds["screening"]), frozenset(kinds["inside"]))


def _role(name: str, has_screen: bool) -> Role | None:
    found = _ELECTRODE.fullmatch(name)
    if found is None:
        return None
    electrode, number, unit = found.groups()
    if electrode == "G" and has_screen:
        return f"G{number or 1}", ""
    return electrode, number or _UNITS.get(unit or "", unit or "")
