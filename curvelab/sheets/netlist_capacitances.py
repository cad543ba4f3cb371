"""The capacitances between a tube's electrodes, as elements of its subcircuit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from curvelab.reference.records import Figure, TubeType
from curvelab.sheets.netlist_elements import number
from curvelab.sheets.text import plain

__all__ = ["capacitance_lines"]

# Between which pins, and the names under which sheets print it, the wider one first: input and
# output include heater and shield, which stand at the cathode's potential for signals.
_BETWEEN = (
    ("Cgp", "G P", ("grid_plate",)),
    ("Cgk", "G K", ("input", "grid_to_cathode_heater_shield", "grid_cathode", "grid_filament")),
    (
        "Cpk",
        "P K",
        ("output", "plate_to_cathode_heater_shield", "plate_cathode", "plate_filament"),
    ),
)
_SECOND = frozenset({"2", "b", "ii", "two", "second"})
_PICO = 1e-12


def capacitance_lines(tube_type: TubeType | None, section: str | None) -> tuple[str, ...]:
    """Return the elements with a comment on each; a comment alone where nothing is printed."""
    if tube_type is None:
        return ("* no capacitances: the type is not in the library",)
    unit = 2 if (section or "").strip().casefold() in _SECOND else 1
    found = list(_lines(tube_type.capacitances, unit))
    return tuple(found) or (f"* no capacitances: none are known for the {tube_type.name}",)


def _lines(printed: Mapping[str, tuple[Figure, ...]], unit: int) -> Iterator[str]:
    for element, pins, names in _BETWEEN:
        known = [
            (name, figures)
            for plain_name in names
            for name in (f"unit_{unit}_{plain_name}", plain_name)
            if (figures := printed.get(name))
        ]
        if not known:
            continue
        name, figures = known[0]
        figure = figures[min(unit, len(figures)) - 1]
        words = name.replace("_", " ") + (f" of unit {unit}" if len(figures) > 1 else "")
        source = " ".join(plain(figure.source).split())
        yield f"* {words}: {source}, {figure.status.value}"
        yield f"{element} {pins} {number(figure.value / _PICO)}p"
