"""All families of the library, solved once, and which types the curves cannot tell apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.reference.family import ReferenceFamily
from curvelab.reference.filament import filament_reference
from curvelab.reference.identity import deviation_from
from curvelab.reference.library import TypeLibrary
from curvelab.reference.pentode_solve import solve_pentode_families
from curvelab.reference.records import TubeType
from curvelab.reference.solve import is_solvable, solve_families
from curvelab.reference.solved import Solved
from curvelab.sweep.records import Conditions, FloatArray

__all__ = ["FamilyLibrary", "families_for", "family_library"]

# Two families this close, in scale and in shape, are one to any home-built bench.
_SAME_SCALE, _SAME_SHAPE = 0.12, 0.07
_FLOWING = 0.05  # of the largest current: below, a family says little


@dataclass(frozen=True, slots=True, eq=False)
class FamilyLibrary:
    """The library's types with their families.

    Attributes
    ----------
    families : mapping of str to ReferenceFamily
        By type name; a type that prints no point with a plate current has none.
    classes : tuple of tuple of str
        Types whose curves cannot be told apart, together.
    pentodes : mapping of str to ReferenceFamily
        Of types with a screen grid, with the screen at a voltage of its own; ``families`` holds
        those of their triode connection.
    pentode_classes : tuple of tuple of str
        As ``classes``, of these.
    """

    types: TypeLibrary
    families: Mapping[str, ReferenceFamily]
    classes: tuple[tuple[str, ...], ...]
    pentodes: Mapping[str, ReferenceFamily]
    pentode_classes: tuple[tuple[str, ...], ...]

    def pentodes_at(self, screen_voltage: float) -> Mapping[str, ReferenceFamily]:
        """Return the families of types with a screen grid, seen at a screen voltage [V]."""
        return {name: item.at_screen(screen_voltage) for name, item in self.pentodes.items()}

    def find(self, name: str) -> tuple[TubeType, str]:
        """Return the type of a name and how it was found; see `TypeLibrary.find`."""
        return self.types.find(name)


def family_library(types: TypeLibrary, solved: Solved | None = None) -> FamilyLibrary:
    """Return every family of a library; ``solved`` has what was solved before.

    What is solved now is added to it; see `solve_what_is_new`.
    """
    all_types = types.types.values()
    by_points = [replace(item, curves=()) for item in all_types]
    of_points = _by_name([item for item in by_points if is_solvable(item)], solved)
    with_curves = [item for item in all_types if item.triode_curves is not None]
    families = of_points | _by_name(with_curves, solved)
    # Published curves of one type and points of its twin differ by how each was printed: which
    # types are one to a bench is asked of figures of one kind, where there are such.
    pentodes = _screened(all_types, solved)
    following = [item for item in by_points if item.name in pentodes and _follows(pentodes, item)]
    return FamilyLibrary(
        types,
        families,
        _classes(families | of_points),
        pentodes,
        _classes(pentodes | _screened(following, solved)),
    )


def _screened(types: Iterable[TubeType], solved: Solved | None) -> dict[str, ReferenceFamily]:
    return {item.type_name: item for item in solve_pentode_families(list(types), solved)}


def _follows(families: Mapping[str, ReferenceFamily], item: TubeType) -> bool:
    return families[item.name].follows_curves


def _by_name(types: Sequence[TubeType], solved: Solved | None) -> dict[str, ReferenceFamily]:
    return {family.type_name: family for family in solve_families(types, solved)}


def families_for(
    library: FamilyLibrary,
    conditions: Conditions,
    plate_voltage: FloatArray,
    grid_voltage: FloatArray,
    plate_current: FloatArray,
) -> Mapping[str, ReferenceFamily]:
    """Return the families in a file's own grid volts.

    Where a sheet prints the shift between the filament of the file and its own, the family is
    moved by it. Where none is printed and the comparison is open, the family stands, within
    what the filament leaves open, where it suits the readings best: a type must not be ruled
    out by what is not known of the return.
    """
    shifted = {}
    for name, family in library.families.items():
        known = filament_reference(library.types.types[name], conditions)
        if known.shift:
            shifted[name] = replace(family, grid_shift=known.shift)
        elif known.open_by and plate_current.size:
            tried = [
                replace(family, grid_shift=share * known.open_by)
                for share in (-1.0, -0.5, 0.0, 0.5, 1.0)
            ]
            flowing = plate_current > _FLOWING * plate_current.max()
            scale, shape = deviation_from(
                tried, plate_voltage[flowing], grid_voltage[flowing], plate_current[flowing]
            )
            shifted[name] = tried[int(np.argmin(scale**2 + shape**2))]
    return {**library.families, **shifted} if shifted else library.families


def _classes(families: Mapping[str, ReferenceFamily]) -> tuple[tuple[str, ...], ...]:
    names = list(families)
    close = np.zeros((len(names), len(names)), dtype=bool)
    for row, name in enumerate(names):
        plate, grid, current = _sampled(families[name])
        others = _seen_alike(families.values(), families[name].screen_voltage)
        scale, shape = deviation_from(others, plate, grid, current)
        close[row] = (np.abs(scale) < _SAME_SCALE) & (shape < _SAME_SHAPE)
    close &= close.T
    group = {name: {name} for name in names}
    for row, column in np.argwhere(close).tolist():
        merged = group[names[row]] | group[names[column]]
        for member in merged:
            group[member] = merged
    return tuple(sorted({tuple(sorted(members)) for members in group.values()}))


def _seen_alike(
    families: Iterable[ReferenceFamily], screen_voltage: float | None
) -> list[ReferenceFamily]:
    if screen_voltage is None:
        return list(families)
    return [family.at_screen(screen_voltage) for family in families]


def _sampled(family: ReferenceFamily) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return a family's own readings where its points back it: (Vp, Vg, Ip)."""
    top = family.region.most_voltage
    highest = family.screen_voltage or top  # what holds the cathode's current against the grid
    cutoff = 1.2 * highest / float(family.amplification_factor(np.array([top]), np.zeros(1))[0])
    plate, grid = np.meshgrid(np.linspace(0.3, 1.2, 13) * top, -np.linspace(0.0, 1.0, 13) * cutoff)
    volts, bias = plate.ravel(), grid.ravel()
    current = family.current(volts, bias)
    backed = family.covers(volts, bias)
    return volts[backed], bias[backed], current[backed]
