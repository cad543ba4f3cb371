"""A reference family from curves that somebody read off a sheet of their own."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curvelab.errors import ReferenceDataError
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.records import PublishedCurves, Status, TubeType
from curvelab.reference.solve import solve_families
from curvelab.sweep.records import Readings

__all__ = ["OwnCurves", "family_of_curves"]

_FEWEST_READINGS, _FEWEST_CURVES = 6, 2


@dataclass(frozen=True, slots=True, eq=False)
class OwnCurves:
    """The family of such curves, and the type they stand for."""

    tube_type: TubeType
    family: ReferenceFamily


def family_of_curves(
    readings: Readings, title: str, tube_type: TubeType | None, name: str
) -> OwnCurves:
    """Return the family that follows readings of published curves.

    Parameters
    ----------
    title : str
        What the readings are, with the file they came from.
    tube_type : TubeType or None
        The type they are of: its points become the family's check. None where the library
        does not hold it.
    name : str
        Its name where the library does not hold it.

    Raises
    ------
    ReferenceDataError
        If the readings do not make a family.
    """
    flowing = readings.plate_current > 0
    plate, grid = readings.plate_voltage[flowing], readings.grid_voltage[flowing]
    steps = np.unique(np.round(grid, 3)).size
    if plate.size < _FEWEST_READINGS or steps < _FEWEST_CURVES:
        raise ReferenceDataError(
            f"{title}: {plate.size} readings with current at {steps} grid voltages make no "
            f"reference family; wanted {_FEWEST_READINGS} or more, at two or more"
        )
    curves = PublishedCurves(
        screen_voltage=None,
        plate_voltage=plate,
        grid_voltage=grid,
        plate_current=readings.plate_current[flowing],
        source=title,
        status=Status.VERIFIED,
        accuracy="not stated",
    )
    base = tube_type if tube_type is not None else _unknown_type(name)
    followed = replace(base, curves=(curves,))
    (family,) = solve_families([followed])
    return OwnCurves(followed, family)


def _unknown_type(name: str) -> TubeType:
    return TubeType(
        name=name,
        aliases=(),
        kind="triode",
        cathode="indirect",
        base=None,
        points=(),
        cutoffs=(),
        ratings=(),
        printed_limits=(),
        heaters=(),
        notes=(),
        near=(),
    )
